"""Noise floor and time active, from hops' mean squares as their docstrings say them."""

from __future__ import annotations

import numpy as np
import pytest

from replay.meters.active import active
from replay.meters.noise_floor import noise_floor


def rms(*levels: float) -> np.ndarray:
    """Mean squares of levels in dBFS RMS (a full-scale sine, mean square 0.5, is 0)."""
    return 0.5 * 10 ** (np.array(levels) / 10)


class TestNoiseFloor:
    def test_the_fifth_percentile(self) -> None:
        # Twenty-one values: rank 0.05 x 20 = 1, the second-lowest.
        values = np.arange(1.0, 22.0)
        assert noise_floor(np.random.default_rng(1).permutation(values)) == 2.0

    @pytest.mark.parametrize(("count", "exists"), [(0, False), (1, False), (19, False), (20, True)])
    def test_twenty_hops_are_needed(self, count: int, exists: bool) -> None:
        assert (noise_floor(np.full(count, 0.25)) is not None) is exists

    def test_exact_silence_is_no_floor(self) -> None:
        assert noise_floor(np.concatenate([np.zeros(500), np.full(20, 0.25)])) == 0.25
        assert noise_floor(np.concatenate([np.zeros(500), np.full(19, 0.25)])) is None
        assert noise_floor(np.zeros(500)) is None


class TestActive:
    def test_a_steady_tone_is_always_active(self) -> None:
        assert active(rms(*[-20.0] * 100)).all()

    def test_a_drone_that_breathes_is_active_where_it_is_within_6_db_of_its_loud_level(self) -> None:
        levels = [-20.0, -24.0, -25.9, -26.5] * 50
        assert active(rms(*levels)).tolist() == [level > -26 for level in levels]

    def test_hits_in_a_quiet_room(self) -> None:
        levels = np.full(300, -75.0)
        levels[::10] = -25.0
        levels[1::10] = -63.5
        levels[2::10] = -62.0
        # The floor is -75: from -63 on, but never below -60, something plays.
        assert active(rms(*levels)).tolist() == [level == -25 for level in levels]

    def test_hits_over_a_loud_floor_stand_12_db_over_it(self) -> None:
        levels = np.full(300, -50.0)
        levels[::10] = -20.0
        levels[1::10] = -37.9
        levels[2::10] = -38.1
        assert active(rms(*levels)).tolist() == [level > -38 for level in levels]

    def test_silence_is_never_active(self) -> None:
        assert not active(np.zeros(100)).any()
        assert not active(rms(*[-61.0] * 100)).any()

    def test_without_a_floor_60_dbfs_decides(self) -> None:
        assert active(rms(-61.0, -59.9, -10.0)).tolist() == [False, True, True]

    def test_nothing(self) -> None:
        assert active(np.zeros(0)).tolist() == []
