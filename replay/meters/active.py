"""Time active: in which hops something plays.

A 100 ms hop is active where its RMS is at least 12 dB over the noise floor and at least -60 dBFS; where a source never
rests (timecode, a drone), its floor is its level, and 6 dB under the 95th percentile is enough. Common practice, no
source: the figure sorts tracks that play from those that do not, and is no measure of loudness.
"""

from __future__ import annotations

import numpy as np

from replay.meters.noise_floor import noise_floor
from replay.ranks import percentiles
from replay.units import power

OVER_FLOOR_DB = 12.0
UNDER_LOUD_DB = 6.0
LOUD_PERCENTILE = 95.0
LEAST = power(-60.0) / 2
"""-60 dBFS RMS as a mean square: a full-scale sine, 0 dBFS, has 0.5."""


def active(mean_squares: np.ndarray) -> np.ndarray:
    """bool, one a hop: whether something plays in it, from mean squares of whole hops."""
    floor = noise_floor(mean_squares)
    if floor is None:
        return mean_squares >= LEAST
    loud = float(percentiles(mean_squares, LOUD_PERCENTILE)[0])
    threshold = min(floor * power(OVER_FLOOR_DB), loud * power(-UNDER_LOUD_DB))
    return mean_squares >= max(threshold, LEAST)
