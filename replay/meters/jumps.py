"""Jumps: the greatest step from one sample to the next in every 10 ms, and how far it stands out.

Unit: `jump` is linear (fraction of full scale), `jump_crest` the ratio of the greatest step to the RMS of all steps of
the cell. Music through microphones gives a crest of 3 to 8, a drum's attack up to 12; one lone discontinuity in 10 ms
gives the root of the number of samples (22 at 48 kHz). Measured on steps, because contacts that break and make leave
edges that no sound source has.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from replay.compiled import kernel
from replay.lanes import LANES, load, magnitude, maximum, splat, store
from replay.meters.model import Column
from replay.take.block import Block

NAME = "jumps"
COLUMNS = (
    Column("jump", "fraction of full scale", 10, "f4", "shift"),
    Column("jump_crest", "ratio", 10, "f2", "same"),
)


@kernel
def _steps(samples, cells, most, crests, sums):
    """Greatest magnitude of the steps in each 10 ms cell, and its ratio to their RMS."""
    before = load(samples, cells[0] - 1)
    for cell in range(len(cells) - 1):
        peak = splat(0.0)
        total = splat(0.0)
        for row in range(cells[cell], cells[cell + 1]):
            here = load(samples, row)
            step = here - before
            peak = maximum(peak, magnitude(step))
            total = total + step * step
            before = here
        store(most, cell, peak)
        store(sums, 0, total)
        for lane in range(LANES):
            if sums[lane] > 0.0:
                crests[cell, lane] = most[cell, lane] / np.sqrt(sums[lane] / (cells[cell + 1] - cells[cell]))
            else:
                crests[cell, lane] = 0.0


class Meter:
    """Jumps of eight tracks."""

    def __init__(self, rate: int) -> None:
        self._sums = np.zeros(LANES)

    def feed(self, block: Block, out: dict[str, Any]) -> None:
        """One hop."""
        _steps(block.samples, block.cells, out["jump"], out["jump_crest"], self._sums)
