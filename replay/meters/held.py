"""Held values: the same sample over and over, where something must have been lost.

A driver that gets no data sends zeros, or what it had last. Runs of SHORTEST equal samples or more are noted where
both their ends are breaks: on either side the signal was in full motion up to the last sample. An end is a break where
the error of 6-point interpolation (see `clicks`) at the edge is BREAK times the largest one beyond the edge, or where
the signal is so lively that its errors just beyond the edge are as large as further out (broadband sounds). Gates and
fades come to rest first, and are no break. Neither are tops that are cut off (see `clip_runs`, `plateaus`): there the
value is an extreme of what surrounds it, and the signal comes to it and leaves it without a jump. Other runs of LONG
or more, as between the songs of a player, are noted apart, as `rest`: where the last value of a slow wave is held,
nothing breaks off. `held` counts the frames of them all, also of shorter rests and of those between stretches that
exist on the track.

Unit of an event's value: linear, the value held; `against` is the largest step from one sample to the next within NEAR
frames of the end at which less moves (of a `rest`, at which more does). `held`: frames per hop that belong to runs of
SHORTEST or more, counted when known.

Positions are looked at LATE frames late, so that a hop sees what follows.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from replay.compiled import kernel
from replay.lanes import LANES, load, magnitude, maximum, rows_of_zeros, splat, store
from replay.meters.model import EVENT, EVENT_KINDS, EVENTS_KEPT, Column, Facts
from replay.take.block import HALO, Block

NAME = "held"
COLUMNS = (Column("held", "frames", 100, "u4", "same"),)

SHORTEST = 24
"""Half a millisecond at 48 kHz. Recorders and links lose packets and buffers, of 32 frames at least."""

LONG = 240
"""5 ms at 48 kHz: with a preamp's noise on it, no wave stands still for that long."""

BREAK = 3.0
LIVELY = 0.3
JUMP = 2.0
NEAR = 24
FAR = 72

STRIDE = 8
"""A run of SHORTEST has 23 equal neighbours: any 23 places hold a whole stride of 8."""

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
def _error(samples, row, lane):
    """The size of the error of 6-point interpolation, in 20ths."""
    return abs(
        20.0 * samples[row, lane]
        - 15.0 * (samples[row - 1, lane] + samples[row + 1, lane])
        + (6.0 * (samples[row - 2, lane] + samples[row + 2, lane]) - (samples[row - 3, lane] + samples[row + 3, lane]))
    )


@kernel
def _edge(samples, row, lane, way, value, found):
    """Look from an edge outward: `row` is the first sample beyond the run, `way` is +1 or -1.

    `found` gets: whether it is a break, the largest step nearby, whether samples lie above `value`, whether below it,
    and whether the signal jumps at the edge.
    """
    at_edge = 0.0
    for k in range(-3, 3):
        at_edge = max(at_edge, _error(samples, row + way * k, lane))
    near = 0.0
    for k in range(3, 12):
        near = max(near, _error(samples, row + way * k, lane))
    far = 0.0
    for k in range(12, FAR - 4):
        far = max(far, _error(samples, row + way * k, lane))
    jump = abs(samples[row, lane] - value)
    step = 0.0
    above = 0.0
    below = 0.0
    for k in range(FAR - 4):
        here = samples[row + way * k, lane]
        if k < NEAR:
            step = max(step, abs(samples[row + way * (k + 1), lane] - here))
        if here > value:
            above = 1.0
        if here < value:
            below = 1.0
    breaks = at_edge > BREAK * max(near, far) or (near >= LIVELY * far and at_edge >= LIVELY * far and near > 0.0)
    found[0] = 1.0 if breaks else 0.0
    found[1] = max(step, jump)
    found[2] = above
    found[3] = below
    found[4] = 1.0 if jump > JUMP * step else 0.0


@kernel
def _note(events, counts, lane, begin, length, value, against):
    place = counts[lane]
    if place < events.shape[1]:
        events[lane, place, 0] = begin
        events[lane, place, 1] = length
        events[lane, place, 2] = value
        events[lane, place, 3] = against
    counts[lane] += 1


@kernel
def _close(samples, row, lane, begin, length, value, left, right, events, counts, rests, rest_counts):
    """A run has ended before `row`: note it if both ends are breaks and it is not a cut-off top, or if it is long."""
    if left[lane, 0] == 0.0 and length < LONG:
        return
    _edge(samples, row, lane, 1, value, right)
    both = (left[lane, 2] + right[2]) * (left[lane, 3] + right[3])
    top = both == 0.0 and value != 0.0 and left[lane, 4] + right[4] == 0.0
    if left[lane, 0] + right[0] == 2.0 and not top:
        _note(events, counts, lane, begin, length, value, min(left[lane, 1], right[1]))
    elif length >= LONG:
        _note(rests, rest_counts, lane, begin, length, value, max(left[lane, 1], right[1]))


@kernel
def _runs(samples, first, rows, frame, moves, since, left, right, events, counts, rests, rest_counts, held):
    """Follow runs through the positions `first` to `first + rows - 1`; `frame` is the first one's.

    `since[lane]` is the frame at which the open run began, or -1; `left` what its left edge looked like (written when
    the run is long enough). `held` (8,) gets the frames found to belong to runs that are long enough; `moves` is room.
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
                _edge(samples, first + begin - frame - 1, lane, -1, value, right)
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


class Meter:
    """Held values of eight tracks."""

    def __init__(self, rate: int) -> None:
        self._moves = rows_of_zeros(rate // 10 // STRIDE + 2)
        self._since = np.full(LANES, -1, np.int64)
        self._left = np.zeros((LANES, 5))
        self._right = np.zeros(5)
        self._events = np.zeros((LANES, EVENTS_KEPT, 4))
        self._counts = np.zeros(LANES, np.int64)
        self._rests = np.zeros((LANES, EVENTS_KEPT, 4))
        self._rest_counts = np.zeros(LANES, np.int64)
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
        )  # fmt: skip

    def result(self, lane: int, facts: Facts) -> tuple[np.ndarray, dict[str, int]]:
        """The lane's runs as events in order of time, and their exact count; what touches a stretch that does not exist
        is not the signal's."""
        made, counts = [], {}
        for kind, noted, count in (
            ("held", self._events, self._counts),
            ("rest", self._rests, self._rest_counts),
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
