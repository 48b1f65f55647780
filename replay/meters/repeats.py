"""Repeats: a buffer of the recorder or the link that was played twice.

The samples of every CHUNK frames are added up; as a sum of the same samples in the same order is the same to the bit,
equal sums in a row stand for equal samples. Sums whose bits fall into one of ANCHORS classes are anchors: an anchor
seen again within LONGEST frames gives a lag, and the stretch over which sums equal those one lag earlier is followed
back to its beginning and on to its end. A buffer played twice (or three times) repeats for its own length (or twice
that), right behind the original, and then stops; a steady tone of a digital source repeats on and on, a loop or a drum
sample at some distance does not adjoin its original. Neither is noted, nor are stretches whose sums repeat within
themselves (square waves, timecode, silence).

An event's start is the copy's first frame, its length the lag in frames, both to within CHUNK frames; value is the
number of times that the buffer is repeated, `against` the largest difference between neighbouring sums, per frame: how
much the signal moves (linear). Buffers whose length is no multiple of CHUNK frames are not seen.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from replay.compiled import kernel
from replay.lanes import LANES, load, rows_of_zeros, splat, store
from replay.meters.model import EVENT, EVENT_KINDS, EVENTS_KEPT, Column, Facts
from replay.take.block import HALO, Block

NAME = "repeats"
COLUMNS: tuple[Column, ...] = ()

CHUNK = 8
SHORTEST = 4
"""Chunks: buffers of 32 frames and more."""

LONGEST = 512
"""Chunks: buffers of up to 4096 frames."""

ANCHORS = 4
"""One sum in so many is an anchor."""

SLOTS = 256
"""Anchors remembered a track: those of the last LONGEST chunks, and room."""

KEPT = 3 * LONGEST + 16
"""Sums of earlier hops at hand: a buffer repeated twice is known when it has ended, and looked at from its
beginning."""

_SCALE = 2.0**31 * 0.6180339887498949
_ROUND = 1.5 * 2.0**52


@kernel
def _add_up(samples, first, chunks, sums, row_of_eight, chosen, found):
    """Sums of `chunks` chunks from row `first` on, to rows KEPT on of `sums`; `chosen` (8, chunks + 1) gets which of
    them are anchors, `found` (8,) how many are."""
    scale, rounding = splat(_SCALE), splat(_ROUND)
    wide = splat(float(ANCHORS))
    for lane in range(LANES):
        found[lane] = 0
    for c in range(chunks):
        row = first + c * CHUNK
        total = load(samples, row)
        for k in range(1, CHUNK):
            total = total + load(samples, row + k)
        store(sums, KEPT + c, total)
        # The fraction of the scaled sum, from -0.5 to 0.5, spreads evenly whatever the word length.
        scaled = total * scale
        fraction = scaled - ((scaled + rounding) - rounding)
        store(row_of_eight, 0, fraction * wide)
        for lane in range(LANES):
            # Without a branch: which sum is an anchor cannot be foreseen.
            fraction_here = row_of_eight[0, lane]
            chosen[lane, found[lane]] = c
            found[lane] += 1 if -0.5 <= fraction_here < 0.5 else 0


@kernel
def _alike(sums, first, stop, lane):
    """Whether a stretch of sums repeats within itself: any two neighbours alike, or the sums two and three apart."""
    for c in range(first, stop - 1):
        here = sums[c, lane]
        if here == sums[c + 1, lane]:
            return True
        if c + 2 < stop and here == sums[c + 2, lane]:
            return True
        if c + 3 < stop and here == sums[c + 3, lane]:
            return True
    return False


@kernel
def _end(sums, place, lane, step, begin, length, events, counts):
    """A repeat of `length` chunks at a lag of `step` has ended before `place`: note it if it is a buffer's."""
    times = (length + 1) // step
    if times < 1 or times > 2 or length < times * step - 1 or length > times * step:
        return
    original = place - length - step
    if original < 0 or _alike(sums, original, original + step, lane):
        return
    moved = 0.0
    for k in range(original, original + step - 1):
        moved = max(moved, abs(sums[k + 1, lane] - sums[k, lane]))
    at = counts[lane]
    if at < events.shape[1]:
        events[lane, at, 0] = begin
        events[lane, at, 1] = step
        events[lane, at, 2] = times
        events[lane, at, 3] = moved / CHUNK
    counts[lane] += 1


