"""Held values: the same sample over and over, where something must have been lost.

A driver that gets no data sends zeros, or what it had last. Runs of SHORTEST equal samples or more are noted where
both their ends are breaks (see `edges`): on either side the signal was in full motion up to the last sample. Gates and
fades come to rest first, and are no break. Neither are tops that are cut off (see `clip_runs`, `plateaus`): there the
value is an extreme of what surrounds it, and the signal comes to it and leaves it without a jump. Other runs of LONG
or more, as between the songs of a player, are noted apart, as `rest`: where the last value of a slow wave is held,
nothing breaks off. `held` counts the frames of them all, also of shorter rests and of those between stretches that
exist on the track.

Unit of an event's value: linear, the value held; `against` is the largest step from one sample to the next within NEAR
frames of the end at which less moves (of a `rest`, at which more does). `held`: frames per hop that belong to runs of
SHORTEST or more, counted when known. Runs of nothing but dither are `faint`, for which see there.

Positions are looked at LATE frames late, so that a hop sees what follows.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from replay.compiled import kernel
from replay.lanes import LANES, load, magnitude, maximum, rows_of_zeros, splat, store
from replay.meters.edges import FOUND, STRIDE, edge, note
from replay.meters.faint import faint_runs
from replay.meters.model import EVENT, EVENT_KINDS, EVENTS_KEPT, Column, Facts
from replay.take.block import HALO, Block

NAME = "held"
COLUMNS = (Column("held", "frames", 100, "u4", "same"),)

SHORTEST = 24
"""Half a millisecond at 48 kHz. Recorders and links lose packets and buffers, of 32 frames at least."""

LONG = 240
"""5 ms at 48 kHz: with a preamp's noise on it, no wave stands still for that long."""

LATE = 80


@kernel
def _moves(samples, first, strides, moves):
    """The greatest step from one sample to the next in every stride of positions."""
    before = load(samples, first - 1)
    for s in range(strides):
        most = splat(0.0)
        start = first + s * STRIDE
        for row in range(start, start + STRIDE):
            here = load(samples, row)
            most = maximum(most, magnitude(here - before))
            before = here
        store(moves, s, most)


@kernel
def _close(samples, row, lane, begin, length, value, left, right, events, counts, rests, rest_counts):
    """A run has ended before `row`: note it if both ends are breaks and it is not a cut-off top, or if it is long."""
    if left[lane, 0] == 0.0 and length < LONG:
        return
    edge(samples, row, lane, 1, value, right)
    both = (left[lane, 2] + right[2]) * (left[lane, 3] + right[3])
    top = both == 0.0 and value != 0.0 and left[lane, 4] + right[4] == 0.0
    if left[lane, 0] + right[0] == 2.0 and not top:
        note(events, counts, lane, begin, length, value, min(left[lane, 1], right[1]))
    elif length >= LONG:
        note(rests, rest_counts, lane, begin, length, value, max(left[lane, 1], right[1]))


