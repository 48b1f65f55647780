"""What a track's sound is made of, octave by octave, and where its kind of source usually has most of its energy."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from replay.meters.model import Measurement
from replay.units import levels_db

BANDS = 11
"""As many as the meter of octave bands writes (its columns are `band_0` to `band_10`)."""

PLAYS_WITHIN_DB = 20.0
"""Hops within this of the loud ones (95th percentile) count as played; common practice, no source."""

FLOOR_DB = -120.0

USUAL: Mapping[str, tuple[float, float]] = {
    "kick": (40, 6000),
    "snare": (150, 10000),
    "tom": (70, 6000),
    "hi-hat": (400, 16000),
    "overhead": (150, 16000),
    "percussion": (100, 14000),
    "bass": (40, 3000),
    "guitar": (90, 6000),
    "acoustic": (90, 10000),
    "keys": (50, 10000),
    "strings": (180, 10000),
    "brass": (90, 9000),
    "woodwind": (200, 10000),
    "vocal": (90, 10000),
    "backing": (90, 10000),
    "speech": (90, 8000),
    "choir": (90, 10000),
}
"""Hz between which a kind of source usually has most of its energy; common practice, no source. Kinds that may hold
anything are not here."""


def octaves(measurement: Measurement, first: int, last: int) -> tuple[float, ...] | None:
    """The share of each octave band in dB below all bands together, over the played ones of hops `first` to `last` - 1.

    None where the bands were not measured, or nothing sounds there.
    """
    part = slice(first, min(last, measurement.hops))
    try:
        bands = np.stack([measurement.column(f"band_{band}")[part].astype(np.float64) for band in range(BANDS)])
    except KeyError:
        return None
    total = bands.sum(axis=0)
    sounding = total[total > 0]
    if sounding.size == 0:
        return None
    played = total >= np.percentile(sounding, 95) * 10 ** (-PLAYS_WITHIN_DB / 10)
    sums = bands[:, played].sum(axis=1)
    return tuple(float(level) for level in levels_db(sums / sums.sum(), floor=FLOOR_DB))


def band_edges(rate: int) -> tuple[float, ...]:
    """The lower edge of every band in Hz, then the upper one of the last."""
    lowest = rate / 2 ** (max(1, round(np.log2(rate / 93.75))) + 1)
    edges = [0.0] + [lowest * 2**band for band in range(BANDS - 1)] + [rate / 2]
    return tuple(min(edge, rate / 2) for edge in edges)
