"""The burst by which a track names itself, and reading the number out of one.

A burst is a sine of the track's own pitch: 400 ms steady at -30 dBFS, then the number as ten bits and a parity bit,
40 ms each, highest first: 1 is the full level, 0 is 12 dB less. A burst takes 840 ms and one comes every second, so
that meters rise one by one. Pitches lie a quarter tone apart over four octaves from 200 Hz and then begin again; pitch
and number must agree, or nothing is told. All of this is a convention of this program.
"""

from __future__ import annotations

import math

import numpy as np

from replay.units import amplitude

LEVEL_DBFS = -30.0
LOWEST_HZ = 200.0
PITCHES = 96
STEADY_S = 0.4
BIT_S = 0.04
BITS = 10
LENGTH_S = STEADY_S + (BITS + 1) * BIT_S
EVERY_S = 1.0
LARGEST_NUMBER = 2**BITS - 1
_ZERO_DB = -12.0
_EDGE_S = 0.004

_ONE = (0.6, 1.6)
_ZERO = (0.12, 0.4)
"""Levels of bits against the steady part; what lies between is no bit."""


def pitch(number: int) -> float:
    """The pitch of a track in Hz.

    >>> round(pitch(1)), round(pitch(25)), round(pitch(97))
    (200, 400, 200)
    """
    return LOWEST_HZ * 2 ** (((number - 1) % PITCHES) / 24)


def _bits(number: int) -> list[int]:
    bits = [number >> place & 1 for place in range(BITS - 1, -1, -1)]
    return [*bits, sum(bits) % 2]


def burst(number: int, rate: int) -> np.ndarray:
    """The burst of a track (1 to LARGEST_NUMBER): float64, LENGTH_S long."""
    frames = round(LENGTH_S * rate)
    time = np.arange(frames) / rate
    # Levels change over the edges in straight lines, which click little and keep the bits apart.
    marks, levels = [0.0, _EDGE_S], [0.0, 1.0]
    before = 1.0
    for place, bit in enumerate(_bits(number)):
        at, level = STEADY_S + place * BIT_S, 1.0 if bit else amplitude(_ZERO_DB)
        marks += [at, at + _EDGE_S]
        levels += [before, level]
        before = level
    marks += [LENGTH_S - _EDGE_S, LENGTH_S]
    levels += [before, 0.0]
    return amplitude(LEVEL_DBFS) * np.interp(time, marks, levels) * np.sin(2 * math.pi * pitch(number) * time)


def numbers_in(samples: np.ndarray, rate: int) -> tuple[int, ...]:
    """The numbers of the bursts in a track's samples (float64, one dimension), in order of time, each once."""
    found = []
    for start, stop in _clusters(samples, rate):
        number = _number(samples[max(0, start - rate // 10) : stop + rate // 10], rate)
        if number is not None and number not in found:
            found.append(number)
    return tuple(found)


def _clusters(samples: np.ndarray, rate: int) -> list[tuple[int, int]]:
    """Stretches of sound about as long as a burst, parted by 70 ms or more that are 20 dB below the loudest."""
    cell = max(1, rate // 100)
    cells = len(samples) // cell
    if cells == 0:
        return []
    levels = np.sqrt((samples[: cells * cell].reshape(cells, cell) ** 2).mean(axis=1))
    loud = np.flatnonzero(levels > max(float(levels.max()) * amplitude(-20.0), 1e-6))
    if len(loud) == 0:
        return []
    runs = np.split(loud, np.flatnonzero(np.diff(loud) > 7) + 1)
    about = range(round((LENGTH_S - 0.06) * 100), round((LENGTH_S + 0.1) * 100))
    return [(int(run[0]) * cell, int(run[-1] + 1) * cell) for run in runs if run[-1] + 1 - run[0] in about]


def _number(part: np.ndarray, rate: int) -> int | None:
    """The number of the one burst in a stretch; None where it is none, or does not agree with itself."""
    cell = max(1, rate // 1000)
    coarse = np.abs(part[: len(part) // cell * cell]).reshape(-1, cell).max(axis=1)
    # A first guess of the onset, good enough to look at the steady part's pitch.
    guess = int(np.argmax(coarse > coarse.max() / 3)) * cell
    steady = part[guess + rate // 20 : guess + round((STEADY_S - 0.05) * rate)]
    hertz = _frequency(steady, rate)
    if hertz is None:
        return None
    step = 24 * math.log2(hertz / LOWEST_HZ)
    if abs(step - round(step)) > 0.25 or not 0 <= round(step) < PITCHES:
        return None
    time = np.arange(len(part)) / rate
    turned = part * np.exp(-2j * math.pi * hertz * time)
    window = max(1, rate // 100)
    sums = np.concatenate([[0], np.cumsum(turned)])
    envelope = 2 * np.abs(sums[window:] - sums[:-window]) / window  # centred half a window later
    level = float(np.median(envelope[guess + rate // 20 : guess + round((STEADY_S - 0.05) * rate)]))
    if level <= 0:
        return None
    onset = int(np.argmax(envelope > level / 2)) + window // 2 - round(_EDGE_S * rate / 2)
    bits = []
    for place in range(BITS + 1):
        middle = onset + round((STEADY_S + (place + 0.5) * BIT_S + _EDGE_S / 2) * rate) - window // 2
        around = envelope[middle - rate // 200 : middle + rate // 200]
        if len(around) == 0:
            return None
        share = float(around.mean()) / level
        if _ONE[0] <= share <= _ONE[1]:
            bits.append(1)
        elif _ZERO[0] <= share <= _ZERO[1]:
            bits.append(0)
        else:
            return None
    number = int("".join(map(str, bits[:-1])), 2)
    if number == 0 or sum(bits[:-1]) % 2 != bits[-1] or (number - 1) % PITCHES != round(step):
        return None
    return number


def _frequency(samples: np.ndarray, rate: int) -> float | None:
    """The strongest partial between 150 Hz and 4 kHz, by a parabola through the logarithmic spectrum."""
    if len(samples) < rate // 10:
        return None
    size = 1 << (4 * len(samples)).bit_length()
    spectrum = np.abs(np.fft.rfft(samples * np.hanning(len(samples)), size))
    low, high = int(150 * size / rate), int(4000 * size / rate)
    peak = low + int(np.argmax(spectrum[low:high]))
    around = spectrum[peak - 1 : peak + 2]
    if around.min() <= 0:
        return None
    left, middle, right = np.log(around)
    bend = left - 2 * middle + right
    return (peak + (0.5 * (left - right) / bend if bend else 0.0)) * rate / size
