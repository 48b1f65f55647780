"""Lines of the mains that run at the wrong speed, and notes that lie near them."""

from __future__ import annotations

import numpy as np
import pytest

from replay.evidence.off_mains import find_off_mains
from tests.checks.sick import RATE, SECONDS, healthy, music, noise, sines
from tests.tracks import measure_samples


def found(tmp_path, *tracks: np.ndarray, rate: int = RATE):
    measurements, made = measure_samples(tmp_path, *tracks, rate=rate)
    return find_off_mains(made, {one.track: one for one in measurements}, rate)


def hum(hz: float, level_db: float = -55.0) -> np.ndarray:
    """Five multiples, each lower than the one before."""
    return sines(hz, {1: level_db, 2: level_db - 3, 3: level_db - 5, 5: level_db - 9, 7: level_db - 14})


@pytest.mark.parametrize(
    ("real", "nominal", "ratio"),
    [
        (50.0 * 48 / 44.1, 50, 48 / 44.1),
        (49.9 * 48 / 44.1, 50, 48 / 44.1),
        (60.03 * 48 / 44.1, 60, 48 / 44.1),
        (50.12 * 44.1 / 48, 50, 44.1 / 48),
        (59.98 * 44.1 / 48, 60, 44.1 / 48),
    ],
)
def test_mains_of_the_wrong_rate_are_told_under_music(tmp_path, real, nominal, ratio):
    one = found(tmp_path, music() + noise(-85) + hum(real))[1]
    assert (one.nominal, one.ratio) == (nominal, pytest.approx(ratio, abs=1e-6))
    assert one.hz == pytest.approx(real, abs=0.02)


@pytest.mark.parametrize("hz", [50.0, 49.8, 60.0, 60.1, 55.0, 65.406, 46.249, 51.913, 58.27, 110.25, 100 * 48 / 44.1])
def test_mains_notes_and_what_has_even_multiples_only_are_not(tmp_path, hz):
    assert found(tmp_path, noise(-85) + hum(hz, -40.0)) == {}


def test_healthy_tracks_silence_noise_and_one_line_alone(tmp_path):
    rumble = np.cumsum(noise(-60, 3))
    rumble -= np.convolve(rumble, np.ones(4801) / 4801, "same")
    alone = noise(-85) + sines(54.42, {1: -45})
    short_lived = music() + noise(-85) + hum(54.42) * (np.arange(SECONDS * RATE) < 8 * RATE)
    assert found(tmp_path, healthy(), np.zeros(SECONDS * RATE), noise(-60), rumble, alone, short_lived) == {}
