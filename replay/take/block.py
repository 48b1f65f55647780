"""A block: one 100 ms hop of eight tracks, small enough to stay in the processor's cache."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from replay.grid import longest_hop
from replay.lanes import LANES, rows_of_zeros

HALO = 192
"""Rows before the hop that repeat the end of the hop before it: filters that look back need no state of their own, and
what is looked at from both sides is looked at a little late."""


@dataclass
class Block:
    """One hop of eight tracks.

    `samples` is float64 (HALO + longest hop, 8): the hop lies in rows HALO to HALO + rows - 1; frames that do not
    exist on a track are 0. `cells` is int64 (11,): the rows at which the ten 10 ms cells start, and the end. `start`
    is the hop's first frame on the take's clock, `bad[lane]` how many samples were not numbers (they are 0 in
    `samples`).
    """

    rate: int
    samples: np.ndarray = field(init=False)
    cells: np.ndarray = field(init=False)
    bad: np.ndarray = field(init=False)
    rows: int = 0
    start: int = 0

    def __post_init__(self) -> None:
        self.samples = rows_of_zeros(HALO + longest_hop(self.rate))
        self.cells = np.zeros(11, np.int64)
        self.bad = np.zeros(LANES, np.int64)
