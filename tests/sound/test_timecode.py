from __future__ import annotations

import numpy as np
import pytest

from replay.sound.timecode import sounds_like_timecode

RATE = 48000


def biphase(bits_per_s: int, seconds: float, peak: float, edge: int = 0) -> np.ndarray:
    """Random bits as SMPTE ST 12-1 codes them: a change at every bit's border, and in the middle of every 1."""
    random = np.random.default_rng(3)
    half = RATE / bits_per_s / 2
    level, out, at = peak, [], 0.0
    while at < seconds * RATE:
        level = -level
        one = random.integers(2)
        for k in range(2):
            if k and one:
                level = -level
            stop = at + half
            out += [level] * (round(stop) - round(at))
            at = stop
    signal = np.array(out)
    return np.convolve(signal, np.ones(edge) / edge, "same") if edge else signal


@pytest.mark.parametrize("bits", [1920, 2000, 2400])
@pytest.mark.parametrize("peak", [1.0, 0.1, 0.01])
@pytest.mark.parametrize("edge", [0, 4])
def test_timecode_at_all_rates_and_levels(bits, peak, edge):
    assert sounds_like_timecode(biphase(bits, 0.1, peak, edge), RATE)


def test_a_part_of_it_is_enough():
    signal = np.concatenate([np.zeros(2400), biphase(2000, 0.05, 0.5)])
    assert sounds_like_timecode(signal, RATE)


@pytest.mark.parametrize(
    "signal",
    [
        np.zeros(4800),
        np.zeros(3),
        np.random.default_rng(1).normal(0, 0.2, 4800),  # noise: crest near 12 dB
        0.5 * np.sin(2 * np.pi * 110 * np.arange(4800) / RATE),  # a bass note: few changes
        0.5 * np.sign(np.sin(2 * np.pi * 200 * np.arange(4800) / RATE)),  # a square lead
        biphase(2000, 0.1, 0.0005),  # crosstalk at -66 dBFS hurts nobody
    ],
    ids=["silence", "nothing", "noise", "bass", "square", "far away"],
)
def test_what_is_no_timecode(signal):
    assert not sounds_like_timecode(signal, RATE)
