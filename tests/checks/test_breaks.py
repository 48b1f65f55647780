"""Clicks and clock slips: where they must be told, and where they must keep quiet."""

from __future__ import annotations

import numpy as np
import pytest

from replay.checks import click, clock_slip
from replay.checks.shared import breaks
from replay.checks.shared.instants import Instant, apart, together
from tests.checks.factory import RATE, Session, noted

STRONG = (0.05, 0.001)
WEAK = (0.004, 0.001)


def clicked(*times: float, size: tuple[float, float] = STRONG) -> np.ndarray:
    return noted("click", *((at, 1, *size) for at in times))


def level(session: Session, number: int) -> None:
    """A track that plays on at one level, so that a break is no onset."""
    session.tracks[number].levels[:] = -20.0


class TestClick:
    def test_two_are_a_warning_with_their_times(self):
        session = Session()
        level(session, 5)
        session.tracks[5].events = clicked(12.0, 40.0)
        (found,) = click.check(session.show())
        assert (found.severity, found.confidence, found.channels) == ("warning", "likely", (5,))
        assert found.message == "2 clicks up to -26.0 dBFS, at 0:12 and 0:40."
        assert found.action == "Listen there; check cable, connection and converter at riser 5."

    def test_one_is_a_note(self):
        session = Session()
        level(session, 5)
        session.tracks[5].events = clicked(12.0)
        assert [one.severity for one in click.check(session.show())] == ["note"]

    def test_on_a_player_it_may_be_in_the_programme(self):
        session = Session()
        level(session, 6)
        session.channels[6]["kind"] = "playback"
        session.tracks[6].events = clicked(12.0, 40.0)
        (found,) = click.check(session.show())
        assert (found.severity, found.confidence) == ("note", "possible")

    def pair(self, left: tuple[float, ...], right: tuple[float, ...]) -> list:
        session = Session()
        for number, times in ((3, left), (4, right)):
            level(session, number)
            session.tracks[number].events = clicked(*times)
        return list(click.check(session.show()))

    def test_what_both_sides_of_a_pair_have_at_once_is_told_once(self):
        (found,) = self.pair((12.0, 40.0, 55.0), (12.0, 40.0 + 1 / RATE, 55.0))
        assert (found.severity, found.channels, found.amount) == ("warning", (3, 4), 3.0)
        assert found.message == "3 clicks on both sides at once up to -26.0 dBFS, at 0:12, 0:40 and 0:55."
        assert found.action.startswith("Listen there; if the source did not make it, look at the clock of the device")

    def test_a_side_of_a_pair_with_clicks_of_its_own_is_told_by_itself(self):
        found = self.pair((12.0, 40.0), (12.0, 23.0, 31.0, 40.0))
        assert [(one.channels, one.amount) for one in found] == [((3,), 2.0), ((4,), 4.0)]

    @pytest.mark.parametrize(
        "events",
        [
            clicked(12.0, 40.0, size=WEAK),
            clicked(12.0, 40.0, size=(0.0005, 0.0)),
            # An edge every 10 ms is a tone of 100 Hz.
            clicked(*np.arange(10.0, 12.0, 0.01)),
            np.concatenate([clicked(12.0, 40.0), noted("held", (12.0, 48, 0.0, 0.1), (40.001, 48, 0.0, 0.1))]),
            np.concatenate([clicked(12.0, 40.0), noted("clip-run", (12.0, 4, 1.0, 0), (40.0, 4, 1.0, 0))]),
        ],
        ids=["weak", "small", "a tone with edges", "edges of gaps", "edges of clips"],
    )
    def test_quiet(self, events):
        session = Session()
        level(session, 5)
        session.tracks[5].events = events
        assert list(click.check(session.show())) == []

    @pytest.mark.parametrize(("size", "reached", "times"), [(0.1, 1.0, 0), (0.1, 0.9, 2), (0.6, 1.0, 2)])
    def test_tops_too_short_for_a_clip_run_are_none(self, size: float, reached: float, times: int):
        """On a track that clips elsewhere. What lies below its clips, or is larger than a bend, is a click."""
        session = Session()
        level(session, 5)
        plan = session.tracks[5]
        plan.events = np.concatenate(
            [clicked(12.0, 40.0, size=(size, 0.001)), noted("clip-run", (20.0, 4, 1.0, 0), (30.0, 4, -1.0, 0))]
        )
        plan.columns["high"] = np.full(plan.levels.size, reached)
        assert [one.amount for one in click.check(session.show())] == ([times] if times else [])

    @pytest.mark.parametrize(
        ("length", "size", "reached", "times"),
        [(2, 0.04, 0.7, 0), (1, 0.04, 0.7, 2), (2, 0.08, 0.7, 2), (2, 0.04, 0.6, 2)],
    )
    def test_bends_of_the_highest_tops_are_none(self, length: int, size: float, reached: float, times: int):
        """What lies at no top, is larger than a bend, or lies where the track is not at its loudest, is a click."""
        session = Session()
        level(session, 5)
        plan = session.tracks[5]
        plan.events = noted("click", *((at, length, size, 0.001) for at in (12.0, 40.0)))
        plan.columns["high"] = np.full(plan.levels.size, reached)
        plan.columns["high"][50] = 0.7
        assert [one.amount for one in click.check(session.show())] == ([times] if times else [])

    def test_an_onset_is_none(self):
        session = Session()
        level(session, 5)
        session.tracks[5].levels[:300] = -60.0
        session.tracks[5].events = clicked(30.0)
        assert list(click.check(session.show())) == []

    def sharp(self, *late_s: float) -> Session:
        """Two sharp sounds that reach the kick's, the bass' and the vocal's microphone so much later."""
        session = Session()
        for number, late in zip((1, 5, 7), late_s, strict=True):
            level(session, number)
            session.tracks[number].events = clicked(12.0 + late, 40.0 + late, size=(0.05, 0.008 if late else 0.001))
        return session

    def test_what_microphones_hear_one_after_the_other_is_a_sound_in_the_room(self):
        # 3 and 5 m away; there it is 6 times as sharp as what surrounds it.
        assert list(click.check(self.sharp(0.0, 0.009, 0.015).show())) == []

    def test_what_two_hear_or_three_at_far_moments_is_told(self):
        session = self.sharp(0.0, 0.009, 0.015)
        session.tracks[7].events = clicked()
        assert [one.channels for one in click.check(session.show())] == [(1,)]
        # 0.5 s and 1 s later is no distance in a room.
        assert [one.channels for one in click.check(self.sharp(0.0, 0.5, 1.0).show())] == [(1,)]

    def test_off_channels_are_not_told(self):
        session = Session()
        level(session, 5)
        session.channels[5]["use"] = "off"
        session.tracks[5].events = clicked(12.0, 40.0)
        assert list(click.check(session.show())) == []


