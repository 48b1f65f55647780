"""Energy by octaves: how much of a hop lies in which part of the range of hearing.

Unit: summed squares at the take's rate, so that the bands of a hop add up to about its energy (a sine of amplitude 1 at
48 kHz gives 2400 a hop); what lies on an edge loses half. Convention: a cascade of half-band filters, each of which
splits its input at a quarter of its rate into a lower and an upper half and passes the lower one on at half the rate.
At 48 kHz the edges are

    band_0  0 to 47 Hz     band_3  188 to 375     band_6  1500 to 3000    band_9   12000 to 24000
    band_1  47 to 94       band_4  375 to 750     band_7  3000 to 6000    band_10  above 24000 (double rates)
    band_2  94 to 188      band_5  750 to 1500    band_8  6000 to 12000

at 44.1 kHz they lie at 0.919 of that; other rates are halved until they come nearest to these, so that edges lie within
a factor of 1.42. Bands above half the rate are 0. Edges are soft: within an eighth of an octave of an edge a tone shows
in both bands; further away 60 dB down. Lower bands come later, by 75 ms at most for the lowest (the filters' delay).

Source of the structure: two-band half-band filter banks as in any textbook on multirate filters (Vaidyanathan 1993,
chapter 5). For a half-band filter the lower half is 0.5 x + s and the upper one 0.5 x - s with one and the same sum s,
so that the second costs nothing.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from replay.compiled import kernel
from replay.grid import longest_hop
from replay.lanes import load, multiply_add, rows_of_zeros, splat, store
from replay.meters.model import Column
from replay.take.block import HALO, Block

NAME = "bands"
BANDS = 11
_NAMES = tuple(f"band_{band}" for band in range(BANDS))
COLUMNS = tuple(Column(name, "summed squares", 100, "f4", "square") for name in _NAMES)

LOWEST_RATE = 93.75
"""What the lowest stream's rate is brought nearest to, in Hz: its half is the upper edge of the lowest band."""

STREAM_RATE = 1500.0
"""The stream that is handed on to the mains meter has the rate nearest to this, in Hz."""

STREAM = "low stream"
"""Under this name it lies beside the hop's columns; it is not kept."""

_WIDE, _NARROW = 15, 7
"""How far the filters look to either side. The wide one (60 dB) serves down to the stream that is handed on; the short
one (45 dB) the first split, which costs half of all, and the lowest ones, whose delay would be long."""


def _half_band(reach: int, beta: float) -> np.ndarray:
    """The taps at 1, 3, 5 ... from the centre; with 0.5 at the centre their sum at zero frequency is 1."""
    odd = np.arange(1, reach + 1, 2)
    window = np.i0(beta * np.sqrt(1 - (odd / (reach + 1)) ** 2)) / np.i0(beta)
    taps = 0.5 * np.sinc(odd / 2) * window
    return taps * (0.25 / taps.sum())


_WIDE_TAPS = _half_band(_WIDE, 5.65)
_NARROW_TAPS = _half_band(_NARROW, 4.0)


@kernel
def _split_wide(samples, first, count, taps, low, at, energies, place):
    """Centres at rows `first`, `first` + 2 ...: the lower half to `low` from row `at` on, the upper half's energy."""
    a, b, c, d = splat(taps[0]), splat(taps[1]), splat(taps[2]), splat(taps[3])
    e, f, g, h = splat(taps[4]), splat(taps[5]), splat(taps[6]), splat(taps[7])
    half = splat(0.5)
    total = splat(0.0)
    for i in range(count):
        row = first + 2 * i
        one = a * (load(samples, row - 1) + load(samples, row + 1))
        two = b * (load(samples, row - 3) + load(samples, row + 3))
        one = multiply_add(c, load(samples, row - 5) + load(samples, row + 5), one)
        two = multiply_add(d, load(samples, row - 7) + load(samples, row + 7), two)
        one = multiply_add(e, load(samples, row - 9) + load(samples, row + 9), one)
        two = multiply_add(f, load(samples, row - 11) + load(samples, row + 11), two)
        one = multiply_add(g, load(samples, row - 13) + load(samples, row + 13), one)
        two = multiply_add(h, load(samples, row - 15) + load(samples, row + 15), two)
        middle = half * load(samples, row)
        sides = one + two
        upper = middle - sides
        store(low, at + i, middle + sides)
        total = multiply_add(upper, upper, total)
    store(energies, place, total)


