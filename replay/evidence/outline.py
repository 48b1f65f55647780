"""The loops of `sound.figures_of`: what a moment of one track is in time and in frequency.

Compiled: there are hundreds of moments, and each is gone through a dozen times.
"""

from __future__ import annotations

from replay.compiled import kernel
from replay.lanes import LANES, load_along, magnitude, maximum, splat, store_along


@kernel
def in_time(samples, window, windowed, cells, scratch):
    """Energy and greatest magnitude of `samples` (float64), their mean taken off; `windowed` gets them under `window`,
    `cells` the energy of each of so many equal parts. `scratch` is (8,)."""
    count = len(samples)
    whole = count // LANES * LANES
    total = splat(0.0)
    for at in range(0, whole, LANES):
        total = total + load_along(samples, at)
    store_along(scratch, 0, total)
    mean = 0.0
    for lane in range(LANES):
        mean += scratch[lane]
    for at in range(whole, count):
        mean += samples[at]
    mean /= count
    middle, most = splat(mean), splat(0.0)
    for at in range(0, whole, LANES):
        here = load_along(samples, at) - middle
        most = maximum(most, magnitude(here))
        store_along(windowed, at, here)
    store_along(scratch, 0, most)
    peak = 0.0
    for lane in range(LANES):
        peak = max(peak, scratch[lane])
    for at in range(whole, count):
        windowed[at] = samples[at] - mean
        peak = max(peak, abs(windowed[at]))
    energy = 0.0
    length = count // len(cells)
    for cell in range(len(cells)):
        first = cell * length
        stop = first + length
        total = splat(0.0)
        last = first + length // LANES * LANES
        for at in range(first, last, LANES):
            here = load_along(windowed, at)
            total = total + here * here
        store_along(scratch, 0, total)
        power = 0.0
        for lane in range(LANES):
            power += scratch[lane]
        for at in range(last, stop):
            power += windowed[at] * windowed[at]
        cells[cell] = power
        energy += power
    for at in range(length * len(cells), count):
        energy += windowed[at] * windowed[at]
    for at in range(count):
        windowed[at] *= window[at]
    return energy, peak


@kernel
def in_frequency(bins, edges, low, high, running, shares, part):
    """The bin up to which half of the power of `bins` lies, or -1 where there is none.

    `shares` gets the shares of power from each of `edges` to the next; `part` the powers from bin `low` to `high` - 1,
    and 0 elsewhere; `running` is scratch for one value more than there are bins.
    """
    running[0] = 0.0
    for k in range(len(part)):
        part[k] = 0.0
    for k in range(len(bins)):
        power = bins[k].real * bins[k].real + bins[k].imag * bins[k].imag
        running[k + 1] = running[k] + power
        if low <= k < high:
            part[k] = power
    total = running[len(bins)]
    if total <= 0.0:
        return -1
    for band in range(len(shares)):
        shares[band] = (running[edges[band + 1]] - running[edges[band]]) / total
    half = 0
    while running[half] < total / 2:
        half += 1
    return half


@kernel
def highest_return(lags, first, last):
    """Place and height of the highest value of an autocorrelation between two lags, past its first dip (a sound is like
    itself a little later); place 0 where there is none."""
    dip = 1
    while dip < last and lags[dip] / lags[0] > 0.3:
        dip += 1
    first = max(first, dip)
    if last - first < 3:
        return 0, 0.0
    best = first
    for lag in range(first, last):
        if lags[lag] > lags[best]:
            best = lag
    return best, lags[best] / lags[0]
