"""The signal between samples: its greatest magnitude in an interval, and what that cannot exceed.

An interval lies between two neighbouring samples. It is interpolated at sevenths of a sample with 64 taps (a sinc under
a Kaiser window, beta 6), and a parabola is laid through the highest point. The interpolated signal leaves the straight
line between the two samples by no more than a weighted sum of the magnitudes of the second differences nearby.

Eight intervals at a time: for the bounds eight in a row; for interpolating either eight in a row, one in a lane, where
most of them are asked for, or any eight, whose points lie in the lanes. Kernels work on one track's samples in a row
(`lines`) and the magnitudes of the second differences centred on them (`curves`).
"""

from __future__ import annotations

import numpy as np

from replay.compiled import kernel
from replay.lanes import LANES, choose, load, load_along, magnitude, maximum, multiply_add, splat, spread, store

HALF = 32
STEPS = 7
BEFORE = 34
TAPS = 68
DELAY = 33
# The points at which an interval [0, 1] is interpolated: sevenths, and one step beyond either end for the parabola.
POINTS = np.array([-1, 1, 2, 3, 4, 5, 6, 8]) / STEPS


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
    for lane, point in enumerate(POINTS):
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


WEIGHTS, BEND, _LARGEST = _design()
# The second differences centred on the samples n - 11 to n + 12 weigh most; they are looked at one by one.
NEAR = 12
NEAR_BENDS = _LARGEST[BEFORE - NEAR : BEFORE + NEAR].copy()
FAR_BENDS = float(_LARGEST.sum() - NEAR_BENDS.sum())


# The points lie in pairs, as far from the one end of the interval as from the other (lanes 0 and 7, 1 and 6 ...), and
# so do the samples: of a pair of samples the sum and the difference are weighed, once for both points of a pair.
PAIRS = 33
assert not WEIGHTS[: BEFORE + 1 - PAIRS].any()


def _paired() -> np.ndarray:
    """float64 (PAIRS, 8): weights of the sums of samples n + 1 + k and n - k for the first four points, and of their
    differences (the later less the earlier)."""
    later, earlier = WEIGHTS[BEFORE + 1 :, :4], WEIGHTS[BEFORE::-1][:PAIRS, :4]
    return np.hstack([(later + earlier) / 2, (later - earlier) / 2])


PAIRED = _paired()


@kernel
def most_between(lines, curves, at, far, near):
    """What the intervals that begin at `at` and the seven places behind it cannot exceed."""
    total = splat(0.0)
    more = splat(far)
    for k in range(0, 2 * NEAR, 2):
        total = multiply_add(splat(near[k]), load_along(curves, at - NEAR + 1 + k), total)
        more = multiply_add(splat(near[k + 1]), load_along(curves, at - NEAR + 2 + k), more)
    ends = maximum(magnitude(load_along(lines, at)), magnitude(load_along(lines, at + 1)))
    return ends + (total + more)


@kernel
def _highest(scratch):
    """The greatest magnitudes of eight intervals, to row 0: rows 8 to 15 hold their points, 16 and 17 the samples at
    either end."""
    # The ten points in order: -1/7, 0, 1/7 .. 6/7, 1, 8/7. The highest of the inner eight, and those beside it.
    left = load(scratch, 8)
    top = load(scratch, 16)
    right = load(scratch, 9)
    before = top
    here = right
    for k in range(10, 17):
        after = load(scratch, k)
        if k >= 15:
            after = load(scratch, 17 if k == 15 else 15)
        height = magnitude(here)
        highest = magnitude(top)
        left = choose(height, highest, before, left)
        right = choose(height, highest, after, right)
        top = choose(height, highest, here, top)
        before = here
        here = after
    zero = splat(0.0)
    sign = choose(zero, top, splat(-1.0), splat(1.0))
    peak = magnitude(top)
    left = left * sign
    right = right * sign
    curve = (left - peak) - (peak - right)
    # Beside a crest both points are lower; where one is not, or all are level, there is no parabola.
    beside = maximum(left, right)
    crest = choose(
        zero, curve, peak - (right - left) * (right - left) / choose(zero, curve, splat(8.0) * curve, splat(-1.0)), peak
    )
    store(scratch, 0, choose(beside, peak, peak, crest))