@kernel
def _split_narrow(samples, first, count, taps, low, at, energies, place):
    """As `_split_wide` with the short filter."""
    a, b, c, d = splat(taps[0]), splat(taps[1]), splat(taps[2]), splat(taps[3])
    half = splat(0.5)
    total = splat(0.0)
    for i in range(count):
        row = first + 2 * i
        one = a * (load(samples, row - 1) + load(samples, row + 1))
        two = b * (load(samples, row - 3) + load(samples, row + 3))
        one = multiply_add(c, load(samples, row - 5) + load(samples, row + 5), one)
        two = multiply_add(d, load(samples, row - 7) + load(samples, row + 7), two)
        middle = half * load(samples, row)
        sides = one + two
        upper = middle - sides
        store(low, at + i, middle + sides)
        total = multiply_add(upper, upper, total)
    store(energies, place, total)


def stages_of(rate: int) -> tuple[int, int]:
    """How often a rate is halved to the lowest stream, and to the stream that is handed on."""
    return max(1, round(math.log2(rate / LOWEST_RATE))), max(0, round(math.log2(rate / STREAM_RATE)))


def stream_rate(rate: int) -> float:
    """Samples per second of the stream that is handed on."""
    return rate / 2 ** stages_of(rate)[1]


def edges(rate: int) -> np.ndarray:
    """float64 (12,): the lower edge of each band in Hz, and the upper one of the last; half the rate at most."""
    stages, _ = stages_of(rate)
    lowest = rate / 2 ** (stages + 1)
    found = np.concatenate([[0.0], lowest * 2.0 ** np.arange(BANDS)])
    found[-1] = math.inf
    return np.minimum(found, rate / 2)


@kernel
def _cascade(samples, start, rows, streams, places, done, fresh, wide_stages, wide, narrow, energies, scales, columns):
    """All splits of one hop: stage k reads stage k - 1 (stage 0 the block) and leaves its lower half in `streams`.

    `places[k]` is the row of `streams` at which stage k's new samples begin, HALO rows of the hops before above them;
    `done[k]` counts what it has given so far, `fresh[k]` what the last hop brought. `energies` (stages + 1, 8) gets the
    upper halves' energies and last the lowest stream's, each as summed squares at that stream's rate; `columns`, the
    lowest band's first, get them at the take's rate, by `scales`.
    """
    stages = len(places)
    stop = start + rows
    new = rows
    for k in range(stages):
        place = places[k]
        for row in range(HALO):
            store(streams, place - HALO + row, load(streams, place - HALO + row + fresh[k]))
        reach = _WIDE if 0 < k < wide_stages else _NARROW
        # Output j needs the input up to 2 j + reach.
        until = max(0, (stop - 1 - reach) // 2 + 1)
        count = until - done[k]
        first = 2 * done[k] - (stop - new)
        if k == 0:
            _split_narrow(samples, HALO + first, count, narrow, streams, place, energies, k)
        elif k < wide_stages:
            _split_wide(streams, places[k - 1] + first, count, wide, streams, place, energies, k)
        else:
            _split_narrow(streams, places[k - 1] + first, count, narrow, streams, place, energies, k)
        done[k] = until
        fresh[k] = count
        stop = until
        new = count
    total = splat(0.0)
    for row in range(places[stages - 1], places[stages - 1] + new):
        here = load(streams, row)
        total = multiply_add(here, here, total)
    store(energies, stages, total)
    for band in range(BANDS):
        store(columns[band], 0, splat(0.0))
    for place in range(stages + 1):
        # The highest octaves of high rates share the last band.
        column = columns[max(0, min(stages - place, BANDS - 1))]
        store(column, 0, load(column, 0) + splat(scales[place]) * load(energies, place))


class Meter:
    """Octave bands of eight tracks.

    `feed` hands on the new samples of one low stream to the meters fed later, as `out[STREAM]`: float64 (rows, 8),
    valid until the next hop, its rate is `stream_rate(rate)`. Streams count from the start of the take's clock, so that
    blocks may have odd lengths.
    """

    def __init__(self, rate: int) -> None:
        stages, self._tap = stages_of(rate)
        self._places = np.zeros(stages, np.int64)
        longest, rows = longest_hop(rate), 0
        for place in range(stages):
            longest = longest // 2 + 2
            self._places[place] = rows + HALO
            rows += HALO + longest
        self._streams = rows_of_zeros(rows)
        self._done = np.zeros(stages, np.int64)
        self._fresh = np.zeros(stages, np.int64)
        self._energies = rows_of_zeros(stages + 1)
        self._scales = 2.0 ** np.minimum(np.arange(1, stages + 2), stages)

    def feed(self, block: Block, out: dict[str, Any]) -> None:
        """One hop."""
        _cascade(
            block.samples, block.start, block.rows, self._streams, self._places, self._done, self._fresh,
            self._tap, _WIDE_TAPS, _NARROW_TAPS, self._energies, self._scales, tuple(out[name] for name in _NAMES),
        )  # fmt: skip
        if self._tap == 0:
            out[STREAM] = block.samples[HALO : HALO + block.rows]
        else:
            first = self._places[self._tap - 1]
            out[STREAM] = self._streams[first : first + self._fresh[self._tap - 1]]
