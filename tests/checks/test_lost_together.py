"""Gaps on many tracks at once, where a track alone may rest by itself: told once with all that have them, or not."""

from __future__ import annotations

import numpy as np
import pytest

from replay.checks import dropout
from tests.checks.factory import RATE, Session, noted

LONG = 960
"""20 ms: on a track that rests on exact zero no gap by itself."""

Gap = tuple[float, int, float, float]


def session(gaps: dict[int, Gap], *, resting: tuple[int, ...] = ()) -> Session:
    """The good session with gaps; the tracks `resting` rest on exact zero for half the time besides, all play on."""
    made = Session()
    for number, gap in gaps.items():
        plan = made.tracks[number]
        plan.levels[:] = -20.0
        plan.totals, plan.events = {"sample_peak": 0.3}, noted("held", gap)
        if number in resting:
            plan.columns["held"] = np.full(plan.levels.size, 2400, np.uint32)
    return made


def gap(at: float = 20.0, length: int = LONG, frames: int = 0) -> Gap:
    return (at + frames / RATE, length, 0.0, 0.1)


def told(made: Session) -> list[tuple[str, tuple[int, ...]]]:
    return [(one.severity, one.tracks) for one in dropout.check(made.show())]


def test_a_resting_track_that_stops_when_others_lose_audio_is_told_with_them():
    # The bass' DI and the vocal's microphone never rest; the keys and a player do.
    made = session({5: gap(), 6: gap(frames=30), 7: gap(), 8: gap(frames=-30)}, resting=(6, 8))
    made.channels[8].update(kind="playback", use="must")
    assert told(made) == [("fault", (5, 6, 7, 8))]
    # Without the two there is nothing that many share, and one alone may rest.
    assert told(session({6: gap()}, resting=(6,))) == []


def test_three_sources_that_rest_do_not_stop_and_go_on_at_the_same_samples():
    assert told(session({1: gap(), 2: gap(), 6: gap()}, resting=(1, 2, 6))) == [("fault", (1, 2, 6))]


@pytest.mark.parametrize(
    ("gaps", "why"),
    [
        ({1: gap(), 2: gap()}, "two sources"),
        ({3: gap(), 4: gap(), 6: gap()}, "a pair is one source"),
        ({1: gap(), 2: gap(length=LONG + 200), 6: gap(length=LONG - 200)}, "other lengths"),
        ({1: gap(), 2: gap(frames=200), 6: gap(frames=400)}, "other moments"),
        ({1: gap(length=2 * RATE), 2: gap(length=2 * RATE), 6: gap(length=2 * RATE)}, "a rest of all"),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_rests_of_resting_tracks_are_none(gaps, why):
    assert told(session(gaps, resting=tuple(gaps))) == []


def test_a_few_steps_that_stand_still_by_chance_are_no_gap():
    """Takes of 16 bits recorded 30 dB too low: some tracks stand on one step for a millisecond, at once."""
    made = session(dict.fromkeys((1, 2, 6), (20.0, 40, 0.0, 8 * 2.0 ** (-15))))
    for number in (1, 2, 6):
        made.tracks[number].bits, made.tracks[number].totals = 16, {"sample_peak": 0.01}
    assert told(made) == []


def test_tracks_that_end_together_and_begin_anew_rest():
    # A stop of all, and then another loudness.
    made = session({1: gap(), 2: gap(), 6: gap()}, resting=(1, 2, 6))
    for number in (1, 2, 6):
        made.tracks[number].levels[200:] = -45.0
    assert told(made) == []


def test_what_was_silent_does_not_contradict_and_what_plays_on_does():
    made = session({number: gap() for number in range(1, 8)})
    made.silence(8)
    (found,) = dropout.check(made.show())
    assert found.message == (
        "Lost at the same time on all 7 tracks that sounded (1-7): 1 gap, the longest 20 ms at 0:20."
    )
    made = session({number: gap() for number in range(1, 9)})
    (found,) = dropout.check(made.show())
    assert found.message == "Lost on all 8 tracks at the same time: 1 gap, the longest 20 ms at 0:20."
    made = session({number: gap() for number in range(1, 8)})
    (found,) = dropout.check(made.show())
    assert found.message.startswith("Lost on 7 tracks at the same time (1-7): 1 gap")


def test_clicks_and_timecode_are_named_with_the_others_but_prove_nothing():
    made = session({1: gap(), 5: gap(), 7: gap(), 6: gap()})
    made.channels[6]["kind"] = "timecode"
    assert told(made) == [("fault", (1, 5, 6, 7))]
    made = session({1: gap(), 5: gap(), 6: gap()})
    made.channels[6]["kind"] = "timecode"
    assert [severity for severity, _ in told(made)] == ["warning", "warning"]
