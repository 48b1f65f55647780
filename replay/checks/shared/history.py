"""Levels over time, one figure for 100 ms, from a track's kept histories."""

from __future__ import annotations

import numpy as np

from replay.desk.model import TrackView
from replay.grid import hop_starts
from replay.meters.model import Measurement
from replay.units import amplitude, levels_db

ZERO_DB = -200.0
"""Stands for digital silence in arrays of levels: below anything that a converter delivers."""


def hop_levels(measurement: Measurement, *, keep_zeros: bool = False) -> np.ndarray:
    """float64 (hops,): the level of each 100 ms in dB re full scale squared; NaN where the hop does not wholly exist
    or holds samples that are no numbers. Digital silence is NaN too, or ZERO_DB with `keep_zeros`."""
    energy = measurement.column("energy")
    frames = np.diff(hop_starts(measurement.hops, measurement.rate))
    levels = levels_db(energy / frames, floor=ZERO_DB)
    levels[~measurement.whole_hops()] = np.nan
    if measurement.totals.get("not_a_number", 1):
        levels[measurement.column("not_a_number") > 0] = np.nan
    if not keep_zeros:
        levels[energy == 0] = np.nan
    return levels


def gain_tried(track: TrackView) -> float:
    """By how much louder (linear) a track is taken to have been recorded than it was: 1 unless a gain is tried out."""
    level, peak = track.whole.sample_peak_dbfs, track.measurement.totals.get("sample_peak", 0.0)
    return amplitude(level) / peak if level is not None and peak > 0 else 1.0


def runs_of(mask: np.ndarray) -> np.ndarray:
    """int64 (n, 2): start and stop of every run of True."""
    edges = np.flatnonzero(np.diff(np.concatenate(([False], mask, [False])).astype(np.int8)))
    return edges.reshape(-1, 2)