@kernel
def _follow(sums, chosen, found, chunks, number, table_sum, table_at, lag, begin, events, counts):
    """Find and follow repeats through the new chunks; `number` is the first one's, counted from the take's start.

    `lag[lane]` and `begin[lane]` (a chunk's number) are those of the repeat under way, lag 0 for none; `chosen` and
    `found` are the anchors.
    """
    for lane in range(LANES):
        step = lag[lane]
        c = 0
        if step > 0:
            while c < chunks and sums[KEPT + c, lane] == sums[KEPT + c - step, lane]:
                c += 1
            if c < chunks:
                _end(sums, KEPT + c, lane, step, begin[lane], number + c - begin[lane], events, counts)
                lag[lane] = 0
        for k in range(found[lane]):
            at = chosen[lane, k]
            place = KEPT + at
            here = sums[place, lane]
            if here == sums[place - 1, lane]:
                continue
            scaled = here * _SCALE
            fraction = scaled - ((scaled + _ROUND) - _ROUND)
            slot = int((fraction * ANCHORS + 0.5) * SLOTS) & (SLOTS - 1)
            step = number + at - table_at[lane, slot]
            known = table_sum[lane, slot] == here and SHORTEST <= step <= LONGEST
            table_sum[lane, slot] = here
            table_at[lane, slot] = number + at
            if not known or at < c or lag[lane] > 0:
                continue
            back = place
            while place - back < 2 * step and sums[back - 1, lane] == sums[back - 1 - step, lane]:
                back -= 1
            c = at + 1
            while c < chunks and sums[KEPT + c, lane] == sums[KEPT + c - step, lane]:
                c += 1
            begin[lane] = number + back - KEPT
            if c < chunks:
                _end(sums, KEPT + c, lane, step, begin[lane], number + c - begin[lane], events, counts)
            else:
                lag[lane] = step


@kernel
def _move_up(sums, by):
    """The last KEPT sums to the front."""
    for row in range(KEPT):
        store(sums, row, load(sums, row + by))


@kernel
def _take(
    samples, first, chunks, number, sums, row_of_eight, chosen, found, table_sum, table_at, lag, begin, events, counts
):
    """The `chunks` chunks from row `first` on."""
    _add_up(samples, first, chunks, sums, row_of_eight, chosen, found)
    _follow(sums, chosen, found, chunks, number, table_sum, table_at, lag, begin, events, counts)
    _move_up(sums, chunks)


class Meter:
    """Repeats of eight tracks."""

    def __init__(self, rate: int) -> None:
        self._rate = rate
        chunks = rate // 10 // CHUNK + 3
        self._sums = rows_of_zeros(KEPT + chunks)
        self._row = rows_of_zeros(1)
        self._chosen = np.zeros((LANES, chunks + 1), np.int64)
        self._found = np.zeros(LANES, np.int64)
        self._table_sum = np.zeros((LANES, SLOTS))
        self._table_at = np.full((LANES, SLOTS), -LONGEST - 1, np.int64)
        self._lag = np.zeros(LANES, np.int64)
        self._begin = np.zeros(LANES, np.int64)
        self._events = np.zeros((LANES, EVENTS_KEPT, 4))
        self._counts = np.zeros(LANES, np.int64)
        self._chunks = 0

    def feed(self, block: Block, out: dict[str, Any]) -> None:
        """One hop: the chunks that end in it. Chunks count from the take's start, whatever the rate."""
        self._take(block)

    def finish(self, block: Block) -> None:
        """What is under way when the tracks end is followed to its end: silence does not repeat it."""
        self._take(block)

    def _take(self, block: Block) -> None:
        chunks = (block.start + block.rows) // CHUNK - self._chunks
        first = HALO + self._chunks * CHUNK - block.start
        _take(
            block.samples, first, chunks, self._chunks, self._sums, self._row, self._chosen, self._found,
            self._table_sum, self._table_at, self._lag, self._begin, self._events, self._counts,
        )  # fmt: skip
        self._chunks += chunks

    def result(self, lane: int, facts: Facts) -> tuple[np.ndarray, dict[str, int]]:
        """The lane's repeats as events in order of time, and their exact count."""
        kept = self._events[lane, : min(self._counts[lane], EVENTS_KEPT)]
        events = np.zeros(len(kept), EVENT)
        events["kind"] = EVENT_KINDS["repeat"]
        events["start"], events["length"] = kept[:, 0] * CHUNK, kept[:, 1] * CHUNK
        events["value"], events["against"] = kept[:, 2], kept[:, 3]
        return events, {"repeat": int(self._counts[lane])}
