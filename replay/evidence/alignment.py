"""Two tracks' samples of one moment laid over each other, and the lag at which they are most alike.

Compiled: a moment is compared with many others, and each comparison asks some ten lags of some ten thousand samples.
"""

from __future__ import annotations

import numpy as np

from replay.compiled import kernel
from replay.lanes import LANES, load_along, splat, store_along

STEP, MOST_STEPS = 8, 4
CLOSE = 0.9
"""Of low notes the whitened peak may lie some samples beside the true one: from this height on it is looked for there,
so many samples to either side, so many times."""


@kernel
def whiten(a, b, out):
    """The cross spectrum of two spectra, with a little whitening: the lowest note alone would make every lag nearly
    right. `a`, `b` and `out` are complex64 of one length."""
    # Four greatest ones, so that none waits for the one before.
    most = np.zeros(4, np.float32)
    for k in range(len(a)):
        real = a[k].real * b[k].real + a[k].imag * b[k].imag
        imaginary = a[k].real * b[k].imag - a[k].imag * b[k].real
        out[k] = complex(real, imaginary)
        most[k & 3] = max(most[k & 3], real * real + imaginary * imaginary)
    floor = np.float32(1e-3) * np.sqrt(max(most[0], most[1], most[2], most[3])) + np.float32(1e-30)
    for k in range(len(out)):
        height = np.sqrt(out[k].real * out[k].real + out[k].imag * out[k].imag)
        weight = np.float32(1.0) / np.sqrt(height + floor)
        out[k] = complex(out[k].real * weight, out[k].imag * weight)


@kernel
def _sums(x, y, lag, scratch):
    """Power of `x`, product, and power of `y`, where `y` lies `lag` later; `scratch` is (8,)."""
    at_x, at_y = max(-lag, 0), max(lag, 0)
    count = len(x) - abs(lag)
    whole = count // LANES * LANES
    xx = xy = yy = splat(0.0)
    for at in range(0, whole, LANES):
        here, there = load_along(x, at_x + at), load_along(y, at_y + at)
        xx = xx + here * here
        xy = xy + here * there
        yy = yy + there * there
    power_x = product = power_y = 0.0
    store_along(scratch, 0, xx)
    for lane in range(LANES):
        power_x += scratch[lane]
    store_along(scratch, 0, xy)
    for lane in range(LANES):
        product += scratch[lane]
    store_along(scratch, 0, yy)
    for lane in range(LANES):
        power_y += scratch[lane]
    for at in range(whole, count):
        power_x += x[at_x + at] * x[at_x + at]
        product += x[at_x + at] * y[at_y + at]
        power_y += y[at_y + at] * y[at_y + at]
    return power_x, product, power_y


@kernel
def _height(power_x, product, power_y):
    """Height of the correlation; less than 0 for silence."""
    return abs(product) / np.sqrt(power_x * power_y) if power_x > 0.0 and power_y > 0.0 else -1.0


@kernel
def _peak(lags, reach):
    """The lag of the highest peak either way within `reach`; what lies before 0 stands at the end of `lags`."""
    best, found = 0, np.float32(-1.0)
    for lag in range(-reach, reach + 1):
        height = abs(lags[lag if lag >= 0 else len(lags) + lag])
        if height > found:
            best, found = lag, height
    return best


@kernel
def lay_over(x, y, lags, reach, same, scratch, found):
    """Where `y` lies against `x` (float64), given the whitened correlation at all `lags`.

    `found` (4,) gets the lag, the gain of `y`, the height there, and from a height of `same` on the share of power that
    is left of `y` when `x` is taken off (otherwise -1). Returns whether there is anything: silence has no lag.
    """
    power_x, product, power_y = _sums(x, y, 0, scratch)
    if power_x <= 1e-12 * len(x) or power_y <= 1e-12 * len(y):
        return False
    lag = _peak(lags, reach)
    power_x, product, power_y = _sums(x, y, lag, scratch)
    height = _height(power_x, product, power_y)
    if height < 0.0:
        return False
    if height >= CLOSE:
        for _ in range(MOST_STEPS):
            middle, height = lag, -1.0
            for near in range(middle - STEP, middle + STEP + 1):
                here = _sums(x, y, near, scratch)
                high = _height(here[0], here[1], here[2])
                if high > height:
                    lag, height = near, high
                    power_x, product, power_y = here
            if abs(lag - middle) < STEP:
                break
    gain = product / power_x
    found[0], found[1], found[2], found[3] = lag, gain, height, -1.0
    if height >= same:
        left = 0.0
        for at in range(len(x) - abs(lag)):
            rest = y[max(lag, 0) + at] - gain * x[max(-lag, 0) + at]
            left += rest * rest
        found[3] = left / power_y
    return True
