"""Clicks: places where the signal breaks off for a sample and goes on.

Every sample is held against what its three neighbours on either side let expect: 6-point symmetric interpolation,
whose error is the sixth difference over 20. A lone wrong sample leaves its whole size, a step half of it; music, which
has little near half the sampling rate, leaves next to nothing. A place is noted where the error is LEAST_RATIO times
the largest error within REACH frames to either side (the BESIDE frames next to it, which see the same break, left
out). Drum hits, plosives and the onsets of notes do not stand out like that: their errors go on behind the onset.
Neither does the start or the end of a sound cut hard, with nothing at all on one side: a click has signal on both
sides.

Unit of an event's value: linear, the error with its sign; `against` is the largest error nearby (0 is possible);
`length` is 2 where the place lies at the highest or lowest sample about it, else 1: a wave that is cut off for a sample
or two bends there, and is flat for too short to be noted as cut off. Noted generously: what is a click, and what only
the trace of a clock slip seen on many tracks at once, is for checks to say.

Positions are looked at LATE frames late, so that a hop sees what follows.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from replay.compiled import kernel
from replay.lanes import LANES, load, magnitude, maximum, rows_of_zeros, splat, store
from replay.meters.model import EVENT, EVENT_KINDS, EVENTS_KEPT, Column, Facts
from replay.take.block import HALO, Block

NAME = "clicks"
COLUMNS: tuple[Column, ...] = ()

LEAST_RATIO = 3.0
"""In steady noise an error of 3 times the largest of the other 128 is rare: less than once in ten minutes."""

LEAST_ERROR = 2.0**-17
"""One step of 16 bits across: nothing smaller is heard, and rounding makes such errors."""

REACH = 72
BESIDE = 8
"""Clicks of up to five samples break off at their beginning and at their end."""

TOP = 3
"""A top that is cut off for two samples bends before and behind them."""

STRIDE = 24
"""Positions in a row that share one bound. A place that stands out has its neighbours' bounds but one below it."""

LATE = 80


@kernel
def _bounds(samples, first, strides, bounds):
    """The largest error in every stride of positions from `first` on, in 20ths."""
    fifteen, six = splat(15.0), splat(6.0)
    twenty = splat(20.0)
    a = load(samples, first - 3)
    b = load(samples, first - 2)
    c = load(samples, first - 1)
    d = load(samples, first)
    e = load(samples, first + 1)
    f = load(samples, first + 2)
    for s in range(strides):
        worst = splat(0.0)
        start = first + s * STRIDE
        for row in range(start, start + STRIDE):
            g = load(samples, row + 3)
            error = twenty * d - fifteen * (c + e) + (six * (b + f) - (a + g))
            worst = maximum(worst, magnitude(error))
            a = b
            b = c
            c = d
            d = e
            e = f
            f = g
        store(bounds, s, worst)


@kernel
def _error(samples, row, lane):
    """The error at a position, in 20ths."""
    return (
        20.0 * samples[row, lane]
        - 15.0 * (samples[row - 1, lane] + samples[row + 1, lane])
        + (6.0 * (samples[row - 2, lane] + samples[row + 2, lane]) - (samples[row - 3, lane] + samples[row + 3, lane]))
    )


@kernel
def _at_top(samples, best, lane):
    """Whether a place lies within TOP samples of the highest about it, or of the lowest."""
    top = 0.0
    for row in range(best - TOP, best + TOP + 1):
        if abs(samples[row, lane]) > abs(top):
            top = samples[row, lane]
    way = 1.0 if top > 0.0 else -1.0
    about = 0.0
    for row in range(best - REACH, best + REACH + 1):
        about = max(about, way * samples[row, lane])
    return about <= way * top


@kernel
def _look(samples, first, rows, frame, bounds, strides, events, counts):
    """Note the places that stand out among the positions `first` to `first + rows - 1`; `frame` is the first one's.

    Stride s of `bounds` begins 2 strides before `first` at s = 0.
    """
    for lane in range(LANES):
        for s in range(2, strides - 2):
            most = bounds[s, lane]
            if most < 20.0 * LEAST_ERROR:
                continue
            if most < LEAST_RATIO * bounds[s - 2, lane] or most < LEAST_RATIO * bounds[s + 2, lane]:
                continue
            start = first + (s - 2) * STRIDE
            stop = min(start + STRIDE, first + rows)
            best = start
            value = 0.0
            for row in range(start, stop):
                error = _error(samples, row, lane)
                if abs(error) > abs(value):
                    value = error
                    best = row
            size = abs(value)
            if size < 20.0 * LEAST_ERROR:
                continue
            against = 0.0
            highest = True
            for row in range(best - REACH, best + REACH + 1):
                away = abs(row - best)
                error = abs(_error(samples, row, lane))
                if away > BESIDE:
                    against = max(against, error)
                    if size < LEAST_RATIO * against:
                        break
                elif error > size or (error == size and row < best):
                    highest = False
            if not highest or size < LEAST_RATIO * against:
                continue
            # Signal on both sides: the samples are not all alike on either.
            before = 0.0
            after = 0.0
            for k in range(BESIDE + 2, REACH):
                before += abs(samples[best - k, lane] - samples[best - k - 1, lane])
                after += abs(samples[best + k, lane] - samples[best + k + 1, lane])
            if before == 0.0 or after == 0.0:
                continue
            place = counts[lane]
            if place < events.shape[1]:
                events[lane, place, 0] = frame + best - first
                events[lane, place, 1] = value / 20.0
                events[lane, place, 2] = against / 20.0
                events[lane, place, 3] = 2.0 if _at_top(samples, best, lane) else 1.0
            counts[lane] += 1


@kernel
def _positions(samples, first, rows, stop, frame, bounds, events, counts):
    """Look at the positions `first` to `first + rows - 1`; the samples end before row `stop`."""
    # The last stride may reach beyond the positions; its bound then sees less than there is, never too much.
    strides = 2 + (rows + STRIDE - 1) // STRIDE + 2
    whole = min(strides, (stop - 3 - (first - 2 * STRIDE)) // STRIDE)
    _bounds(samples, first - 2 * STRIDE, whole, bounds)
    for s in range(whole, strides):
        store(bounds, s, splat(0.0))
    _look(samples, first, rows, frame, bounds, strides, events, counts)


class Meter:
    """Clicks of eight tracks."""

    def __init__(self, rate: int) -> None:
        self._bounds = rows_of_zeros(rate // 10 // STRIDE + 8)
        self._events = np.zeros((LANES, EVENTS_KEPT, 4))
        self._counts = np.zeros(LANES, np.int64)

    def feed(self, block: Block, out: dict[str, Any]) -> None:
        """One hop."""
        if block.rows >= LATE:
            self._positions(block, block.rows)

    def finish(self, block: Block) -> None:
        """What is left to look at when the tracks have ended."""
        if block.rows >= LATE:
            self._positions(block, LATE)

    def _positions(self, block: Block, rows: int) -> None:
        _positions(
            block.samples, HALO - LATE, rows, HALO + block.rows, block.start - LATE,
            self._bounds, self._events, self._counts,
        )  # fmt: skip

    def result(self, lane: int, facts: Facts) -> tuple[np.ndarray, dict[str, int]]:
        """The lane's clicks as events in order of time, and their exact count."""
        kept = self._events[lane, : min(self._counts[lane], EVENTS_KEPT)]
        events = np.zeros(len(kept), EVENT)
        events["kind"] = EVENT_KINDS["click"]
        events["start"], events["value"], events["against"], events["length"] = kept.T
        return events, {"click": int(self._counts[lane])}
