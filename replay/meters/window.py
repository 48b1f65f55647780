"""Sliding sums over histories."""

from __future__ import annotations

import numpy as np


def sliding_sums(values: np.ndarray, length: int) -> np.ndarray:
    """Sums of every `length` values in a row, float64 (len - length + 1,); empty where there are fewer.

    Sums of 2, 4, 8, ... are built by adding and put together: a running sum that is subtracted from would leave a
    residue of loud passages in the silence behind them.
    """
    count = len(values) - length + 1
    if count <= 0:
        return np.zeros(0)
    doubled = np.asarray(values, np.float64)
    total = np.zeros(count)
    done, span = 0, 1
    while True:
        if length & span:
            total += doubled[done : done + count]
            done += span
        if done == length:
            return total
        doubled = doubled[:-span] + doubled[span:]
        span *= 2
