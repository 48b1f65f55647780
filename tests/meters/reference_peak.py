"""A reference for true peaks: 32 times oversampled by a long filter, almost the continuous signal itself."""

from __future__ import annotations

import math
from functools import cache

import numpy as np

TIMES = 32
SIDE = 96
"""Samples on either side that each interpolated value rests on."""


@cache
def _filter() -> np.ndarray:
    positions = np.arange(-SIDE * TIMES, SIDE * TIMES + 1) / TIMES
    return np.sinc(positions) * np.kaiser(len(positions), 12.0)


def oversampled(samples: np.ndarray) -> np.ndarray:
    """The signal at 32 times its rate, SIDE samples more at either end (silence around it)."""
    from scipy.signal import upfirdn

    return upfirdn(_filter(), samples, up=TIMES)


def true_peak(samples: np.ndarray) -> float:
    """The greatest magnitude, linear. At 32 times the rate it is at most 0.008 dB low up to 0.45 of the rate."""
    return float(np.abs(oversampled(samples)).max())


def db_apart(one: float, other: float) -> float:
    return 20 * math.log10(one / other)
