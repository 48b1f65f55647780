"""A track's level over time, cut down to what a screen can show: one column for a whole number of 100 ms hops.

The greatest and the least sample of a column, its RMS, and the greatest short-term loudness that ends in it. Taking the
greatest keeps every peak that the histories hold, however far the take is squeezed.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from replay.grid import hop_starts
from replay.meters.loudness import SHORT_HOPS, loudness
from replay.meters.model import Measurement
from replay.meters.window import sliding_sums
from replay.units import FULL_SCALE_SINE_RMS_DB, levels_db

LOWEST_DB = -200.0
"""Stands for silence in arrays of levels."""


@dataclass(frozen=True)
class Course:
    """Arrays of one value a column, from the start of the take's clock: `high` and `low` are fractions of full scale,
    `rms` is dBFS as in AES17, `short` LUFS; LOWEST_DB where there is silence or nothing. `hops` is a column's length.
    """

    hops: int
    high: np.ndarray
    low: np.ndarray
    rms: np.ndarray
    short: np.ndarray


def hops_a_column(hops: int, columns: int) -> int:
    """The length of a column, so that no more than `columns` of them cover `hops`.

    >>> hops_a_column(6000, 7200), hops_a_column(36000, 7200), hops_a_column(36001, 7200)
    (1, 5, 6)
    """
    return max(1, -(-hops // max(columns, 1)))


def course(measurement: Measurement, hops: int) -> Course:
    """The course of a measured track in columns of `hops` hops."""
    energy = measurement.column("energy")
    frames = measurement.present()
    covered = np.maximum(np.add.reduceat(frames, _edges(len(frames), hops)), 1) if len(frames) else frames
    return Course(
        hops=hops,
        high=_by_column(np.maximum, measurement.column("high"), hops),
        low=_by_column(np.minimum, measurement.column("low"), hops),
        rms=levels_db(_by_column(np.add, energy, hops) / covered, floor=LOWEST_DB) + FULL_SCALE_SINE_RMS_DB,
        short=_by_column(np.maximum, _short_term(measurement), hops),
    )


def _edges(count: int, hops: int) -> np.ndarray:
    return np.arange(0, count, hops)


def _by_column(reduce: np.ufunc, values: np.ndarray, hops: int) -> np.ndarray:
    return reduce.reduceat(values, _edges(len(values), hops)) if len(values) else np.zeros(0)


def _short_term(measurement: Measurement) -> np.ndarray:
    """float64 (hops,): short-term loudness in LUFS of the 3 s that end with each hop."""
    sums = sliding_sums(measurement.column("k_energy"), SHORT_HOPS)
    short = np.full(measurement.hops, LOWEST_DB)
    if len(sums):
        starts = hop_starts(measurement.hops, measurement.rate)
        powers = sums / (starts[SHORT_HOPS:] - starts[:-SHORT_HOPS])
        # The constant between a mean square and its loudness stands once, in the meter.
        short[SHORT_HOPS - 1 :] = np.maximum(levels_db(powers, floor=LOWEST_DB) + loudness(1.0), LOWEST_DB)
    return short
