"""All meters on up to eight tracks, hop by hop, and the chunk of histories that they fill before it goes to disk."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np

from replay.grid import CELLS_PER_HOP, hops_of
from replay.lanes import rows_of_zeros
from replay.measuring.history import CHUNK_HOPS, Writer
from replay.meters.model import Column, Facts, no_events
from replay.take.block import HALO
from replay.take.model import Track

GROUP = 8

MOST_HOPS_HELD = 8 * CHUNK_HOPS
"""Hops of chunks that a job holds in memory, of all its groups together: 7 kB each, so that a polyphonic file of a
thousand tracks needs little more than one of a hundred."""

FEWEST_CHUNK_HOPS = 60


def chunk_hops(groups: int) -> int:
    """How many hops the chunks of a job of so many groups have.

    >>> [chunk_hops(groups) for groups in (1, 8, 16, 64, 128)]
    [600, 600, 300, 75, 60]
    """
    return max(FEWEST_CHUNK_HOPS, min(CHUNK_HOPS, MOST_HOPS_HELD // groups))


def columns() -> tuple[Column, ...]:
    """The histories that the pass writes, in the order of the files."""
    from replay.meters import meters

    return tuple(column for meter in meters() for column in meter.COLUMNS)


class GroupPass:
    """The meters of up to eight tracks, and the chunk of `chunk_hops` hops of histories that they fill."""

    def __init__(self, tracks: Sequence[Track], rate: int, chunk_hops: int) -> None:
        from replay.meters import meters
        from replay.take.block import Block

        self.tracks = tracks
        self.block = Block(rate)
        self.meters: dict[str, Any] = {meter.NAME: meter.Meter(rate) for meter in meters()}
        self._feeds = [meter.feed for meter in self.meters.values()]
        self.columns = columns()
        for lane, track in enumerate(tracks):
            self.meters["clip_runs"].container(lane, min(segment.file.bits for segment in track.segments))
        self._chunk_hops = chunk_hops
        self._chunk = {
            column.name: rows_of_zeros(chunk_hops, *((CELLS_PER_HOP,) if column.period_ms == 10 else ()))
            for column in self.columns
        }
        self._rows = [{name: values[hop] for name, values in self._chunk.items()} for hop in range(chunk_hops)]
        self._filled = 0
        self._written = 0
        self.hops = [hops_of(track.stop, rate) for track in tracks]
        self._ends = np.array(self.hops + [0] * (GROUP - len(tracks)))
        self.writers: list[Writer] = []
        self.peaks = np.zeros(GROUP)
        self.bad = np.zeros(GROUP)
        self.over = np.zeros(GROUP)

    def write_to(self, paths: Sequence[Path]) -> None:
        for path in paths:
            self.writers.append(Writer(path, self.columns, self._chunk_hops))

    def feed(self) -> None:
        out = self._rows[self._filled]
        for feed in self._feeds:
            feed(self.block, out)
        self._filled += 1
        here = self._written + self._filled
        if here in self.hops:
            self.meters["true_peak"].end(self.block, out, self._ends == here)
        if self._filled == self._chunk_hops:
            self.flush()

    def flush(self) -> None:
        if self._filled == 0:
            return
        chunk = {name: values[: self._filled] for name, values in self._chunk.items()}
        self.peaks = np.maximum(self.peaks, np.maximum(chunk["high"].max(axis=0), -chunk["low"].min(axis=0)))
        self.bad += chunk["not_a_number"].sum(axis=0)
        self.over += chunk["over"].sum(axis=0)
        for lane, writer in enumerate(self.writers):
            here = min(self._filled, self.hops[lane] - self._written)
            if here > 0:
                writer.append({name: values[:here, ..., lane] for name, values in chunk.items()}, here)
        self._written += self._filled
        self._filled = 0

    def close(self) -> None:
        for writer in self.writers:
            writer.close()


def run_out(one: GroupPass) -> None:
    """Give the meters that look back, or have something open, one more hop: nothing but silence behind the end."""
    block = one.block
    block.samples[:HALO] = block.samples[block.rows : block.rows + HALO]
    block.samples[HALO:] = 0.0
    block.start += block.rows
    block.bad[:] = 0
    for meter in one.meters.values():
        if hasattr(meter, "finish"):
            meter.finish(block)


def events_of(one: GroupPass, lane: int, facts: Facts) -> tuple[np.ndarray, dict[str, int]]:
    """What all meters have noted on a lane, in the order of the meters, and the exact counts by kind."""
    found, counts = [no_events()], {}
    for meter in one.meters.values():
        if hasattr(meter, "result"):
            events, numbers = meter.result(lane, facts)
            found.append(events)
            counts.update(numbers)
    return np.concatenate(found), counts


def effective_bits(codes: int, finer: int) -> int | None:
    """The word length in use, from the or-ed codes; None where samples are finer than 32-bit integers.

    An all-zero track uses no bits: 0.
    """
    if codes & finer:
        return None
    codes &= 0xFFFFFFFF
    return 32 - ((codes & -codes).bit_length() - 1) if codes else 0
