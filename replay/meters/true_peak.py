"""True peak: the greatest magnitude of the continuous signal that the samples stand for.

Unit: linear, fraction of full scale. Convention: Rec. ITU-R BS.1770-5 Annex 2 asks for 4x oversampling at 48 kHz; its
example filter reads tones -0.31 to +0.17 dB off. This one interpolates at sevenths of a sample with 64 taps (a sinc
under a Kaiser window, beta 6) and lays a parabola through each maximum: within 0.05 dB of a 32x reference up to 0.45
of the rate. Never below the sample peak.

Oversampling is done only where it can matter. Between two neighbouring samples the interpolated signal leaves the
straight line between them by no more than BEND times the greatest second difference nearby, parabola included; an
interval is interpolated only where that bound exceeds both the hop's peak found so far and the track's threshold. The
threshold is a level that peaks have reached at least nine times so far, far enough apart that neither the take's true
peak nor its played peak (the fifth-highest, see `played`) can lie below it. So the whole take's figures are exact; for
every hop two columns say between which limits its own true peak lies, and a question about a part of the take that
needs a hop more closely reads it again (`replay.meters.again`).

A hop's figure belongs to the intervals that begin DELAY frames before the hop, since the filter needs to see ahead.
Where a track ends, the intervals that the next hop would have taken are looked at with silence behind them, and belong
to its last hop.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from replay.compiled import kernel
from replay.lanes import LANES, load, magnitude, maximum, splat, store
from replay.meters.model import Column
from replay.take.block import HALO, Block

NAME = "true_peak"
VERSION = 3
COLUMNS = (
    Column("true_peak", "fraction of full scale, at least", 100, "f8", "shift"),
    Column("true_peak_limit", "fraction of full scale, at most", 100, "f8", "shift"),
)

HALF = 32
STEPS = 7
BEFORE = 34
TAPS = 68
DELAY = 33
STRIDE = 32
"""Intervals in a row that share one bound."""

# The points at which an interval [0, 1] is interpolated: sevenths, and one step beyond either end for the parabola.
_POINTS = np.array([-1, 1, 2, 3, 4, 5, 6, 8]) / STEPS


def _design() -> tuple[np.ndarray, float, np.ndarray]:
    """Taps (TAPS, 8) for samples n - BEFORE to n + 33; BEND, the bound's constant; and the weights' largest magnitudes
    (TAPS,), by the sample on which a second difference is centred plus one.

    Each point's taps are corrected to carry constants and straight lines exactly; then the difference from linear
    interpolation is a weighted sum of second differences, and the sum of the weights' magnitudes bounds it. So does it
    for a parabola through three points, whose weights are theirs mixed: the largest sum that a vertex can have counts.
    """
    positions = np.arange(TAPS) - BEFORE
    taps = np.zeros((TAPS, LANES))
    # Weights at the ten points -1/7, 0, 1/7 .. 6/7, 1, 8/7; those of the two samples themselves are 0.
    weights = np.zeros((STEPS + 3, TAPS))
    for lane, point in enumerate(_POINTS):
        away = positions - point
        inside = np.abs(away) < HALF
        window = np.zeros(TAPS)
        window[inside] = np.i0(6.0 * np.sqrt(1 - (away[inside] / HALF) ** 2)) / np.i0(6.0)
        filtered = np.sinc(away) * window
        system = np.array([[window.sum(), (window * away).sum()], [(window * away).sum(), (window * away**2).sum()]])
        wrong = np.array([1 - filtered.sum(), -(filtered * away).sum()])
        level, slope = np.linalg.solve(system, wrong)
        filtered = filtered + (level + slope * away) * window
        taps[:, lane] = filtered
        line = np.zeros(TAPS)
        line[BEFORE], line[BEFORE + 1] = 1 - point, point
        weights[round(point * STEPS) + 1] = np.cumsum(np.cumsum(filtered - line))
    # Vertices lie at most half a step from the highest point; between the hundredths of a step nothing much happens.
    beside = np.linspace(-0.5, 0.5, 101)[:, None]
    bend = 0.0
    largest = np.zeros(TAPS)
    for k in range(1, STEPS + 2):
        left, right = beside * (beside - 1) / 2 * weights[k - 1], beside * (beside + 1) / 2 * weights[k + 1]
        mixed = np.abs(left + (1 - beside**2) * weights[k] + right)
        # What lies outside of the interval is its neighbour's.
        mixed = mixed[(k - 1 + beside[:, 0] >= 0) & (k - 1 + beside[:, 0] <= STEPS)]
        bend = max(bend, float(mixed.sum(axis=1).max()))
        largest = np.maximum(largest, mixed.max(axis=0))
    return taps, bend * 1.00001, largest * 1.00001


_TAPS, BEND, _LARGEST = _design()
# The second differences centred on the samples n - 4 to n + 5 weigh most; they are looked at one by one.
NEAR = 5
_NEAR = _LARGEST[BEFORE - NEAR : BEFORE + NEAR].copy()
_FAR = float(_LARGEST.sum() - _NEAR.sum())


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
def _near_bend(samples, row, lane, weights):
    """What the nearest second differences can add between `row` and `row + 1`."""
    bend = 0.0
    before, here = samples[row - NEAR, lane], samples[row - NEAR + 1, lane]
    for k in range(2 * NEAR):
        after = samples[row - NEAR + 2 + k, lane]
        bend += weights[k] * abs((before - here) - (here - after))
        before = here
        here = after
    return bend


@kernel
def _interpolate(samples, row, lane, taps, scratch):
    """The greatest magnitude in the interval from `row` to `row + 1` of a lane."""
    a = splat(0.0)
    b = splat(0.0)
    c = splat(0.0)
    d = splat(0.0)
    start = row - BEFORE
    for k in range(0, TAPS, 4):
        a = a + splat(samples[start + k, lane]) * load(taps, k)
        b = b + splat(samples[start + k + 1, lane]) * load(taps, k + 1)
        c = c + splat(samples[start + k + 2, lane]) * load(taps, k + 2)
        d = d + splat(samples[start + k + 3, lane]) * load(taps, k + 3)
    store(scratch, 0, (a + b) + (c + d))
    # scratch[8:18] becomes the ten points in order: -1/7, 0, 1/7 .. 6/7, 1, 8/7.
    scratch[8] = scratch[0]
    scratch[9] = samples[row, lane]
    for k in range(1, 7):
        scratch[9 + k] = scratch[k]
    scratch[16] = samples[row + 1, lane]
    scratch[17] = scratch[7]
    best = 9
    for k in range(10, 17):
        if abs(scratch[k]) > abs(scratch[best]):
            best = k
    peak = abs(scratch[best])
    sign = 1.0 if scratch[best] >= 0 else -1.0
    left = scratch[best - 1] * sign
    right = scratch[best + 1] * sign
    curve = (left - peak) - (peak - right)
    if curve < 0.0 and left <= peak and right <= peak:
        peak -= (right - left) * (right - left) / (8.0 * curve)
    return peak


@kernel
def _true_peaks(samples, first, intervals, taps, near, peaks, bends, scratch, thresholds, result, limits):
    """Raise `result` (8,), which holds the peaks found so far (at first the hop's sample peaks), to the true peaks
    where these exceed the thresholds; `limits` (8,) says what they cannot exceed."""
    strides = (intervals + STRIDE - 1) // STRIDE
    for lane in range(LANES):
        found = max(result[lane], thresholds[lane])
        if result[lane] == 0.0 and peaks[0, lane] == 0.0 and bends[0, lane] == 0.0 and bends[1, lane] == 0.0:
            # Silence, and silence before it: a signal that ends just before the hop still moves within it.
            limits[lane] = 0.0
            continue
        most = 0.0
        # The loudest stride first: a high peak found early spares work in all others.
        loudest = 0
        for s in range(strides):
            if peaks[s, lane] > peaks[loudest, lane]:
                loudest = s
        for turn in range(-1, strides):
            s = loudest if turn < 0 else turn
            sharpest = max(bends[s, lane], max(bends[s + 1, lane], bends[s + 2, lane]))
            bend = BEND * sharpest
            most = max(most, peaks[s, lane] + bend)
            if peaks[s, lane] + bend <= found:
                continue
            start = first + s * STRIDE
            stop = min(start + STRIDE, first + intervals)
            here = abs(samples[start, lane])
            for row in range(start, stop):
                after = abs(samples[row + 1, lane])
                ends = max(here, after)
                if ends + bend > found and ends + _FAR * sharpest + _near_bend(samples, row, lane, near) > found:
                    found = max(found, _interpolate(samples, row, lane, taps, scratch))
                here = after
        if found > thresholds[lane] or found == result[lane]:
            result[lane] = found
            limits[lane] = found
        else:
            limits[lane] = max(result[lane], min(most, found))


REACHED = 9
"""How many spaced hops must have reached the threshold. Picking the highest hop first and dropping its neighbours, each
of the first four picks can cost at most two of these, so the fifth pick is at least as high as the ninth of them."""

SPACING = 3
"""Hops between the beginnings of two peaks that count apart: at least 250 ms."""


class Meter:
    """The true peaks of eight tracks."""

    def __init__(self, rate: int) -> None:
        strides = (rate // 10 + 1 + STRIDE) // STRIDE + 4
        self._peaks = np.zeros((strides, LANES))
        self._bends = np.zeros((strides, LANES))
        self._scratch = np.zeros(24)
        self._thresholds = np.zeros(LANES)
        self._reached = np.zeros((REACHED, LANES))
        self._bin = np.zeros(LANES)
        self._hop = 0

    def feed(self, block: Block, out: dict[str, Any]) -> None:
        """One hop; needs the hop's sample peaks (`high`, `low`) in `out`."""
        result = out["true_peak"]
        np.maximum(out["high"], -out["low"], out=result)
        self._look(block.samples, block.rows, result, out["true_peak_limit"])
        self._raise_thresholds(result)

    def end(self, block: Block, out: dict[str, Any], lanes: np.ndarray) -> None:
        """Look behind the hop just fed in those `lanes` (bool, 8) whose tracks end in it: raises their figures."""
        samples = np.zeros((HALO + 2 * DELAY, LANES))
        samples[:HALO] = block.samples[block.rows : block.rows + HALO]
        result, limits = out["true_peak"].copy(), np.zeros(LANES)
        # As far behind the last sample as the first hop looks before the first one.
        self._look(samples, 2 * DELAY, result, limits)
        np.copyto(out["true_peak"], result, where=lanes)
        np.copyto(out["true_peak_limit"], np.maximum(out["true_peak_limit"], limits), where=lanes)

    def _look(self, samples: np.ndarray, intervals: int, result: np.ndarray, limits: np.ndarray) -> None:
        first = HALO - DELAY
        _bounds(samples, first, intervals, self._peaks, self._bends)
        _true_peaks(
            samples,
            first,
            intervals,
            _TAPS,
            _NEAR,
            self._peaks,
            self._bends,
            self._scratch,
            self._thresholds,
            result,
            limits,
        )

    def _raise_thresholds(self, peaks: np.ndarray) -> None:
        # Bins of SPACING hops; every second one counts, so that hops of two bins are SPACING apart at least.
        place = self._hop % (2 * SPACING)
        self._hop += 1
        if place < SPACING:
            np.maximum(self._bin, peaks, out=self._bin)
        if place == SPACING - 1:
            lowest = self._reached.argmin(axis=0)
            lanes = np.arange(LANES)
            self._reached[lowest, lanes] = np.maximum(self._reached[lowest, lanes], self._bin)
            self._thresholds[:] = self._reached.min(axis=0)
            self._bin[:] = 0.0


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
