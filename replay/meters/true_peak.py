"""True peak: the greatest magnitude of the continuous signal that the samples stand for.

Unit: linear, fraction of full scale. Convention: Rec. ITU-R BS.1770-5 Annex 2 asks for 4x oversampling at 48 kHz; its
example filter reads tones -0.31 to +0.17 dB off. This one interpolates at sevenths of a sample with 64 taps (a sinc
under a Kaiser window, beta 6) and lays a parabola through each maximum: within 0.05 dB of a 32x reference up to 0.45
of the rate. Never below the sample peak.

Oversampling is done only where it can matter. Between two neighbouring samples the interpolated signal leaves the
straight line between them by no more than BEND times the greatest second difference nearby, parabola included; an
interval is interpolated only where that bound exceeds both the hop's peak found so far and the track's threshold. It is
asked for 32 intervals of eight tracks at once first. Where it exceeds, that track's samples are laid out in a row and
every interval gets a bound of its own, from the second differences beside it one by one; what exceeds still waits until
there are eight to be interpolated together.

The threshold is a level that peaks have reached at least nine times so far, far enough apart that neither the take's
true peak nor its played peak (the fifth-highest, see `played`) can lie below it. So the whole take's figures are exact;
for every hop two columns say between which limits its own true peak lies, and a question about a part of the take that
needs a hop more closely reads it again (`replay.meters.again`).

A hop's figure belongs to the intervals that begin DELAY frames before the hop, since the filter needs to see ahead.
Where a track ends, the intervals that the next hop would have taken are looked at with silence behind them, and belong
to its last hop.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from replay.compiled import kernel
from replay.grid import longest_hop
from replay.lanes import (
    LANES,
    choose,
    largest,
    load,
    load_along,
    magnitude,
    maximum,
    rows_of_zeros,
    splat,
    store,
    store_along,
)
from replay.meters.interpolation import (
    BEFORE,
    BEND,
    DELAY,
    FAR_BENDS,
    NEAR_BENDS,
    PAIRED,
    WEIGHTS,
    interpolate,
    interpolate_row,
    most_between,
)
from replay.meters.model import Column
from replay.take.block import HALO, Block

NAME = "true_peak"
COLUMNS = (
    Column("true_peak", "fraction of full scale, at least", 100, "f8", "shift"),
    Column("true_peak_limit", "fraction of full scale, at most", 100, "f8", "shift"),
)

STRIDE = 32
"""Intervals in a row that share one bound."""

CROWDED = 4
"""Of eight intervals in a row, so many that have to be interpolated make it cheaper to interpolate all of them."""

REACHED = 9
"""How many spaced hops must have reached the threshold. Picking the highest hop first and dropping its neighbours, each
of the first four picks can cost at most two of these, so the fifth pick is at least as high as the ninth of them."""

SPACING = 3
"""Hops between the beginnings of two peaks that count apart: at least 250 ms."""

# Rows of a meter's state: thresholds; the greatest peaks found in the hop, what none can exceed, and its loudest
# stride; the peak of the bin under way; the REACHED highest bins; and what interpolating puts aside.
_THRESHOLD, _FOUND, _MOST, _LOUDEST, _BIN, _REACHED = range(6)
_SCRATCH = _REACHED + REACHED
_ROWS = _SCRATCH + 4 * LANES


@kernel
def _bounds(samples, first, intervals, peaks, bends):
    """Per STRIDE of intervals: the greatest sample at their ends, and the greatest second difference in the stride
    (`bends` has one stride more at either end)."""
    strides = (intervals + STRIDE - 1) // STRIDE
    last = first + intervals
    for s in range(-1, strides + 1):
        peak = splat(0.0)
        bend = splat(0.0)
        # The stride behind the last one may begin where there are no samples any more.
        start = min(first + s * STRIDE, last + DELAY - 1)
        stop = min(start + STRIDE, last + DELAY - 1)
        before = load(samples, start - 1)
        here = load(samples, start)
        for row in range(start, stop):
            after = load(samples, row + 1)
            bend = maximum(bend, magnitude((before - here) - (here - after)))
            peak = maximum(peak, magnitude(here))
            before = here
            here = after
        store(bends, s + 1, bend)
        if 0 <= s < strides:
            store(peaks, s, maximum(peak, magnitude(here)))


@kernel
def _raise_thresholds(state, peaks, place):
    """Note the hop's `peaks` (8,); `place` is the hop's within two bins of SPACING hops. Of the bins every second one
    counts, so that hops of two of them are SPACING apart at least."""
    for lane in range(LANES):
        if place < SPACING:
            state[_BIN, lane] = max(state[_BIN, lane], peaks[lane])
        if place == SPACING - 1:
            lowest = _REACHED
            for row in range(_REACHED + 1, _REACHED + REACHED):
                if state[row, lane] < state[lowest, lane]:
                    lowest = row
            state[lowest, lane] = max(state[lowest, lane], state[_BIN, lane])
            least = state[_REACHED, lane]
            for row in range(_REACHED + 1, _REACHED + REACHED):
                least = min(least, state[row, lane])
            state[_THRESHOLD, lane] = least
            state[_BIN, lane] = 0.0


@kernel
def _true_peaks(
    samples, first, intervals, taps, paired, near, peaks, bends, lines, curves, state, places, whose, there, high, low,
    result, limits, place
):  # fmt: skip
    """`result` (8,): the true peaks where these exceed the thresholds, the sample peaks `high` and `low` elsewhere;
    `limits` (8,): what they cannot exceed. Rows of `state` and `there` (8,) are told at the class."""
    _bounds(samples, first, intervals, peaks, bends)
    strides = (intervals + STRIDE - 1) // STRIDE
    last = first + intervals
    width = len(lines) // LANES
    scratch = state[_SCRATCH:]
    waiting = 0
    for lane in range(LANES):
        result[lane] = max(high[lane], -low[lane])
        state[_FOUND, lane] = max(result[lane], state[_THRESHOLD, lane])
        if result[lane] == 0.0 and peaks[0, lane] == 0.0 and bends[0, lane] == 0.0 and bends[1, lane] == 0.0:
            # Silence, and silence before it: a signal that ends just before the hop still moves within it.
            state[_FOUND, lane] = np.inf
        there[lane] = 0
    bound = splat(BEND)
    most = splat(0.0)
    highest = splat(-1.0)
    loudest = splat(0.0)
    for s in range(strides):
        peak = load(peaks, s)
        most = maximum(most, peak + bound * maximum(load(bends, s), maximum(load(bends, s + 1), load(bends, s + 2))))
        loudest = choose(peak, highest, splat(float(s)), loudest)
        highest = maximum(highest, peak)
    store(state, _MOST, most)
    store(state, _LOUDEST, loudest)
    for turn in range(-1, strides):
        if turn >= 0:
            sharpest = maximum(load(bends, turn), maximum(load(bends, turn + 1), load(bends, turn + 2)))
            if largest((load(peaks, turn) + bound * sharpest) - load(state, _FOUND)) <= 0.0 and turn < strides - 1:
                continue
        for lane in range(LANES):
            # The loudest stride first: a high peak found early spares work in all others.
            loud = int(state[_LOUDEST, lane])
            s = loud if turn < 0 else turn
            far = FAR_BENDS * max(bends[s, lane], max(bends[s + 1, lane], bends[s + 2, lane]))
            found = state[_FOUND, lane]
            if peaks[s, lane] + far * (BEND / FAR_BENDS) > found and turn != loud:
                # Eight intervals at a time: the last stride of a hop may begin before the end of the one before.
                start = min(first + s * STRIDE, last - LANES)
                stop = min(start + STRIDE, last)
                base = lane * width
                # Written out here: calling a function with arrays costs more than this does.
                fresh = max(start - BEFORE, there[lane] - 2)
                there[lane] = stop + DELAY if turn >= 0 else 0
                for row in range(fresh, stop + DELAY):
                    lines[base + row] = samples[row, lane]
                for at in range(base + fresh + 1, base + stop + DELAY - 1, LANES):
                    here = load_along(lines, at)
                    bend = magnitude((load_along(lines, at - 1) - here) - (here - load_along(lines, at + 1)))
                    store_along(curves, at, bend)
                for eight in range(start, stop, LANES):
                    at = base + min(eight, stop - LANES)
                    reach = most_between(lines, curves, at, far, near)
                    if largest(reach) > found:
                        store(scratch, 0, reach)
                        asked = 0
                        for k in range(LANES):
                            asked += 1 if scratch[0, k] > found else 0
                        if asked >= CROWDED:
                            interpolate_row(lines, at, paired, scratch)
                            found = max(found, largest(load(scratch, 0)))
                            state[_FOUND, lane] = found
                            continue
                        for k in range(LANES):
                            # Without a branch: which ones they are cannot be foreseen.
                            places[waiting] = at + k
                            whose[waiting] = lane
                            waiting += 1 if scratch[0, k] > found else 0
            # The places of all lanes wait until there are eight, or nothing more can come.
            least = 1 if lane == LANES - 1 and (turn < 0 or turn == strides - 1) else LANES
            while waiting >= least:
                eight = max(waiting - LANES, 0)
                for k in range(waiting, eight + LANES):
                    places[k] = places[eight]
                    whose[k] = whose[eight]
                interpolate(lines, places, eight, taps, scratch)
                for k in range(LANES):
                    one = whose[eight + k]
                    state[_FOUND, one] = max(state[_FOUND, one], scratch[0, k])
                waiting = eight
    for lane in range(LANES):
        found = state[_FOUND, lane]
        if found == np.inf:
            limits[lane] = 0.0
        elif found > state[_THRESHOLD, lane] or found == result[lane]:
            result[lane] = found
            limits[lane] = found
        else:
            limits[lane] = max(result[lane], min(state[_MOST, lane], found))
    if place >= 0:
        _raise_thresholds(state, result, place)


class Meter:
    """The true peaks of eight tracks."""

    def __init__(self, rate: int) -> None:
        strides = (rate // 10 + 1 + STRIDE) // STRIDE + 4
        self._peaks = rows_of_zeros(strides)
        self._bends = rows_of_zeros(strides)
        # Each lane's samples in a row, as far as they are looked at one by one; eights may reach beyond the last.
        self._lines = np.zeros(LANES * (HALO + longest_hop(rate) + 2 * LANES))
        self._curves = np.zeros_like(self._lines)
        self._state = rows_of_zeros(_ROWS)
        self._there = np.zeros(LANES, np.int64)
        # The intervals that wait to be interpolated, by their places in the lines, and their lanes.
        self._places = np.zeros(STRIDE + 2 * LANES, np.int64)
        self._whose = np.zeros_like(self._places)
        self._hop = 0

    def feed(self, block: Block, out: dict[str, Any]) -> None:
        """One hop; needs the hop's sample peaks (`high`, `low`) in `out`."""
        result, place = out["true_peak"], self._hop % (2 * SPACING)
        self._look(block.samples, block.rows, out["high"], out["low"], result, out["true_peak_limit"], place)
        self._hop += 1

    def end(self, block: Block, out: dict[str, Any], lanes: np.ndarray) -> None:
        """Look behind the hop just fed in those `lanes` (bool, 8) whose tracks end in it: raises their figures."""
        samples = np.zeros((HALO + 2 * DELAY, LANES))
        samples[:HALO] = block.samples[block.rows : block.rows + HALO]
        before = out["true_peak"].copy()
        result, limits = np.zeros(LANES), np.zeros(LANES)
        # As far behind the last sample as the first hop looks before the first one.
        self._look(samples, 2 * DELAY, before, before, result, limits, -1)
        np.copyto(out["true_peak"], result, where=lanes)
        np.copyto(out["true_peak_limit"], np.maximum(out["true_peak_limit"], limits), where=lanes)

    def _look(
        self,
        samples: np.ndarray,
        intervals: int,
        high: np.ndarray,
        low: np.ndarray,
        result: np.ndarray,
        limits: np.ndarray,
        place: int,
    ) -> None:
        _true_peaks(
            samples, HALO - DELAY, intervals, WEIGHTS, PAIRED, NEAR_BENDS, self._peaks, self._bends, self._lines,
            self._curves, self._state, self._places, self._whose, self._there, high, low, result, limits, place,
        )  # fmt: skip


def played(peaks: np.ndarray, count: int = 5) -> float | None:
    """The peak that recurs: the `count`-th highest of hop peaks at least 250 ms apart, picked highest first.

    None where there are fewer peaks above zero than that.
    """
    left = np.array(peaks, np.float64)
    found = None
    for _ in range(count):
        hop = int(left.argmax()) if len(left) else 0
        if len(left) == 0 or left[hop] <= 0:
            return None
        found = float(left[hop])
        left[max(0, hop - SPACING + 1) : hop + SPACING] = 0.0
    return found
