"""What the demo's instruments are made of: tones from tables, decays, plucked strings, noise, simple filters.

The demo must be the same to the byte wherever it is made, so sound is made from operations that every machine rounds
alike: table look-ups, sums and products. Vectorised sine, power and Fourier routines are avoided (their last bit
differs between processors), and noise comes from a generator's raw words (its distributions may change with numpy).

Conventions: signals are float32 arrays, one value a frame at RATE frames a second; lengths in frames unless a name
says seconds; frequencies in Hz.
"""

from __future__ import annotations

import math
import zlib
from functools import lru_cache

import numpy as np

RATE = 48000
TABLE = 8192
"""Frames of one stored period; reading without interpolation leaves errors below -75 dB, under any room's noise."""

Section = tuple[tuple[float, float, float], tuple[float, float, float]]
"""A second-order filter: numerator and denominator."""


def key(*parts: object) -> int:
    """A seed from names and numbers, the same on every machine.

    >>> key("kick", 1)
    1761611645
    """
    return zlib.crc32("/".join(str(part) for part in parts).encode())


def hertz(midi: float) -> float:
    """The frequency of a note number (69 is A4, 440 Hz)."""
    return round(440.0 * 2.0 ** ((midi - 69) / 12), 6)


class Noise:
    """White noise with an RMS of 1, near Gaussian (the sum of four uniform values), different for each seed."""

    def __init__(self, seed: int) -> None:
        self._words = np.random.PCG64(seed)

    def take(self, frames: int) -> np.ndarray:
        """The next `frames` values, float32."""
        if frames <= 0:
            return np.zeros(0, np.float32)
        quarters = self._words.random_raw(frames).view(np.uint16).reshape(-1, 4)
        total = quarters[:, 0].astype(np.int32)
        for column in (1, 2, 3):
            total += quarters[:, column]
        out = total.astype(np.float32)
        out -= np.float32(131070.0)
        # Four uniform values of 16 bits have a standard deviation of 2 x 65536 / sqrt(12).
        out *= np.float32(1 / 37837.2)
        return out


@lru_cache(maxsize=1)
def sine() -> np.ndarray:
    """One period of a sine, TABLE values, rounded so that no library's last bit shows."""
    values = np.array([math.sin(2 * math.pi * n / TABLE) for n in range(TABLE)])
    return np.rint(values * 2**30) / 2**30


def period(weights: tuple[float, ...], scatter: bool = False) -> np.ndarray:
    """One period of a tone with these weights of its harmonics (the first is the fundamental), peak 1.

    `scatter` starts them all elsewhere in their period, as strings and reeds do; else they pull together, as a throat.
    """
    index = np.arange(TABLE)
    table = np.zeros(TABLE)
    for number, weight in enumerate(weights, start=1):
        if weight:
            table += round(weight, 8) * sine()[(index * number + scatter * (number * number * 5063)) % TABLE]
    return table / np.abs(table).max()


def phase(frequency: float | np.ndarray, frames: int, start: float = 0.0) -> np.ndarray:
    """Positions in a table, int64, for a tone of this frequency (a constant, or one value a frame)."""
    steps = np.full(frames, TABLE / RATE) * frequency
    return (np.cumsum(steps) + start * TABLE).astype(np.int64) & (TABLE - 1)


def tone(frequency: float | np.ndarray, frames: int, start: float = 0.0) -> np.ndarray:
    """A sine."""
    return sine()[phase(frequency, frames, start)]


def decay(frames: int, t60: float) -> np.ndarray:
    """An exponential fall from 1, by 60 dB in `t60` seconds."""
    factors = np.full(frames, round(10.0 ** (-3.0 / (t60 * RATE)), 14))
    factors[:1] = 1.0
    return np.cumprod(factors)


def swell(frames: int, attack: float, release: float) -> np.ndarray:
    """A straight rise over `attack` seconds, 1, and a straight fall over the last `release` seconds."""
    steps = np.arange(frames)
    rise = (steps + 1) / max(1, round(attack * RATE))
    fall = (frames - steps) / max(1, round(release * RATE))
    return np.minimum(1.0, np.minimum(rise, fall))


