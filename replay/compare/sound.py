"""Has a channel gone dull, or thin? Its octaves then and now, against each other and not against any ideal.

The shares of the octave bands that the meters keep (`replay.desk.spectrum`) over the loud hops: a level that changed
takes all bands along and does not show. Only bands that hold enough of the sound count, and only a step that has one
side: all bands above some edge fell and the ones below did not (dull), or the other way round (thin).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from replay.compare.hops import part_of
from replay.desk.model import Show, TrackView
from replay.desk.spectrum import BANDS, band_edges, octaves

LEAST_FALL_DB = 8.0
"""A band that fell by less is how one plays today; common practice, no source. Between performances of different songs
on sampled instruments bands above 1.5 kHz move by 3 dB at most, those below 200 Hz by 4 dB."""

LEAST_ALONE_DB = 10.0
"""... where only one band is there to tell."""

LEAST_SHARE_DB = -40.0
"""Bands that hold less of the whole sound than this do not count for dullness, as the noise of the room is in them."""

LEAST_LOW_SHARE_DB = -22.0
"""The same for thinness: what lies below a source's lowest note is bleed."""

DULL_FROM_HZ = 700.0
THIN_TO_HZ = 800.0
"""Steps are looked for above, and below, these edges: in between lies the tune."""

ALIKE_EDGES = 1.1
"""Takes at rates whose bands lie further apart than this factor are not compared."""


@dataclass(frozen=True)
class Octaves:
    """Shares in dB below the whole, and the bands' edges in Hz (one more than bands)."""

    shares: tuple[float, ...]
    edges: tuple[float, ...]


@dataclass(frozen=True)
class Step:
    """A step in a channel's sound: `what` is dull, bright, thin or full; all bands above (dull, bright) or below (thin,
    full) `edge_hz` moved by `change_db` in the mean against the rest."""

    what: str
    edge_hz: float
    change_db: float
    bands: int


def octaves_of(show: Show, track: TrackView) -> Octaves | None:
    """A track's octaves over its judged part; None for silence."""
    first, last = part_of(show, track)
    shares = octaves(track.measurement, first, last) if last > first else None
    return None if shares is None else Octaves(shares, band_edges(show.take.rate))


def step(before: Octaves | None, after: Octaves | None) -> Step | None:
    """The step from one to the other; None where there is none, or where the bands cannot be compared."""
    if before is None or after is None:
        return None
    ratio = before.edges[1] / after.edges[1]
    if not 1 / ALIKE_EDGES <= ratio <= ALIKE_EDGES:
        return None
    for one, other, words in ((before, after, ("dull", "thin")), (after, before, ("bright", "full"))):
        found = _fall(one, other)
        if found is not None:
            high, edge, fall, bands = found
            sign = -1 if words[0] == "dull" else 1
            return Step(words[0] if high else words[1], edge, sign * fall, bands)
    return None


def _fall(before: Octaves, after: Octaves) -> tuple[bool, float, float, int] | None:
    """(whether the upper bands fell, edge, mean fall in dB, bands) of the widest one-sided fall; None for none."""
    shares = np.array(before.shares)
    change = np.array(after.shares) - shares
    edges = before.edges
    counts = [band for band in range(BANDS) if edges[band + 1] > edges[band]]
    high = [band for band in counts if shares[band] >= LEAST_SHARE_DB]
    for start in range(1, BANDS):
        upper = [band for band in high if band >= start]
        lower = [band for band in high if band < start and shares[band] >= LEAST_LOW_SHARE_DB]
        if edges[start] >= DULL_FROM_HZ and _fell(change, upper, lower):
            return True, edges[upper[0]], _mean_fall(change, upper, lower), len(upper)
    low = [band for band in counts if shares[band] >= LEAST_LOW_SHARE_DB]
    for stop in range(BANDS - 1, 0, -1):
        lower = [band for band in low if band < stop]
        upper = [band for band in low if band >= stop]
        if edges[stop] <= THIN_TO_HZ and len(lower) >= 2 and _fell(change, lower, upper):
            return False, edges[lower[-1] + 1], _mean_fall(change, lower, upper), len(lower)
    return None


def _fell(change: np.ndarray, fallen: list[int], stayed: list[int]) -> bool:
    if not fallen or not stayed:
        return False
    against = float(np.median(change[stayed]))
    falls = against - change[fallen]
    least = LEAST_FALL_DB if len(fallen) > 1 else LEAST_ALONE_DB
    return bool(np.all(falls >= least))


def _mean_fall(change: np.ndarray, fallen: list[int], stayed: list[int]) -> float:
    return float(np.median(change[stayed]) - np.mean(change[fallen]))
