from __future__ import annotations

import numpy as np
import pytest

from replay.stands_out import loudest, stand_out


def test_the_loudest_stretch():
    energy = np.zeros(600)
    energy[100] = 5.0  # one bang
    energy[300:380] = 1.0
    assert loudest(energy, 8.0) == 30.0
    assert loudest(energy, 0.1) == 10.0
    assert loudest(np.zeros(50), 8.0) == 0.0
    assert loudest(np.zeros(0), 8.0) == 0.0


def band() -> dict[int, np.ndarray]:
    """A quiet fiddle (1) and a loud drum (2), 30 dB apart. The drum's bleed is the loudest thing on the fiddle's track;
    the fiddle plays alone from 40 s on, at half the power of the bleed."""
    drum = np.full(600, 1e-9)
    drum[100:200] = 1.0
    fiddle = drum * 1e-3 + 1e-9
    fiddle[400:460] = 5e-4
    return {1: fiddle, 2: drum}


def test_the_loudest_may_be_bleed_and_is_not_chosen():
    energies = band()
    assert loudest(energies[1], 5.0) == 10.0
    assert stand_out(energies, [1], 5.0)[1] == pytest.approx(40.5, abs=0.51)
    assert 10.0 <= stand_out(energies, [2], 5.0)[2] <= 15.0


def test_a_moment_that_is_all_but_silent_is_not_chosen_however_alone_it_is():
    energies = band()
    # For a while the drum's track is off: the fiddle's noise is all there is, 57 dB below its playing.
    energies[2][500:] = 0.0
    assert stand_out(energies, [1], 5.0)[1] < 47.0


def test_a_partner_does_not_count():
    energies = band()
    energies[3] = energies[1] * 0.9
    energies[3][300:350] = 1e-5
    energies[1][300:350] = 4e-4
    # Against its partner the fiddle stands out where that is quiet; as its partner's twin it is where both play.
    assert stand_out(energies, [1], 5.0)[1] == pytest.approx(30.0, abs=0.5)
    energies[2][300:350] = 0.5
    assert stand_out(energies, [1], 5.0, {1: 3})[1] == pytest.approx(40.5, abs=0.51)


def test_silence_and_tracks_of_other_lengths():
    assert stand_out({1: np.zeros(100), 2: np.ones(300)}, [1], 5.0)[1] == 0.0
    energies = {1: np.concatenate([np.zeros(50), np.ones(20)]), 2: np.ones(300)}
    assert 4.0 <= stand_out(energies, [1], 1.0)[1] <= 6.9
    assert stand_out({1: np.ones(3)}, [1], 5.0)[1] == 0.0


def test_tracks_asked_for_together_have_the_moments_that_they_have_alone():
    energies = band()
    energies[3] = np.roll(energies[1], 150)
    apart = {1: 3, 3: 1}
    together = stand_out(energies, [1, 2, 3], 3.6, apart)
    assert together == {number: stand_out(energies, [number], 3.6, apart)[number] for number in (1, 2, 3)}
    assert together[3] != together[1]
