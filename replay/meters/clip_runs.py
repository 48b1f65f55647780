"""Clip runs: three or more samples in a row at the greatest code of the track's real word length.

A converter that runs out of range delivers its greatest code until the signal comes back. What that code is depends
on the word length that the samples really use, whatever the container: a 16-bit converter in a 24-bit file clips at
1 - 2^-15. That length is known only when the whole track has been read, so runs at the greatest codes of all usual
lengths are noted and sorted out at the end. Symmetric converters stop at the negative of their greatest code and never
reach -1, so both count. Float samples beyond full scale are over, not clipped; a float track is clipped where it holds
a converter's greatest code or exactly 1.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from replay.compiled import kernel
from replay.lanes import LANES
from replay.meters.model import EVENT, EVENT_KINDS, EVENTS_KEPT, Column, Facts
from replay.take.block import HALO, Block

NAME = "clip_runs"
COLUMNS: tuple[Column, ...] = ()

SHORTEST = 3
"""Two samples at the greatest code happen by chance on a healthy peak; three in a row stand for a flattened top."""

LENGTHS = np.array([8, 12, 14, 16, 18, 20, 24, 32], np.int64)
"""Word lengths that converters deliver. One more class is for exactly 1 and -1 (float, and the most negative code)."""

_CODES = np.concatenate([1.0 - 2.0 ** -(LENGTHS - 1).astype(np.float64), [1.0]])
CLASSES = len(_CODES)


@kernel
def _runs(samples, first, rows, start, codes, lowest, high, low, open_value, open_start, open_length, events, counts):
    """Note runs in the lanes whose hop reaches `lowest[lane]`; a run may be open from the hop before and stay open."""
    for lane in range(LANES):
        length = open_length[lane]
        if length == 0 and high[lane] < lowest[lane] and -low[lane] < lowest[lane]:
            continue
        value = open_value[lane]
        begin = open_start[lane]
        for row in range(first, first + rows):
            here = samples[row, lane]
            if length > 0 and here == value:
                length += 1
                continue
            if length >= SHORTEST:
                for k in range(len(codes)):
                    if abs(value) == codes[k]:
                        sign = 1 if value > 0 else 0
                        place = counts[lane, k, sign]
                        if place < events.shape[3]:
                            events[lane, k, sign, place, 0] = begin
                            events[lane, k, sign, place, 1] = length
                        counts[lane, k, sign] += 1
            length = 0
            if abs(here) >= lowest[lane]:
                value = here
                begin = start + row - first
                length = 1
        open_value[lane] = value
        open_start[lane] = begin
        open_length[lane] = length


class Meter:
    """Clip runs of eight tracks."""

    def __init__(self, rate: int) -> None:
        self.lowest = np.full(LANES, _CODES[1])
        self._value = np.zeros(LANES)
        self._start = np.zeros(LANES, np.int64)
        self._length = np.zeros(LANES, np.int64)
        self._events = np.zeros((LANES, CLASSES, 2, EVENTS_KEPT, 2), np.int64)
        self._counts = np.zeros((LANES, CLASSES, 2), np.int64)

    def container(self, lane: int, bits: int) -> None:
        """Say how wide a lane's samples are stored: eight-bit files clip earlier than all others."""
        self.lowest[lane] = _CODES[0] if bits <= 8 else _CODES[1]

    def feed(self, block: Block, out: dict[str, Any]) -> None:
        """One hop; needs the hop's sample peaks (`high`, `low`) in `out`."""
        _runs(
            block.samples,
            HALO,
            block.rows,
            block.start,
            _CODES,
            self.lowest,
            out["high"],
            out["low"],
            self._value,
            self._start,
            self._length,
            self._events,
            self._counts,
        )

    def finish(self, block: Block) -> None:
        """Close runs that last to the end: `block` holds nothing but zeros."""
        rows = np.ones(LANES)
        _runs(
            block.samples, HALO, 1, block.start, _CODES, self.lowest, rows, -rows,
            self._value, self._start, self._length, self._events, self._counts,
        )  # fmt: skip

    def result(self, lane: int, facts: Facts) -> tuple[np.ndarray, dict[str, int]]:
        """The lane's runs as events in order of time, and their exact count."""
        effective_bits = facts.effective_bits
        chosen = np.zeros((CLASSES, 2), bool)
        if facts.is_float and (effective_bits is None or effective_bits > 24):
            for bits in (16, 20, 24):
                chosen[list(LENGTHS).index(bits)] = True
            chosen[-1] = True
        else:
            wide = LENGTHS[(effective_bits or 32) <= LENGTHS]
            chosen[list(LENGTHS).index(wide[0] if len(wide) else 32)] = True
            chosen[-1] = True
        found = []
        for k, sign in zip(*np.nonzero(chosen), strict=True):
            kept = self._events[lane, k, sign, : min(self._counts[lane, k, sign], EVENTS_KEPT)]
            events = np.zeros(len(kept), EVENT)
            events["kind"] = EVENT_KINDS["clip-run"]
            events["start"], events["length"] = kept[:, 0], kept[:, 1]
            events["value"] = _CODES[k] * (1 if sign else -1)
            found.append(events)
        events = np.sort(np.concatenate(found), order="start")[:EVENTS_KEPT]
        return events, {"clip-run": int(self._counts[lane][chosen].sum())}
