"""Lines of the mains: the level at multiples of 50 and 60 Hz, and beside them, once a second.

Unit: mean square of the line (a sine of amplitude 1 gives 0.5) and of the band beside it in the line's own width, so
that noise alone gives about the same in both. Convention: 2 s of the low stream of `bands` under a Hann window, a new
spectrum every second; at each of the first nine multiples the greatest level within 0.6 % (EN 50160 allows 1 %, wide
networks stay within 0.4 %) and the mean between 3 and 9 Hz to either side. Above 0.38 of the stream's rate (570 Hz at
48 kHz) nothing is measured.

Ten values a second fit into ten hops: the value in hop 10 s + k - 1 belongs to multiple k, in the window of the two
seconds before second s. In `mains_hz` hop 10 s holds the fundamental seen near 50 Hz, hop 10 s + 1 the one near 60.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from replay.compiled import kernel
from replay.lanes import LANES, load, rows_of_zeros, store
from replay.meters import bands
from replay.meters.model import Column
from replay.take.block import Block

NAME = "mains"
COLUMNS = (
    Column("mains_50", "mean square", 100, "f4", "square"),
    Column("mains_50_beside", "mean square", 100, "f4", "square"),
    Column("mains_60", "mean square", 100, "f4", "square"),
    Column("mains_60_beside", "mean square", 100, "f4", "square"),
    Column("mains_hz", "Hz", 100, "f4", "same"),
)

FUNDAMENTALS = (50.0, 60.0)
MULTIPLES = 9
PER_SECOND = 10
WINDOW_S = 2.0
TOLERANCE = 0.006
BESIDE_HZ = (3.0, 9.0)
USABLE = 0.38


@kernel
def _lines(spectrum, width, usable, fundamentals, found):
    """Lines of one track: `spectrum` holds powers of bins `width` Hz apart; `found` (families, 3, 10) gets line,
    beside, and in its last row the fundamental in Hz (place 0)."""
    for family in range(len(fundamentals)):
        best = 0.0
        hz = 0.0
        for k in range(1, MULTIPLES + 1):
            centre = fundamentals[family] * k
            line = 0.0
            beside = 0.0
            if centre + BESIDE_HZ[1] < usable:
                first = int(np.ceil(centre * (1 - TOLERANCE) / width))
                last = int(np.floor(centre * (1 + TOLERANCE) / width))
                place = first
                for bin in range(first, last + 1):
                    if spectrum[bin] > line:
                        line = spectrum[bin]
                        place = bin
                count = 0
                inner = max(BESIDE_HZ[0], centre * TOLERANCE + 2.5 * width)
                outer = inner + BESIDE_HZ[1] - BESIDE_HZ[0]
                for side in (-1, 1):
                    near = centre + side * inner
                    far = centre + side * outer
                    for bin in range(int(np.ceil(min(near, far) / width)), int(np.floor(max(near, far) / width)) + 1):
                        beside += spectrum[bin]
                        count += 1
                beside = beside / max(count, 1)
                if k <= 6 and line > best * beside and line > 0.0:
                    best = line / max(beside, 1e-30)
                    left, right = np.sqrt(spectrum[place - 1]), np.sqrt(spectrum[place + 1])
                    # A Hann window's main lobe: the offset from the ratio of both neighbours, good to 0.02 bins.
                    middle = np.sqrt(line)
                    offset = 0.0
                    if right > left:
                        offset = (2 * right - middle) / (right + middle)
                    elif left > 0.0:
                        offset = -(2 * left - middle) / (left + middle)
                    hz = (place + offset) * width / k
            found[family, 0, k - 1] = line
            found[family, 1, k - 1] = beside
        found[family, 2, 0] = hz


@kernel
def _all_lines(spectra, bins, width, usable, fundamentals, powers, found):
    """`_lines` of every track: `spectra` is complex (8, at least bins), `powers` scratch (bins,)."""
    for lane in range(LANES):
        total = 0.0
        for bin in range(bins):
            value = spectra[lane, bin]
            powers[bin] = value.real * value.real + value.imag * value.imag
            total += powers[bin]
        if total > 0.0:
            _lines(powers, width, usable, fundamentals, found[lane])


@kernel
def _take(new, kept, filled, values, place, line_50, beside_50, line_60, beside_60, hz):
    """Keep the `new` rows behind those `filled`, and write what belongs to the hop of a second at `place`."""
    for row in range(len(new)):
        store(kept, filled + row, load(new, row))
    for lane in range(LANES):
        line_50[lane] = values[lane, 0, 0, place]
        beside_50[lane] = values[lane, 0, 1, place]
        line_60[lane] = values[lane, 1, 0, place]
        beside_60[lane] = values[lane, 1, 1, place]
        hz[lane] = values[lane, place, 2, 0] if place < len(FUNDAMENTALS) else 0.0


class Meter:
    """Lines of the mains on eight tracks."""

    def __init__(self, rate: int) -> None:
        self._rate = bands.stream_rate(rate)
        self._length = round(WINDOW_S * self._rate)
        self._half = self._length // 2
        self._kept = rows_of_zeros(self._length + int(1.2 * self._rate) + 64)
        self._filled = 0
        self._hop = 0
        window = np.hanning(self._length + 1)[:-1]
        # A sine of amplitude a then gives a^2 / 2 at its bin.
        self._window = window * (np.sqrt(2.0) / window.sum())
        self._bins = min(int(self._rate * USABLE / (self._rate / self._length)) + 2, self._length // 2)
        self._values = np.zeros((LANES, len(FUNDAMENTALS), 3, PER_SECOND))
        self._powers = np.zeros(self._bins)
        self._fundamentals = np.array(FUNDAMENTALS)

    def feed(self, block: Block, out: dict[str, Any]) -> None:
        """One hop; needs the stream that `bands` hands on. Writes what the last whole second has shown."""
        new = out[bands.STREAM]
        _take(
            new, self._kept, self._filled, self._values, self._hop % PER_SECOND,
            out["mains_50"], out["mains_50_beside"], out["mains_60"], out["mains_60_beside"], out["mains_hz"],
        )  # fmt: skip
        self._filled += len(new)
        self._hop += 1
        if self._hop % PER_SECOND == 0:
            self._look()

    def _look(self) -> None:
        self._values[:] = 0.0
        if self._filled < self._length:
            return
        start = self._filled - self._length
        windowed = np.ascontiguousarray(self._kept[start : self._filled].T)
        windowed *= self._window
        spectra = np.fft.rfft(windowed)
        width = self._rate / self._length
        _all_lines(spectra, self._bins, width, self._rate * USABLE, self._fundamentals, self._powers, self._values)
        keep = self._length
        self._kept[:keep] = self._kept[self._filled - keep : self._filled].copy()
        self._filled = keep
