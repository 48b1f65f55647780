"""Is there a source on a track, or nothing but steady noise? Shared by several checks, whose limits they are."""

from __future__ import annotations

import numpy as np

from replay.checks.history import hop_levels
from replay.checks.limit import Limit
from replay.desk.model import Show, TrackView

LIMITS = {
    "noise_only_active_s": Limit(1.0, "seconds", "a track that is active for longer holds more than noise"),
    "noise_only_peak": Limit(-45.0, "dBTP", "a track whose played peak is higher holds more than noise", -200, 0),
    "noise_only_spread": Limit(6.0, "dB", "level of steady noise: 95th less 5th percentile over 100 ms", 0, 60),
}

LEAST_HOPS = 20
"""Percentiles over less than two seconds say nothing."""


def peak_of(track: TrackView) -> float | None:
    """The played peak of the whole take, or the highest one where it is too short for that."""
    played = track.whole.played_peak_dbtp
    return track.whole.true_peak_dbtp if played is None else played


def only_noise(show: Show, track: TrackView) -> bool:
    """True where a track is alive but holds nothing but steady noise."""
    peak = peak_of(track)
    if track.all_zero or peak is None:
        return False
    if track.active_s >= show.limit("noise_only_active_s") or peak >= show.limit("noise_only_peak"):
        return False
    levels = hop_levels(track.measurement)
    levels = levels[np.isfinite(levels)]
    if levels.size < LEAST_HOPS:
        return False
    low, high = np.percentile(levels, [5, 95])
    return bool(high - low <= show.limit("noise_only_spread"))


def has_source(show: Show, track: TrackView) -> bool:
    """True where a track holds a signal that somebody made: active, and well above noise."""
    peak = peak_of(track)
    if track.all_zero or peak is None:
        return False
    return track.active_s >= show.limit("noise_only_active_s") and peak >= show.limit("noise_only_peak")
