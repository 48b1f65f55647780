"""The line check found in histories made by hand: who sounds alone, in which order, and what fools it."""

from __future__ import annotations

import numpy as np
import pytest

from replay.evidence.speaking import LineCheck, find_line_check

FLOOR = -75.0
OWN = -20.0
BLEED = -45.0
TURN, GAP = 25, 12
"""100 ms hops of a turn, and of the pause behind it."""


class Stage:
    """Levels (tracks, hops) to be: everything adds up over a noise floor."""

    def __init__(self, tracks: int, seconds: float, seed: int = 1) -> None:
        self.rng = np.random.default_rng(seed)
        self.power = 10 ** ((FLOOR + self.rng.normal(0, 0.5, (tracks, round(seconds * 10)))) / 10)

    def sound(self, start: int, hops: int, own: list[int], level: float = OWN, bleed: float = BLEED) -> None:
        """A source heard by `own` closely, by all others as bleed."""
        shape = level + self.rng.normal(0, 2.0, hops)
        for row in range(len(self.power)):
            loss = 0.0 if row in own else bleed - OWN + self.rng.uniform(-4, 4)
            self.power[row, start : start + hops] += 10 ** ((shape + loss) / 10)

    def music(self, start: int, hops: int, rows: list[int] | None = None) -> None:
        for row in range(len(self.power)) if rows is None else rows:
            for at in range(start, start + hops - 5, 4):
                if self.rng.random() < 0.8:
                    self.sound(at, 5, [row], OWN + self.rng.uniform(-4, 4))

    def turns(self, order: list[list[int]], start: int = 10, level: float = OWN) -> int:
        for own in order:
            self.sound(start, TURN, own, level)
            start += TURN + GAP
        return start

    def found(self, within_s: tuple[float, float] | None = None) -> LineCheck | None:
        numbers = tuple(range(1, len(self.power) + 1))
        return find_line_check(numbers, 10 * np.log10(self.power), within_s)


def order_of(line_check: LineCheck | None) -> list[int]:
    assert line_check is not None
    return [turn.tracks[0] for turn in line_check.turns]


def test_one_after_another_before_the_songs() -> None:
    stage = Stage(8, 100)
    end = stage.turns([[row] for row in range(8)])
    stage.music(end + 40, 500)
    line_check = stage.found()
    assert order_of(line_check) == [1, 2, 3, 4, 5, 6, 7, 8]
    assert line_check is not None
    for place, turn in enumerate(line_check.turns):
        true = (10 + place * (TURN + GAP)) / 10
        assert turn.start_s == pytest.approx(true, abs=0.5)
        assert turn.stop_s == pytest.approx(true + TURN / 10, abs=0.5)
        assert turn.margin_db == pytest.approx(OWN - BLEED, abs=6)


@pytest.mark.parametrize("seed", range(5))
def test_music_alone_is_no_line_check(seed: int) -> None:
    stage = Stage(10, 120, seed)
    stage.music(20, 1100)
    assert stage.found() is None


def test_soloists_one_after_another_over_the_band_are_no_line_check() -> None:
    stage = Stage(10, 120)
    stage.music(20, 1100, [0, 1, 2, 3, 4])
    for place in range(5):
        stage.sound(100 + place * 150, 100, [5 + place], OWN + 3)
    assert stage.found() is None


def test_gains_do_not_matter() -> None:
    stage = Stage(8, 100)
    end = stage.turns([[row] for row in range(8)])
    stage.music(end + 40, 500)
    before = order_of(stage.found())
    stage.power *= 10 ** (np.linspace(-12, 12, 8) / 10)[:, None]
    assert order_of(stage.found()) == before


def test_pauses_repeats_and_skipped_sources() -> None:
    stage = Stage(8, 130)
    order = [[0], [1], [1], [2], [1], [2], [4], [5], [6], [7]]
    end = stage.turns(order[:5])
    end = stage.turns(order[5:], end + 120)
    stage.music(end + 40, 500)
    found = order_of(stage.found())
    assert [one for one in found if one != 2][:2] == [1, 3]
    assert found[-5:] == [3, 5, 6, 7, 8]
    assert 4 not in found


def test_talk_between_the_turns_has_turns_of_its_own() -> None:
    stage = Stage(9, 130)
    now = 10
    for row in range(8):
        stage.sound(now, TURN, [row])
        stage.sound(now + TURN + 3, 15, [8])
        now += TURN + 25
    stage.music(now + 40, 500)
    assert [one for one in order_of(stage.found()) if one != 9] == [1, 2, 3, 4, 5, 6, 7, 8]


def test_one_voice_into_all_microphones() -> None:
    stage = Stage(8, 100)
    end = stage.turns([[row] for row in range(8)], level=OWN - 6)
    stage.music(end + 40, 500)
    assert order_of(stage.found()) == [1, 2, 3, 4, 5, 6, 7, 8]


def test_tracks_of_noise_do_not_speak() -> None:
    stage = Stage(10, 100)
    end = stage.turns([[row] for row in range(8)])
    stage.music(end + 40, 500, list(range(8)))
    stage.power[8:] = 10 ** ((-70 + stage.rng.normal(0, 0.3, stage.power[8:].shape)) / 10)
    assert order_of(stage.found()) == [1, 2, 3, 4, 5, 6, 7, 8]


def test_ambience_speaks_with_everything_and_never_leads() -> None:
    stage = Stage(9, 100)
    end = stage.turns([[row, 8] for row in range(8)])
    stage.music(end + 40, 500)
    assert order_of(stage.found()) == [1, 2, 3, 4, 5, 6, 7, 8]


def test_microphones_on_one_source_share_its_turn() -> None:
    stage = Stage(8, 100)
    end = stage.turns([[0, 1], [2], [3], [4, 5], [6], [7]])
    stage.music(end + 40, 500)
    line_check = stage.found()
    assert line_check is not None
    assert [set(turn.tracks) for turn in line_check.turns] == [{1, 2}, {3}, {4}, {5, 6}, {7}, {8}]


def test_the_part_that_the_patch_states_is_looked_at_alone() -> None:
    stage = Stage(8, 150)
    end = stage.turns([[row] for row in range(8)])
    stage.turns([[row] for row in reversed(range(8))], end + 200)
    found = stage.found((0.0, end / 10))
    assert order_of(found) == [1, 2, 3, 4, 5, 6, 7, 8]


def test_silence_and_too_few_tracks() -> None:
    assert find_line_check((), np.zeros((0, 100))) is None
    assert find_line_check((1, 2), np.full((2, 100), -np.inf)) is None
    assert find_line_check(tuple(range(8)), np.full((8, 300), np.nan)) is None
