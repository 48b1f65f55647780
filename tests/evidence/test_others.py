"""Mixes of the other tracks, on histories made by hand."""

from __future__ import annotations

import numpy as np
import pytest

from replay.evidence import others
from replay.evidence.others import mixes
from tests.checks.histories import SOURCES, band, power


def stage(seed: int = 1, seconds: int = 180) -> tuple[tuple[int, ...], np.ndarray]:
    """The tracks of a band with bleed, one a row, numbered from 1."""
    heard = band(seconds, seed)
    return tuple(range(1, len(SOURCES) + 1)), np.array([heard[name] for name in SOURCES])


def bleed_of(levels: np.ndarray, *rows: int, down_db: float = -25.0, wander_db: float = 0.5) -> np.ndarray:
    """What a microphone hears of some tracks over a room at -72 dB; each way changes a little from moment to moment."""
    rng = np.random.default_rng(7)
    heard = sum(power(levels[row] + down_db - 2 * place + rng.normal(0, wander_db, levels.shape[1]))
                for place, row in enumerate(rows))  # fmt: skip
    return 10 * np.log10(heard + power(-72.0))


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_an_unused_microphone_is_a_mix_of_what_it_hears(seed):
    numbers, levels = stage(seed)
    one = mixes((*numbers, 9), np.vstack([levels, bleed_of(levels, 0, 1, 4)]))[9]
    # Each way wanders by 0.5 dB, so that their sum does by less.
    assert one.spread_db < 1.0
    assert one.upper_db < 2.0
    assert {number for number, _ in one.of} >= {1, 2}
    assert sum(share for _, share in one.of) == pytest.approx(1.0, abs=0.2)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_source_of_its_own_is_no_mix_of_the_others(seed):
    numbers, levels = stage(seed)
    found = mixes(numbers, levels)
    for name in ("vocal", "horn", "keys"):
        assert found[SOURCES.index(name) + 1].upper_db > 8, name


def test_one_song_in_which_somebody_sings_is_enough():
    numbers, levels = stage(seconds=600)
    unused = bleed_of(levels, 0, 1, 4)
    # Three seconds of 600: far less than one in twenty moments.
    sung = unused.copy()
    sung[300:330] = unused.max() + 5.0
    numbers = (*numbers, 9)
    assert mixes(numbers, np.vstack([levels, unused]))[9].upper_db < 2.0
    assert mixes(numbers, np.vstack([levels, sung]))[9].upper_db > 5.0
    sung[300:330] += 30.0
    assert 9 not in mixes(numbers, np.vstack([levels, sung])), "next to it nothing else is loud enough to say anything"


def test_a_second_microphone_is_a_mix_of_one():
    numbers, levels = stage()
    one = mixes((*numbers, 9), np.vstack([levels, levels[6] - 6.0]))[9]
    assert one.of[0][0] == 7
    assert one.of[0][1] > 0.9


def test_gain_and_order_do_not_matter():
    numbers, levels = stage()
    straight = mixes(numbers, levels)
    turned = mixes(numbers[::-1], levels[::-1] + np.linspace(-10, 10, len(numbers))[:, None])
    for number, one in straight.items():
        assert turned[number].spread_db == pytest.approx(one.spread_db, abs=0.02)
        assert turned[number].upper_db == pytest.approx(one.upper_db, abs=0.05)


def test_noise_silence_and_short_takes_are_no_mix():
    numbers, levels = stage()
    noise = np.random.default_rng(1).normal(-80, 0.2, levels.shape[1])
    found = mixes((*numbers, 9, 10, 11), np.vstack([levels, noise, noise * np.inf, noise * np.nan]))
    assert found.keys() == mixes(numbers, levels).keys()
    assert mixes(numbers, levels[:, :79]) == {}
    assert mixes(numbers[:2], levels[:2]) == {}
    assert mixes((), np.zeros((0, 0))) == {}


def test_missing_stretches_count_for_nothing():
    numbers, levels = stage()
    unused = bleed_of(levels, 0, 1, 4)
    unused[200:400] = np.nan
    levels[2, 500:700] = -np.inf
    assert mixes((*numbers, 9), np.vstack([levels, unused]))[9].spread_db < 1.0


def test_among_very_many_tracks_the_nearest_are_enough(monkeypatch):
    """A long row of tracks that have nothing to do with each other: what a microphone hears is found all the same."""
    monkeypatch.setattr(others, "AT_ONCE", 60)
    _, levels = stage(seed=2)
    strangers = np.random.default_rng(5).normal(-50, 8, (others.MOST_TRACKS, levels.shape[1]))
    rows = np.vstack([strangers[:60], levels, strangers[60:], bleed_of(levels, 0, 1, 4)])
    found = mixes(tuple(range(1, len(rows) + 1)), rows)
    one = found[len(rows)]
    assert one.upper_db < 2.0
    assert {number for number, _ in one.of} >= {61, 62}
    assert min(found[61 + SOURCES.index(name)].upper_db for name in ("vocal", "horn", "keys")) > 8
