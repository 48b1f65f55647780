"""Is a track nothing but steady noise that is too loud for a preamp's: a test signal, or hiss?

Noise is told from all that holds on (drones, organs, synthesisers, machines) by how its octaves move: the level of an
octave in 100 ms varies by as much as its bandwidth says, a held tone's by less, and one of a sound that lives by more.
"""

from __future__ import annotations

import numpy as np

from replay.checks.shared.place import views_of
from replay.desk.model import Show, TrackView
from replay.evidence.gain_moves import BANDS, SPREAD_DB
from replay.ranks import percentiles

LEAST_HOPS = 200
"""Twenty seconds: a crash, applause or a washing cymbal does not stand as long."""

STEADY_DB = 3.0
"""The whole take, but for one hop in a hundred either way: 100 ms of pink noise stay within 2 dB, rain and seas do
not."""

SMOOTH_DB = 7.0
"""From octave to octave white noise rises by 3 dB, and pink noise stands; a drone jumps."""

AS_NOISE = (0.7, 1.5)
LEAST_AS_NOISE = 6
"""So many of nine octaves spread over time as noise does. Noise that is not white within an octave spreads a little
more."""

OF_THEMSELVES = frozenset({"ambience", "playback", "timecode", "click"})
"""Kinds that may hold such a sound by nature: a room that hums, an effect, a tone of reference."""


def is_loud_noise(show: Show, track: TrackView) -> bool:
    """True where a track sounds from end to end, and all of it is noise that stands still."""
    views = views_of(show, track)
    if not views or any(view.channel.kind in OF_THEMSELVES for view in views):
        return False
    if track.measurement.hops < LEAST_HOPS:
        return False
    # What lies under the lowest octave is nothing that is heard, and would hide how steady the rest is.
    bands = np.stack([track.measurement.column(f"band_{band}")[1:-1].astype(np.float64) for band in BANDS])
    if not np.all(bands > 0):
        return False
    low, high = percentiles(10 * np.log10(bands.sum(axis=0)), 1, 99)
    return bool(high - low <= STEADY_DB) and _are_noise(bands)


def _are_noise(bands: np.ndarray) -> bool:
    """Whether all octaves, one a row, vary as those of noise do."""
    in_all = 10 * np.log10(bands.sum(axis=1))
    spread = (10 * np.log10(bands)).std(axis=1) / SPREAD_DB
    as_noise = (spread >= AS_NOISE[0]) & (spread <= AS_NOISE[1])
    smooth = np.abs(np.diff(in_all))[1:] <= SMOOTH_DB
    return bool(np.all(smooth) and as_noise.sum() >= LEAST_AS_NOISE and as_noise[int(in_all.argmax())])
