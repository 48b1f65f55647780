"""A take's tracks as levels by 100 ms hop over the judged part, read from kept histories once a track."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from replay.desk.model import Show, TrackView
from replay.units import FULL_SCALE_SINE_RMS_DB, levels_db

FLOOR_DB = -200.0
MOST_HOPS = 36_000
"""An hour. Longer parts are read at every second, third ... hop: no figure here needs more."""

PEAK_PERCENTILE = 98.0
LOUD_PERCENTILE = 95.0
LOUD_WITHIN_DB = 20.0


@dataclass(frozen=True)
class Hops:
    """Levels of one track in dBFS (AES17), one a hop of the judged part; NaN where the hop is missing, exactly zero, or
    before the track's own last gain move."""

    levels: np.ndarray

    @property
    def heard(self) -> np.ndarray:
        """Levels of the hops that hold something."""
        return self.levels[np.isfinite(self.levels)]

    def loud_levels(self) -> tuple[float, float] | None:
        """Two figures that hardly depend on how often a source plays: the 98th percentile, and the mean of the hops
        within 20 dB of the 95th. None under two seconds."""
        heard = self.heard
        if len(heard) < 20:
            return None
        near, peak = (float(level) for level in np.percentile(heard, [LOUD_PERCENTILE, PEAK_PERCENTILE]))
        loud = heard[heard >= near - LOUD_WITHIN_DB]
        mean = float(levels_db(np.array([np.mean(10 ** (loud / 10))]), FLOOR_DB)[0])
        return peak, mean


def part_of(show: Show, track: TrackView) -> tuple[int, int]:
    """The hops on which a track is judged: first, and one past the last."""
    start = show.judged_from_s if track.judged_from_s is None else max(show.judged_from_s, track.judged_from_s)
    return round(start * 10), min(round(show.judged_to_s * 10), track.measurement.hops)


def hops_of(show: Show) -> dict[int, Hops]:
    """Every track's hops by track number, all on one grid: that of the judged part."""
    first, last = round(show.judged_from_s * 10), round(show.judged_to_s * 10)
    step = max(1, -(-(last - first) // MOST_HOPS))
    found = {}
    for track in show.tracks:
        start, stop = part_of(show, track)
        levels = np.full(max(last - first, 0), np.nan)
        if stop > start:
            measurement = track.measurement
            part = slice(start, stop)
            energy, frames = measurement.column("energy")[part], measurement.present()[part]
            there = measurement.whole_hops()[part] & (energy > 0)
            levels[start - first : stop - first][there] = (
                levels_db(energy[there] / frames[there], FLOOR_DB) + FULL_SCALE_SINE_RMS_DB
            )
        found[track.track.number] = Hops(levels[::step])
    return found
