"""Moments: the few stretches of a take that are read again, once, to answer what histories cannot.

A moment is a run of whole 100 ms hops; for each, some tracks are read and handed over as float32 samples on the take's
clock. Plain reads through `stream`, forward, nothing kept: memory is that of one moment.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from replay.compiled import kernel
from replay.grid import hop_start
from replay.lanes import LANES
from replay.take.block import HALO, Block
from replay.take.model import Track


@dataclass(frozen=True, order=True)
class Moment:
    """`hops` hops from hop `first` of the take's clock, of the tracks in places `rows` of the list that is read."""

    first: int
    hops: int
    rows: tuple[int, ...]


_TILE = 16
"""Rows of a block that are turned at a time: they stay in the first-level cache while all lanes are taken out."""


@kernel
def _take_out(samples, first, count, lanes, out, row, at):
    """The first `lanes` lanes of the block's rows `first` to `first` + `count` - 1 to `out` (tracks, frames), from its
    row `row` and frame `at` on."""
    for begin in range(0, count, _TILE):
        for lane in range(lanes):
            for k in range(begin, min(begin + _TILE, count)):
                out[row + lane, at + k] = samples[first + k, lane]


def frames_of(hops: int, rate: int) -> int:
    """How many frames every moment of so many hops has (rates whose tenth is not whole lose a frame)."""
    return hops * (rate // 10)


def read_moments(tracks: Sequence[Track], rate: int, moments: Sequence[Moment]) -> Iterator[tuple[Moment, np.ndarray]]:
    """Each moment, in order of time, with float32 (len(rows), frames_of(hops, rate)); 0 where a track does not exist.

    Imports the compiler. What cannot be read any more reads as 0.
    """
    from replay.take.stream import Reader

    if not moments:
        return
    longest = max(moment.hops for moment in moments)
    with Reader(tracks, rate, apart=longest) as reader:
        block = Block(rate)
        for moment in sorted(moments):
            frames = frames_of(moment.hops, rate)
            out = np.zeros((len(moment.rows), frames), np.float32)
            begin = hop_start(moment.first, rate)
            for low in range(0, len(moment.rows), LANES):
                rows = moment.rows[low : low + LANES]
                group = reader.group(rows)
                for hop in range(moment.first, moment.first + moment.hops):
                    group.fill(block, hop)
                    at = block.start - begin
                    count = min(block.rows, frames - at)
                    _take_out(block.samples, HALO, count, len(rows), out, low, at)
            yield moment, out