class TestClockSlip:
    def slipping(self, tracks: tuple[int, ...], *times: float) -> Session:
        session = Session()
        for place, number in enumerate(tracks):
            level(session, number)
            # One frame either way is the same instant.
            session.tracks[number].events = clicked(*(at + (place % 2) / RATE for at in times), size=WEAK)
        return session

    def test_weak_breaks_at_the_same_instants_are_one_finding(self):
        found = list(clock_slip.check(self.slipping((1, 5, 7), 10.0, 20.0, 30.0, 40.0).show()))
        assert len(found) == 1
        assert (found[0].severity, found[0].tracks, found[0].amount) == ("fault", (1, 5, 7), 4.0)
        assert found[0].message == (
            "The same break shows on 3 tracks at once (1, 5, 7), at 4 instants (4 a minute), the first at 0:10, the "
            "last at 0:40; they come evenly, as from two clocks 2.1 ppm apart."
        )

    def test_one_instant_is_a_warning(self):
        (found,) = clock_slip.check(self.slipping((1, 5, 7), 10.0).show())
        assert (found.severity, found.message) == (
            "warning",
            "The same break shows on 3 tracks at once (1, 5, 7), at 0:10.",
        )

    def test_a_pair_is_one_source(self):
        assert list(clock_slip.check(self.slipping((3, 4, 7), 10.0, 20.0).show())) == []

    def test_a_player_is_one_source(self):
        session = self.slipping((1, 5, 7), 10.0, 20.0)
        session.channels[1]["kind"] = session.channels[5]["kind"] = "playback"
        assert list(clock_slip.check(session.show())) == []

    def test_two_frames_apart_is_another_instant(self):
        session = self.slipping((1, 5, 7), 10.0, 20.0)
        session.tracks[7].events["start"] += 3
        assert list(clock_slip.check(session.show())) == []

    def test_waves_of_a_tone_that_arrive_in_step_are_none(self):
        # A trombone's 369 Hz: a break in every wave for a quarter of a second, at three microphones.
        session = self.slipping((1, 5, 7), *(10.0 + np.arange(92) * 130 / RATE))
        assert list(clock_slip.check(session.show())) == []

    def test_a_burst_is_told_where_eight_sources_share_it(self):
        session = Session()
        for number in (9, 10, 11):
            session.add_track(number)
        every = (1, 2, 3, 5, 6, 7, 8, 9, 10, 11)
        for number in every:
            level(session, number)
            session.tracks[number].events = clicked(*(10.0 + np.arange(12) * 0.011), size=WEAK)
        (found,) = clock_slip.check(session.show())
        assert (found.severity, found.tracks, found.amount) == ("fault", every, 12.0)

    def test_a_slip_that_shows_on_two_tracks_is_no_click_and_a_click_elsewhere_is(self):
        session = self.slipping((1, 5, 7), 10.0, 20.0, 30.0)
        for number in (1, 5):
            session.tracks[number].events = clicked(10.0, 20.0, 30.0, 35.0, 40.0)
        assert list(click.check(session.show())) == []
        session.tracks[5].events["start"][3:] += RATE
        assert [(found.channels, found.message) for found in click.check(session.show())] == [
            ((1,), "2 clicks up to -26.0 dBFS, at 0:35 and 0:40."),
            ((5,), "2 clicks up to -26.0 dBFS, at 0:36 and 0:41."),
        ]

    def test_no_click_is_told_beside_it(self):
        session = self.slipping((1, 5, 7), 10.0, 20.0, 30.0)
        for number in (1, 5, 7):
            session.tracks[number].events["value"] = 0.1
        assert list(click.check(session.show())) == []
        assert len(list(clock_slip.check(session.show()))) == 1


class TestTogether:
    def test_chance_is_reckoned_with(self):
        """4096 events on each of 24 tracks within a minute meet by chance; three on each do not."""
        rng = np.random.default_rng(1)
        many = {number: np.sort(rng.integers(0, 60 * RATE, 4096)) for number in range(24)}
        assert together(many, {n: n for n in many}, 1, 60 * RATE) == []
        few = {number: np.array([1000, 50_000, 99_000 + 7 * number]) for number in range(3)}
        assert together(few, {n: n for n in few}, 1, 60 * RATE) == [
            Instant(1000, (0, 1, 2)),
            Instant(50_000, (0, 1, 2)),
        ]

    def test_nothing(self):
        assert together({}, {}, 1, 100) == []

    def test_apart(self):
        assert apart(np.array([0, 10, 20]), [11, 40], 5).tolist() == [True, False, True]
        assert apart(np.array([0, 10]), [], 5).tolist() == [True, True]


def test_every_limit_of_breaks_is_a_limit_of_click():
    assert breaks.LIMITS.items() <= click.LIMITS.items()
