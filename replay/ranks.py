"""Percentiles and medians of a few thousand values: what numpy gives, in a fifth of the time.

numpy's own take some 0.1 ms a call before they look at a value, and a check of 56 tracks asks for two thousand.
"""

from __future__ import annotations

from typing import Any

import numpy as np


def percentile_of(ranked: np.ndarray, share: float) -> Any:
    """What `np.percentile` gives of values that are sorted along their first axis; no value may be NaN."""
    place = share * (len(ranked) - 1)
    low = int(place)
    below, above, part = ranked[low], ranked[min(low + 1, len(ranked) - 1)], place - low
    return above - (above - below) * (1 - part) if part >= 0.5 else below + (above - below) * part


def percentiles(values: np.ndarray, *percents: float) -> list[Any]:
    """What `np.percentile` gives along the first axis: numbers, or rows of them; no value may be NaN.

    >>> percentiles(np.array([4.0, 1.0, 3.0, 2.0, 5.0]), 0, 50)
    [np.float64(1.0), np.float64(3.0)]
    """
    ranked = np.sort(values, axis=0)
    return [percentile_of(ranked, percent / 100) for percent in percents]


def median(values: np.ndarray) -> float:
    """What `np.median` gives of values in a row; no value may be NaN."""
    ranked = np.sort(values)
    return float(ranked[(len(ranked) - 1) // 2] + ranked[len(ranked) // 2]) / 2
