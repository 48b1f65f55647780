"""Copies, pairs and strangers, from noise whose truth is known by arithmetic."""

from __future__ import annotations

import numpy as np
import pytest

from replay.evidence.likeness import candidates, compare, sum_up, together

RATE = 48000
FRAMES = 19200


def noise(seed: int, frames: int = FRAMES) -> np.ndarray:
    return np.random.default_rng(seed).standard_normal(frames).astype(np.float32) * np.float32(0.1)


def late(x: np.ndarray, frames: int) -> np.ndarray:
    out = np.zeros_like(x)
    if frames >= 0:
        out[frames:] = x[: len(x) - frames]
    else:
        out[:frames] = x[-frames:]
    return out


@pytest.mark.parametrize("lag", [0, 7, -12, 480, -1300])
@pytest.mark.parametrize("gain", [1.0, -0.5, 0.1])
def test_a_copy_is_found_with_its_delay_gain_and_polarity(lag: int, gain: float) -> None:
    x = noise(1)
    found = compare(x, late(x, lag) * np.float32(gain), RATE)
    assert found is not None
    assert found[0] == lag
    assert found[1] == pytest.approx(gain, rel=1e-4)
    assert found[2] == pytest.approx(1.0, abs=1e-6)
    assert found[3] is not None
    assert found[3] < -100


def test_a_low_note_is_found_at_its_true_delay() -> None:
    time = np.arange(FRAMES) / RATE
    x = (np.sin(2 * np.pi * 41.2 * time) * np.exp(-3 * time)).astype(np.float32)
    found = compare(x, late(x, 11) * np.float32(-0.4), RATE)
    assert found is not None
    assert found[0] == 11
    assert found[1] == pytest.approx(-0.4, rel=1e-4)
    assert found[3] is not None
    assert found[3] < -60


def test_two_microphones_are_no_copy() -> None:
    x = noise(1)
    other = late(x, 20) + noise(2) * np.float32(0.1)
    found = compare(x, other, RATE)
    assert found is not None
    assert found[0] == 20
    # One part in a hundred of other power leaves 20 dB.
    assert found[3] is None or found[3] == pytest.approx(-20, abs=0.5)


def test_strangers_have_nothing_in_common() -> None:
    found = compare(noise(1), noise(2), RATE)
    assert found is not None
    assert found[2] < 0.1
    assert found[3] is None


def test_silence_is_not_compared() -> None:
    assert compare(noise(1), np.zeros(FRAMES, np.float32), RATE) is None


def test_a_pair_that_is_mono_at_its_loudest_moment_is_no_copy() -> None:
    moments = [(0, 1.0, 1.0, -80.0)] * 5 + [(0, 0.9, 0.8, None)] * 3
    one = sum_up(3, 4, moments, RATE)
    assert one is not None
    assert one.residual_db is None
    assert (one.moments, one.asked, one.inverted) == (8, 8, False)


def test_the_majority_decides_on_polarity_at_the_common_delay() -> None:
    one = sum_up(3, 4, [(5, -0.8, 0.9, None)] * 6 + [(900, 0.4, 0.3, None)] * 2, RATE)
    assert one is not None
    assert one.inverted
    assert one.lag_s == pytest.approx(5 / RATE)
    assert (one.moments, one.asked) == (6, 8)
    assert one.gain_db == pytest.approx(20 * np.log10(0.8))


def test_rise_and_fall_that_go_together_are_candidates() -> None:
    rng = np.random.default_rng(1)
    base = rng.uniform(-40, 0, (4, 400))
    base[1] = base[0] + rng.normal(0, 2, 400)
    correlation = together(base)
    assert correlation[0, 1] > 0.9
    assert abs(correlation[0, 2]) < 0.3
    assert candidates(correlation) == [(0, 1)]


def test_dead_tracks_are_not_correlated() -> None:
    base = np.random.default_rng(1).uniform(-40, 0, (3, 400))
    base[2] = -np.inf
    assert np.isnan(together(base)[2, 0])


def test_a_low_note_whose_lag_was_missed_by_samples_hides_no_copy() -> None:
    one = sum_up(3, 4, [(10, -0.6, 1.0, -120.0)] * 9 + [(21, -0.6, 0.9999, -32.0)], RATE)
    assert one is not None
    assert one.residual_db == -120.0
    assert (one.moments, one.asked) == (10, 10)


def test_without_one_lag_the_worst_moment_counts() -> None:
    one = sum_up(
        3, 4, [(10, 0.6, 1.0, -120.0)] * 4 + [(21, 0.6, 0.9999, -32.0)] * 3 + [(31, 0.6, 0.9999, -33.0)] * 3, RATE
    )
    assert one is not None
    assert one.residual_db == -32.0
