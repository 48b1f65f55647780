"""Over full scale: float samples beyond 1 or -1.

A float file can hold more than any converter or desk input can; played back, such samples clip. Unit: samples per hop.
"""

from __future__ import annotations

from typing import Any

from replay.compiled import kernel
from replay.lanes import LANES
from replay.meters.model import Column
from replay.take.block import HALO, Block

NAME = "over"
COLUMNS = (Column("over", "samples", 100, "u4", "none"),)


@kernel
def _overs(samples, first, rows, high, low, count):
    """How many samples of every lane are beyond full scale."""
    for lane in range(LANES):
        found = 0
        if high[lane] > 1.0 or low[lane] < -1.0:
            for row in range(first, first + rows):
                if abs(samples[row, lane]) > 1.0:
                    found += 1
        count[lane] = found


class Meter:
    """Samples over full scale of eight tracks."""

    def __init__(self, rate: int) -> None:
        pass

    def feed(self, block: Block, out: dict[str, Any]) -> None:
        """One hop; needs the hop's sample peaks (`high`, `low`) in `out`."""
        _overs(block.samples, HALO, block.rows, out["high"], out["low"], out["over"])