@kernel
def _runs(
    samples, first, rows, frame, moves, since, left, right, events, counts, rests, rest_counts, held,
    quiet, faint_since, faint_state, faint, faint_counts,
):  # fmt: skip
    """Follow runs through the positions `first` to `first + rows - 1`; `frame` is the first one's.

    `since[lane]` is the frame at which the open run began, or -1; `left` what its left edge looked like (written when
    the run is long enough). `held` (8,) gets the frames found to belong to runs that are long enough; `moves` is room.
    The last five are for runs of dither, see `faint`.
    """
    last = first + rows
    strides = rows // STRIDE
    _moves(samples, first, strides, moves)
    for lane in range(LANES):
        found = 0
        row = first
        begin = since[lane]
        counted = begin >= 0 and frame - begin >= SHORTEST
        while row < last:
            if begin < 0:
                # Not in a run: on to the next stride without any move, then back to where the run began.
                s = (row - first + STRIDE - 1) // STRIDE
                while s < strides and moves[s, lane] > 0.0:
                    s += 1
                if s >= strides:
                    break
                start = first + s * STRIDE
                # What began before the first position is open already.
                back = start - 1
                while back > first and samples[back - 1, lane] == samples[back, lane]:
                    back -= 1
                begin = max(0, frame + back - first)  # what lies before the first frame is no sound
                row = start + STRIDE
                counted = False
            value = samples[row - 1, lane]
            # In a run: on to its end.
            while row < last and samples[row, lane] == value:
                s = (row - first) // STRIDE
                if s * STRIDE == row - first and s < strides and moves[s, lane] == 0.0:
                    row += STRIDE
                else:
                    row += 1
            length = frame + row - first - begin
            if length >= SHORTEST and not counted:
                edge(samples, first + begin - frame - 1, lane, -1, value, right)
                for k in range(5):
                    left[lane, k] = right[k]
                found += max(0, frame + row - first - max(begin, 0))
                counted = True
            elif length >= SHORTEST:
                found += max(0, frame + row - first - max(begin, frame, 0))
            if row < last:
                if length >= SHORTEST:
                    _close(samples, row, lane, begin, length, value, left, right, events, counts, rests, rest_counts)
                begin = -1
                counted = False
        if begin < 0:
            # A run may be under way at the end; a single sample counts as one that has just begun.
            back = last - 1
            while back > first - SHORTEST and samples[back - 1, lane] == samples[back, lane]:
                back -= 1
            begin = frame + back - first
        since[lane] = begin
        held[lane] = found
    faint_runs(samples, first, rows, frame, moves, quiet, faint_since, faint_state, right, faint, faint_counts)


class Meter:
    """Held values of eight tracks."""

    def __init__(self, rate: int) -> None:
        self._moves = rows_of_zeros(rate // 10 // STRIDE + 2)
        self._since = np.full(LANES, -1, np.int64)
        self._left = np.zeros((LANES, FOUND))
        self._right = np.zeros(FOUND)
        self._events = np.zeros((LANES, EVENTS_KEPT, 4))
        self._counts = np.zeros(LANES, np.int64)
        self._rests = np.zeros((LANES, EVENTS_KEPT, 4))
        self._rest_counts = np.zeros(LANES, np.int64)
        self._faint = np.zeros((LANES, EVENTS_KEPT, 4))
        self._faint_counts = np.zeros(LANES, np.int64)
        self._faint_since = np.full(LANES, -1, np.int64)
        self._faint_state = np.zeros((LANES, 2))
        self._quiet = np.zeros(rate // 10 // STRIDE + 2, np.int64)
        self._last = np.zeros(LANES)

    def feed(self, block: Block, out: dict[str, Any]) -> None:
        """One hop."""
        if block.rows >= LATE:
            self._positions(block, block.rows, out["held"])
        else:
            out["held"][:] = 0.0

    def finish(self, block: Block) -> None:
        """What is left to look at when the tracks have ended."""
        if block.rows >= LATE:
            self._positions(block, LATE, self._last)

    def _positions(self, block: Block, rows: int, held: np.ndarray) -> None:
        first = HALO - LATE
        _runs(
            block.samples, first, rows, block.start - LATE, self._moves, self._since, self._left, self._right,
            self._events, self._counts, self._rests, self._rest_counts, held,
            self._quiet, self._faint_since, self._faint_state, self._faint, self._faint_counts,
        )  # fmt: skip

    def result(self, lane: int, facts: Facts) -> tuple[np.ndarray, dict[str, int]]:
        """The lane's runs as events in order of time, and their exact count; what touches a stretch that does not exist
        is not the signal's."""
        made, counts = [], {}
        for kind, noted, count in (
            ("held", self._events, self._counts),
            ("rest", self._rests, self._rest_counts),
            ("faint", self._faint, self._faint_counts),
        ):
            kept = noted[lane, : min(count[lane], EVENTS_KEPT)]
            events = np.zeros(len(kept), EVENT)
            events["kind"] = EVENT_KINDS[kind]
            events["start"], events["length"], events["value"], events["against"] = kept.T
            inside = np.zeros(len(kept), bool)
            for start, stop in facts.coverage:
                inside |= (events["start"] > start) & (events["start"] + events["length"] < stop)
            made.append(events[inside])
            counts[kind] = int(count[lane]) - int((~inside).sum())
        return np.concatenate(made), counts
