"""Sample peak: the greatest sample either way.

Unit: linear, fraction of full scale; positive and negative sides apart, so that a lopsided wave can be told. A track is
all zero where both are exactly 0.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from replay.compiled import kernel
from replay.lanes import load, maximum, splat, store
from replay.meters.model import Column
from replay.take.block import HALO, Block

NAME = "peak"
COLUMNS = (
    Column("high", "fraction of full scale", 100, "f8", "shift"),
    Column("low", "fraction of full scale", 100, "f8", "shift"),
)


@kernel
def _peaks(samples, first, rows, high, low):
    """Greatest sample, not below 0, and least sample, not above 0, of every lane."""
    most = splat(0.0)
    least = splat(0.0)
    zero = splat(0.0)
    for row in range(first, first + rows):
        here = load(samples, row)
        most = maximum(most, here)
        least = maximum(least, zero - here)
    store(high, 0, most)
    store(low, 0, splat(-1.0) * least)


class Meter:
    """Sample peaks of eight tracks."""

    def __init__(self, rate: int) -> None:
        pass

    def feed(self, block: Block, out: dict[str, Any]) -> None:
        """One hop."""
        _peaks(block.samples, HALO, block.rows, out["high"], out["low"])


def sample_peak(high: np.ndarray, low: np.ndarray) -> float:
    """The greatest magnitude over hops; 0 for none."""
    return float(max(high.max(initial=0.0), -low.min(initial=0.0)))
