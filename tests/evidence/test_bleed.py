"""What a track hears of the others, on levels made by hand."""

from __future__ import annotations

import numpy as np
import pytest

from replay.evidence.bleed import at_rest

QUIET, STAGE, AGAIN = 60, 400, 60
"""100 ms hops of a silent room, of music, and of a silent room again."""
HOPS = QUIET + STAGE + AGAIN
TRACKS = 8


def stage(bleed_db: float | None, rests: bool = True) -> tuple[np.ndarray, np.ndarray]:
    """(levels, loud levels) of tracks that play in turns of a second at -20 dB over noise at -80.

    The last one hears its neighbour `bleed_db` below what that plays (None: nothing), whoever is further off 3 dB less
    each; it rests half of the time, or never.
    """
    rng = np.random.default_rng(3)
    power = np.full((TRACKS, HOPS), 1e-8)
    for row in range(TRACKS):
        for start in range(QUIET, QUIET + STAGE, 10):
            if (row == TRACKS - 1 and not rests) or rng.random() < 0.6:
                power[row, start : start + 10] += 10 ** ((-20 + rng.normal(0, 3, 10)) / 10)
    if bleed_db is not None:
        nearer = 10 ** ((bleed_db - 3 * np.arange(TRACKS - 2, -1, -1)) / 10)
        power[-1] += nearer @ power[:-1]
    return 10 * np.log10(power), np.full(TRACKS, -15.0)


def test_an_open_microphone_hears_a_loud_stage_and_follows_it() -> None:
    one = at_rest(*stage(-35.0))[TRACKS - 1]
    # Somebody within four tracks plays at -20 dB, and is heard 35 to 44 dB lower, over a room at -80.
    assert 16 - 6 < one.floor_db < 25 + 6
    assert one.follows is not None
    assert one.follows > 0.4


def test_a_direct_line_lies_at_its_own_noise_while_its_source_rests() -> None:
    one = at_rest(*stage(None))[TRACKS - 1]
    assert one.floor_db == pytest.approx(0, abs=0.5)


def test_a_line_that_never_rests_shows_nothing_of_the_others() -> None:
    one = at_rest(*stage(None, rests=False))[TRACKS - 1]
    assert one.floor_db > 45
    assert one.follows is None or one.follows < 0.4


def test_gain_does_not_matter() -> None:
    levels, loud = stage(-35.0)
    turned, up = levels.copy(), loud.copy()
    turned[-1] += 12.0
    up[-1] += 12.0
    before, after = at_rest(levels, loud)[TRACKS - 1], at_rest(turned, up)[TRACKS - 1]
    assert after.floor_db == pytest.approx(before.floor_db, abs=1e-9)
    assert after.follows == pytest.approx(before.follows, abs=1e-9)


def test_the_order_of_tracks_does_not_matter() -> None:
    levels, loud = stage(-35.0)
    turned = at_rest(levels[::-1], loud[::-1])
    for row, one in at_rest(levels, loud).items():
        assert turned[TRACKS - 1 - row].floor_db == one.floor_db


def test_without_a_quiet_room_or_a_stage_nothing_is_said() -> None:
    levels, loud = stage(-35.0)
    assert at_rest(levels[:, QUIET : QUIET + STAGE], loud) == {}
    assert at_rest(levels[:, :QUIET], loud) == {}
    assert at_rest(levels, np.full(TRACKS, -np.inf)) == {}
    assert at_rest(np.full((TRACKS, HOPS), np.nan), loud) == {}
    assert at_rest(np.zeros((0, 0)), np.zeros(0)) == {}


def test_digital_silence_and_missing_stretches_are_no_floor() -> None:
    levels, loud = stage(None)
    levels[-1, :QUIET] = -np.inf
    levels[-1, QUIET + 100 : QUIET + 120] = np.nan
    one = at_rest(levels, loud)[TRACKS - 1]
    assert np.isfinite(one.floor_db)
