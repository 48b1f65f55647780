"""Power and offset: the sums that RMS, crest, DC, noise floor and time active are read from.

Unit: summed squares and summed samples per hop, fractions of full scale. RMS levels are in dBFS as in AES17 (a
full-scale sine reads 0, so a full-scale square reads +3.01); crest is sample peak over RMS re 1.0 (a sine 3.01 dB, a
square 0 dB); DC is the mean, as a level re 1.0.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from replay.compiled import kernel
from replay.lanes import load, splat, store
from replay.meters.model import Column
from replay.take.block import HALO, Block

NAME = "power"
COLUMNS = (
    Column("energy", "summed squares", 100, "f8", "square"),
    Column("sum", "summed samples", 100, "f8", "shift"),
)


@kernel
def _sums(samples, first, rows, energy, total):
    """Summed squares and summed samples of every lane."""
    squares = splat(0.0)
    plain = splat(0.0)
    for row in range(first, first + rows):
        here = load(samples, row)
        squares = squares + here * here
        plain = plain + here
    store(energy, 0, squares)
    store(total, 0, plain)


class Meter:
    """Power of eight tracks."""

    def __init__(self, rate: int) -> None:
        pass

    def feed(self, block: Block, out: dict[str, Any]) -> None:
        """One hop."""
        _sums(block.samples, HALO, block.rows, out["energy"], out["sum"])


def mean_square(energy: np.ndarray, frames: int) -> float:
    """Mean square over hops that hold `frames` frames in all; 0 for none."""
    return float(energy.sum()) / frames if frames else 0.0


def offset(sums: np.ndarray, frames: int) -> float:
    """Mean sample over hops that hold `frames` frames in all; 0 for none."""
    return float(sums.sum()) / frames if frames else 0.0
