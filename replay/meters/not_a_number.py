"""Not a number: float samples that are no number, infinite, or 300 dB over full scale, which is no audio either.

They are counted while decoding and measured as 0, so that one bad sample does not spoil every figure. Unit: samples
per hop.
"""

from __future__ import annotations

from typing import Any

from replay.meters.model import Column
from replay.take.block import Block

NAME = "not_a_number"
COLUMNS = (Column("not_a_number", "samples", 100, "u4", "same"),)


class Meter:
    """Samples that are not numbers on eight tracks."""

    def __init__(self, rate: int) -> None:
        pass

    def feed(self, block: Block, out: dict[str, Any]) -> None:
        """One hop."""
        out["not_a_number"][:] = block.bad