@kernel
def interpolate(lines, places, first, taps, scratch):
    """The greatest magnitudes in eight intervals, to the first row of `scratch`; interval k begins at
    `places[first + k]`."""
    p, q = places[first] - BEFORE, places[first + 1] - BEFORE
    r, s = places[first + 2] - BEFORE, places[first + 3] - BEFORE
    t, u = places[first + 4] - BEFORE, places[first + 5] - BEFORE
    v, w = places[first + 6] - BEFORE, places[first + 7] - BEFORE
    for quarter in range(4):
        a = splat(0.0)
        b = splat(0.0)
        c = splat(0.0)
        d = splat(0.0)
        e = splat(0.0)
        f = splat(0.0)
        g = splat(0.0)
        h = splat(0.0)
        for k in range(quarter, TAPS, 4):
            points = load(taps, k)
            a = multiply_add(spread(lines, p + k), points, a)
            b = multiply_add(spread(lines, q + k), points, b)
            c = multiply_add(spread(lines, r + k), points, c)
            d = multiply_add(spread(lines, s + k), points, d)
            e = multiply_add(spread(lines, t + k), points, e)
            f = multiply_add(spread(lines, u + k), points, f)
            g = multiply_add(spread(lines, v + k), points, g)
            h = multiply_add(spread(lines, w + k), points, h)
        row = quarter * LANES
        store(scratch, row, a)
        store(scratch, row + 1, b)
        store(scratch, row + 2, c)
        store(scratch, row + 3, d)
        store(scratch, row + 4, e)
        store(scratch, row + 5, f)
        store(scratch, row + 6, g)
        store(scratch, row + 7, h)
    for k in range(LANES):
        total = (load(scratch, k) + load(scratch, 8 + k)) + (load(scratch, 16 + k) + load(scratch, 24 + k))
        store(scratch, k, total)
    # From a row an interval to a row a point, and the samples at either end.
    for k in range(LANES):
        for point in range(LANES):
            scratch[8 + point, k] = scratch[k, point]
        scratch[16, k] = lines[places[first + k]]
        scratch[17, k] = lines[places[first + k] + 1]
    _highest(scratch)


@kernel
def interpolate_row(lines, at, paired, scratch):
    """The greatest magnitudes in the interval that begins at `at` and the seven behind it, to the first row of
    `scratch`."""
    a = splat(0.0)
    b = splat(0.0)
    c = splat(0.0)
    d = splat(0.0)
    e = splat(0.0)
    f = splat(0.0)
    g = splat(0.0)
    h = splat(0.0)
    for k in range(PAIRS):
        later = load_along(lines, at + 1 + k)
        earlier = load_along(lines, at - k)
        both = later + earlier
        between = later - earlier
        a = multiply_add(splat(paired[k, 0]), both, a)
        b = multiply_add(splat(paired[k, 1]), both, b)
        c = multiply_add(splat(paired[k, 2]), both, c)
        d = multiply_add(splat(paired[k, 3]), both, d)
        e = multiply_add(splat(paired[k, 4]), between, e)
        f = multiply_add(splat(paired[k, 5]), between, f)
        g = multiply_add(splat(paired[k, 6]), between, g)
        h = multiply_add(splat(paired[k, 7]), between, h)
    store(scratch, 8, a + e)
    store(scratch, 9, b + f)
    store(scratch, 10, c + g)
    store(scratch, 11, d + h)
    store(scratch, 12, d - h)
    store(scratch, 13, c - g)
    store(scratch, 14, b - f)
    store(scratch, 15, a - e)
    store(scratch, 16, load_along(lines, at))
    store(scratch, 17, load_along(lines, at + 1))
    _highest(scratch)
