"""Moved gains: floors of rests held against one another; music, expanders and applause move none."""

from __future__ import annotations

import numpy as np
import pytest

from replay.evidence.gain_moves import GainMove, gain_moves, in_step, own_moves, together
from tests.checks.sick import RATE, healthy, music, noise, sines, time
from tests.tracks import measure_samples


def _moves(folder, samples: np.ndarray) -> tuple[GainMove, ...]:
    [measurement], _ = measure_samples(folder, samples, encoding="s24")
    return gain_moves(measurement)


def _turned(samples: np.ndarray, *steps: tuple[float, float]) -> np.ndarray:
    out = samples.copy()
    for at, db in steps:
        out[round(at * RATE) :] *= 10 ** (db / 20)
    return out


@pytest.mark.parametrize("db", [-12, -4, 3, 9])
def test_a_preamp_turned_in_a_rest_is_seen_to_the_tenth_of_a_second(tmp_path, db):
    # The rest of `music` from 11 to 14 s.
    [move] = _moves(tmp_path, _turned(healthy() * 0.3, (12.5, db)))
    assert move.db == db
    assert move.at_s == pytest.approx(12.5, abs=0.3)
    assert move.first_s <= 12.6
    assert move.last_s >= 12.4


@pytest.mark.parametrize("db", [-8, 6])
def test_a_preamp_turned_in_a_song_is_seen_between_the_rests_about_it(tmp_path, db):
    [move] = _moves(tmp_path, _turned(healthy() * 0.3, (18.0, db)))
    assert move.db == db
    assert move.first_s <= 18.0 <= move.last_s
    assert move.first_s >= 13.0
    assert move.last_s <= 24.5


def test_two_moves_are_two(tmp_path):
    moves = _moves(tmp_path, _turned(healthy() * 0.3, (12.5, -6), (24.5, 4)))
    assert [(round(move.at_s), move.db) for move in moves] == [(12, -6), (24, 4)] or [
        (round(move.at_s), move.db) for move in moves
    ] == [(13, -6), (25, 4)]


def _muted(samples: np.ndarray, first_s: float, last_s: float, floor_db: float = -88) -> np.ndarray:
    """A radio's receiver with its own floor while the transmitter's switch is off."""
    return np.where((time() >= first_s) & (time() < last_s), noise(floor_db, 7), samples)


@pytest.mark.parametrize("db", [-6, 9])
def test_what_sounds_goes_with_a_preamp(tmp_path, db):
    [move] = _moves(tmp_path, _turned(healthy() * 0.3, (12.5, db)))
    assert move.loud_db == pytest.approx(db, abs=1.5)


@pytest.mark.parametrize(
    ("rests", "mute"),
    [
        pytest.param(((8, 20), (30, 36)), (10, 18), id="within a rest"),
        pytest.param(((8, 20), (30, 36)), (8.3, 19.9), id="all of a rest"),
        pytest.param(((0, 9), (20, 23), (34, 36)), (0, 8), id="before the first song"),
        pytest.param(((8, 20), (30, 36)), (7, 19.9, -82), id="from within a song, and an open rest only later"),
    ],
)
def test_what_sounds_does_not_go_with_a_radios_mute(tmp_path, rests, mute):
    moves = _moves(tmp_path, _muted(music(1, rests=rests) + noise(-72, 101), *mute))
    assert moves, "no step is seen, or this shows nothing"
    assert all(move.loud_db is None or abs(move.loud_db) < 4 for move in moves)


def test_noise_alone_shows_a_move_too(tmp_path):
    [move] = _moves(tmp_path, _turned(noise(-70), (18.0, 5)))
    assert (move.db, round(move.at_s, 0)) == (5, 18)


def _organ() -> np.ndarray:
    return sines(110, {k: -20 - 3 * k for k in range(1, 60)})


def _hum() -> np.ndarray:
    return sines(50, dict.fromkeys(range(1, 6), -50))


def _closing(samples: np.ndarray) -> np.ndarray:
    """An expander of 20 dB that opens for one second in three."""
    return samples * np.where(time() % 3 < 1.0, 1.0, 0.1)


@pytest.mark.parametrize(
    "sound",
    [
        pytest.param(lambda: healthy(), id="music"),
        pytest.param(lambda: noise(-70), id="noise"),
        pytest.param(lambda: np.zeros(RATE * 36), id="digital silence"),
        pytest.param(lambda: music() * np.where(time() < 18, 1.0, 0.4) + noise(-78), id="a quieter song"),
        pytest.param(
            lambda: sines(110, {k: -20 - 3 * k for k in range(1, 60)}) * np.where(time() < 18, 1, 0.4), id="organ"
        ),
        pytest.param(lambda: _closing(noise(-60)), id="an expander"),
        pytest.param(
            lambda: healthy() + np.where(time() < 18, 0, sines(50, dict.fromkeys(range(1, 6), -50))), id="a hum begins"
        ),
    ],
)
def test_what_else_steps_is_no_gain(tmp_path, sound):
    assert _moves(tmp_path, sound()) == ()


def test_a_short_take_shows_none(tmp_path):
    assert _moves(tmp_path, _turned(noise(-70, seconds=10), (5, 6))) == ()


def _move(track: int, at: float, db: float, about: float = 0.5) -> GainMove:
    return GainMove(track, at, db, at - about, at + about)


def test_what_many_tracks_do_at_once_is_nobodys_own_move():
    many = {number: (_move(number, 60.0 + 0.2 * number, -6.0),) for number in range(1, 6)}
    alone = {9: (_move(9, 200.0, -6.0),)}
    assert sorted(together(many, many[1][0])) == [1, 2, 3, 4, 5]
    assert own_moves({**many, **alone}, 12) == alone


def test_in_step_are_moves_of_one_size_that_may_be_at_one_moment():
    moves = {1: (_move(1, 60, -6, 5),), 2: (_move(2, 66, -6, 5),), 3: (_move(3, 60, -9, 5),), 4: (_move(4, 90, -6, 5),)}
    assert in_step(moves, moves[1][0]) == [1, 2]
