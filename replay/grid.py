"""The grid of time that everything is measured on: cells of 10 ms and hops of 100 ms on the take's clock.

Cell k starts at frame round(k rate / 100), hop h is cells 10 h to 10 h + 9, so that rates whose hundredth is not
whole (22.05 kHz) have a grid too, and cutting the audio anywhere changes no figure.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np

CELLS_PER_HOP = 10


def cell_start(cell: int, rate: int) -> int:
    """The first frame of a cell.

    >>> cell_start(3, 22050)
    662
    """
    return (2 * cell * rate + 100) // 200


def hop_start(hop: int, rate: int) -> int:
    """The first frame of a hop."""
    return cell_start(CELLS_PER_HOP * hop, rate)


@lru_cache(maxsize=4)
def hop_starts(hops: int, rate: int) -> np.ndarray:
    """int64 (hops + 1,): the first frames of hops 0 to `hops`. Shared between callers, so it cannot be written to."""
    starts = (2 * CELLS_PER_HOP * np.arange(hops + 1, dtype=np.int64) * rate + 100) // 200
    starts.flags.writeable = False
    return starts


def cell_starts(cells: int, rate: int) -> np.ndarray:
    """int64 (cells + 1,): the first frames of cells 0 to `cells`."""
    return (2 * np.arange(cells + 1, dtype=np.int64) * rate + 100) // 200


def hops_of(frames: int, rate: int) -> int:
    """How many hops the first `frames` frames touch."""
    hops = frames * 10 // rate
    while hop_start(hops, rate) < frames:
        hops += 1
    while hops > 0 and hop_start(hops - 1, rate) >= frames:
        hops -= 1
    return hops


def longest_hop(rate: int) -> int:
    """The most frames that a hop can have."""
    return rate // 10 + 1