def wobble(frames: int, rate: float, depth: float, after: float = 0.15) -> np.ndarray:
    """Vibrato: a factor on the frequency, one a frame, that sets in after `after` seconds."""
    onset = np.clip((np.arange(frames) - after * RATE) / (0.25 * RATE), 0.0, 1.0)
    return 1.0 + depth * onset * tone(rate, frames)


def low(frequency: float, q: float = 0.707) -> Section:
    """A low-pass of second order."""
    a, c = _angle(frequency, q)
    return _section(((1 - c) / 2, 1 - c, (1 - c) / 2), (1 + a, -2 * c, 1 - a))


def high(frequency: float, q: float = 0.707) -> Section:
    """A high-pass of second order."""
    a, c = _angle(frequency, q)
    return _section(((1 + c) / 2, -(1 + c), (1 + c) / 2), (1 + a, -2 * c, 1 - a))


def band(frequency: float, q: float) -> Section:
    """A band-pass with a gain of 1 at its middle."""
    a, c = _angle(frequency, q)
    return _section((a, 0.0, -a), (1 + a, -2 * c, 1 - a))


def _angle(frequency: float, q: float) -> tuple[float, float]:
    w = 2 * math.pi * frequency / RATE
    return math.sin(w) / (2 * q), math.cos(w)


def _section(b: tuple[float, float, float], a: tuple[float, float, float]) -> Section:
    rounded = [round(value / a[0], 12) for value in (*b, *a)]
    return (rounded[0], rounded[1], rounded[2]), (1.0, rounded[4], rounded[5])


def through(signal: np.ndarray, *sections: Section) -> np.ndarray:
    """The signal through filters, one after the other."""
    from scipy.signal import lfilter

    for b, a in sections:
        signal = lfilter(b, a, signal)
    return signal


def hiss(seed: int, frames: int, *sections: Section) -> np.ndarray:
    """Filtered noise with a peak of 1."""
    return level(through(Noise(seed).take(frames).astype(np.float64), *sections))


def level(signal: np.ndarray, peak: float = 1.0) -> np.ndarray:
    """The signal brought to a peak."""
    return signal * (peak / np.abs(signal).max())


def pluck(frequency: float, frames: int, t60: float, seed: int, softness: int = 2) -> np.ndarray:
    """A plucked string (Karplus and Strong): a period of noise that goes round through a short average, peak 1.

    `softness` averages that many frames of the noise before it starts: a thumb is softer than a plectrum. A whole
    round depends only on the round before, so each round is computed at once.
    """
    whole = RATE / frequency - 0.5
    length = int(whole)
    part = round(whole - length, 9)
    loss = round(10.0 ** (-3.0 / (frequency * t60)), 12)
    taps = (0.5 * (1 - part) * loss, 0.5 * loss, 0.5 * part * loss)
    start = np.zeros(length)
    burst = Noise(seed).take(length + softness).astype(np.float64)
    for shift in range(softness):
        start += burst[shift : shift + length]
    start -= start[np.arange(length) - max(1, length // 7)]  # plucked at a seventh of the string
    # The average of a round never leaves it, and would be heard as DC.
    start -= math.fsum(start.tolist()) / length
    out = np.zeros(frames + 2 * length + 2)
    out[2 : 2 + length] = start
    position = 2 + length
    while position < frames + 2 + length:
        back = position - length
        out[position : position + length] = (
            taps[0] * out[back : back + length]
            + taps[1] * out[back - 1 : back - 1 + length]
            + taps[2] * out[back - 2 : back - 2 + length]
        )
        position += length
    return level(out[2 : 2 + frames] * swell(frames, 0.0, 0.03))


def done(signal: np.ndarray) -> np.ndarray:
    """The signal as instruments hand it over: float32, which hides what filters may round differently."""
    return signal.astype(np.float32)
