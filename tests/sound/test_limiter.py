from __future__ import annotations

import numpy as np
import pytest

from replay.sound.limiter import Limiter


def limited(signal: np.ndarray, cuts: list[int], ceiling: float = 0.3) -> np.ndarray:
    limiter = Limiter(48000, ceiling)
    parts = [limiter.feed(part) for part in np.split(signal, cuts)]
    return np.concatenate([*parts, limiter.rest()])


@pytest.mark.parametrize("cuts", [[], [1, 2, 3], [4800, 9600], [239, 240, 241, 20000]])
def test_quiet_signals_pass_to_the_bit(cuts):
    signal = np.random.default_rng(1).uniform(-0.29, 0.29, (24000, 2))
    assert np.array_equal(limited(signal, cuts), signal)


@pytest.mark.parametrize("seed", range(20))
def test_nothing_passes_the_ceiling_and_both_sides_move_together(seed):
    random = np.random.default_rng(seed)
    signal = random.normal(0, 0.2, (48000, 2))
    signal[:, 1] = signal[:, 0] * 0.5
    for at in random.integers(0, 48000, 10):
        signal[at] *= 100
    out = limited(signal, sorted(random.integers(0, 48000, 7)))
    assert len(out) == len(signal)
    assert np.abs(out).max() <= 0.3
    below = np.abs(out[:, 0]) < 0.299
    assert out[below, 1] == pytest.approx(out[below, 0] * 0.5)


def test_it_recovers_by_20_db_a_second():
    signal = np.full((3 * 48000, 1), 0.01)
    signal[1000] = 30.0  # 40 dB above the ceiling
    out = limited(signal, [])
    gain = out[:, 0] / 0.01
    assert gain[1250] == pytest.approx(0.01, rel=0.05)
    assert gain[1200 + 48000] == pytest.approx(0.1, rel=0.05)
    assert gain[1200 + 2 * 48000 + 500] == 1.0
