"""Clicks, clock slips, dropouts and flat tops: where they must be told, and where they must keep quiet."""

from __future__ import annotations

import numpy as np
import pytest

from replay.checks import click, clock_slip, dropout, flat_topped
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


class TestDropout:
    def test_a_gap_is_a_warning(self):
        session = Session()
        session.tracks[5].events = noted("held", (12.0, 480, 0.0, 0.1))
        session.tracks[5].totals = {"sample_peak": 0.3}
        (found,) = dropout.check(session.show())
        assert (found.severity, found.confidence, found.channels) == ("warning", "certain", (5,))
        assert found.message == "1 gap, the longest 10 ms at 0:12."

    def test_many_are_a_fault_and_kinds_are_counted(self):
        session = Session()
        session.tracks[5].totals = {"sample_peak": 0.3}
        session.tracks[5].events = np.concatenate(
            [
                noted("held", *((at, 48, 0.0, 0.1) for at in (3.0, 4.0)), (5.0, 96, 0.02, 0.1)),
                noted("repeat", (6.0, 512, 1, 0.01), (7.0, 512, 1, 0.01)),
            ]
        )
        (found,) = dropout.check(session.show())
        assert found.severity == "fault"
        assert found.message == (
            "2 gaps, 1 held value and 2 repeated blocks, the longest 11 ms at 0:06; first at 0:03."
        )

    def test_many_tracks_at_the_same_time_are_told_once(self):
        session = Session()
        for number in (1, 5, 7):
            session.tracks[number].totals = {"sample_peak": 0.3}
            session.tracks[number].events = noted("held", (12.0 + number / RATE, 480, 0.0, 0.1))
        (found,) = dropout.check(session.show())
        assert (found.severity, found.tracks, found.amount) == ("fault", (1, 5, 7), 1.0)
        assert found.message == "Lost on 3 tracks at the same time (1, 5, 7): 1 gap, the longest 10 ms at 0:12."

    def rested(self, *rests: tuple[float, int, float, float], more: int = 0) -> Session:
        """A vocal that stands still where nothing breaks off, and for `more` frames besides."""
        session = Session()
        plan = session.tracks[7]
        plan.totals, plan.events = {"sample_peak": 0.3}, noted("rest", *rests)
        plan.columns["held"] = np.zeros(plan.levels.size, np.uint32)
        plan.columns["held"][200] = sum(length for _, length, *_ in rests)
        plan.columns["held"][300] = more
        return session

    def test_a_preamp_never_stands_still(self):
        (found,) = dropout.check(self.rested((20.0, 2400, 0.07, 0.001)).show())
        assert (found.severity, found.channels) == ("warning", (7,))
        assert found.message == "1 held value, the longest 50 ms at 0:20."

    def test_a_gate_stands_still_often_and_a_player_as_it_likes(self):
        # 20 rests; 3 s of them; 0.2 s of rests beside them; steps at the foot of a fade; a player; a digital input.
        often = [(float(at), 960, 0.0, 0.001) for at in range(20, 40)]
        assert list(dropout.check(self.rested(*often).show())) == []
        assert list(dropout.check(self.rested((20.0, 3 * RATE, 0.0, 0.001)).show())) == []
        assert list(dropout.check(self.rested((20.0, 2400, 0.0, 0.001), more=9600).show())) == []
        assert list(dropout.check(self.rested((20.0, 2400, 0.0, 8 * 2.0**-23)).show())) == []
        for key, value in (("kind", "playback"), ("input", "digital")):
            session = self.rested((20.0, 2400, 0.0, 0.001))
            session.channels[7][key] = value
            assert list(dropout.check(session.show())) == []

    @pytest.mark.parametrize(
        "events",
        [
            # A staircase of 24-bit steps at the foot of a fade; a repeat of a few steps; a long rest of a player.
            noted("held", (12.0, 480, 0.0, 4 * 2.0**-23)),
            noted("repeat", (12.0, 32, 1, 2.0**-20)),
            noted("held", (12.0, RATE, 0.0, 0.1)),
        ],
        ids=["staircase", "chance", "rest"],
    )
    def test_quiet(self, events):
        session = Session()
        plan = session.tracks[6]
        plan.totals, plan.events = {"sample_peak": 0.3}, events
        plan.columns["held"] = np.full(plan.levels.size, 500, np.uint32)
        assert list(dropout.check(session.show())) == []

    def dithered(self, number: int, *holes: tuple[float, int], bits: int = 16, **channel: str) -> Session:
        """A track with gaps (s, frames) that hold a step of dither."""
        session = Session()
        plan = session.tracks[number]
        plan.totals, plan.bits = {"sample_peak": 0.3}, bits
        plan.events = noted("faint", *((at, length, 2.0**-15, 0.01) for at, length in holes))
        plan.columns["k_energy_10ms"] = np.full(plan.levels.size * 10, 1e-3)
        session.channels[number] |= channel
        return session

    def test_gaps_that_were_made_before_the_dither(self):
        (found,) = dropout.check(self.dithered(7, (12.0, 480), (20.0, 1440)).show())
        assert (found.severity, found.confidence, found.channels) == ("warning", "certain", (7,))
        assert found.message == "2 gaps, the longest 30 ms at 0:20; first at 0:12."
        # In 24 bits that is no dither but 256 steps of noise.
        assert list(dropout.check(self.dithered(7, (12.0, 480), bits=24).show())) == []

    @pytest.mark.parametrize(
        "changes",
        [
            {"input": "rf"},
            {"kind": "keys"},
            {"kind": "strings", "input": "line"},
            {"kind": "snare", "input": "di"},
            {"kind": "bass", "input": "di", "name": "Synth Bass"},
            {"kind": "playback", "input": "line"},
        ],
        ids=["radio", "keys", "line", "pad", "synth", "player"],
    )
    def test_what_may_rest_with_hard_ends_by_itself(self, changes):
        assert list(dropout.check(self.dithered(7, (12.0, 480), (20.0, 1440), **changes).show())) == []

    def test_a_source_that_rests_for_seconds_or_often_makes_its_rests_itself(self):
        assert list(dropout.check(self.dithered(7, (12.0, 480), (20.0, 2 * RATE)).show())) == []
        often = [(10.0 + at, 960) for at in range(9)]
        assert list(dropout.check(self.dithered(5, *often).show())) == []
        assert len(list(dropout.check(self.dithered(7, *often).show()))) == 1

    def test_short_gaps_in_what_goes_on_are_lost_on_any_source(self):
        few = [(12.0, 300), (13.0, 400)]
        (found,) = dropout.check(self.dithered(6, *few).show())
        assert (found.severity, found.confidence) == ("note", "possible")
        (found,) = dropout.check(self.dithered(6, *few, (14.0, 300)).show())
        assert (found.severity, found.confidence) == ("warning", "certain")

    def test_dithered_gaps_of_many_tracks_at_once_are_told_for_players_too(self):
        session = self.dithered(7, (12.0, 960))
        for number, kind in ((1, "kick"), (5, "bass"), (6, "playback")):
            plan = session.tracks[number]
            plan.totals, plan.bits = {"sample_peak": 0.3}, 16
            plan.events = noted("faint", (12.0, 960, 2.0**-15, 0.01))
            session.channels[number]["kind"] = kind
        (found,) = dropout.check(session.show())
        assert (found.severity, found.tracks) == ("fault", (1, 5, 6, 7))

    def test_clicks_and_timecode_have_holes_of_their_own(self):
        for kind in ("click", "timecode"):
            session = Session()
            session.channels[6]["kind"] = kind
            session.tracks[6].totals = {"sample_peak": 0.3}
            session.tracks[6].events = noted("held", *((at, 48, 0.0, 0.1) for at in range(2, 30)))
            assert list(dropout.check(session.show())) == []


class TestFlatTopped:
    def flat(self, hops: slice, level: float = 0.2, lower: float = 0.0) -> Session:
        """Channel 5's tops cut off at `level` in some hops; a share `lower` of the other hops is flat too."""
        session = Session()
        plan = session.tracks[5]
        size = plan.levels.size
        rng = np.random.default_rng(4)
        high = rng.uniform(0.2, 0.85, size) * level
        high[hops] = level
        flat = np.zeros(size, np.uint32)
        flat[hops] = 20
        others = np.setdiff1d(np.arange(size), np.arange(size)[hops])
        flat[rng.permutation(others)[: round(lower * len(others))]] = 20
        plan.columns |= {"high": high, "low": -high * 0.9, "flat_high": flat, "energy": (high / 3) ** 2 * 4800}
        return session

    def test_recurring_cut_off_tops_are_a_warning(self):
        (found,) = flat_topped.check(self.flat(slice(100, 110)).show())
        assert (found.severity, found.confidence, found.channels) == ("warning", "likely", (5,))
        assert found.message == (
            "Cut off flat below full scale: positive tops stop at -14.0 dBFS in 10 moments of 100 ms; "
            "the first at 0:10."
        )
        assert found.amount == pytest.approx(-13.98, abs=0.01)

    @pytest.mark.parametrize(
        "session",
        [
            ("few", slice(100, 103), 0.2, 0.0),
            ("full scale", slice(100, 110), 1.0, 0.0),
            ("any", slice(100, 110), 0.2, 0.5),
        ],
        ids=lambda one: one[0],
    )
    def test_quiet(self, session):
        _, hops, level, lower = session
        assert list(flat_topped.check(self.flat(hops, level, lower).show())) == []

    def test_a_square_wave_that_decays_is_built_like_that(self):
        session = self.flat(slice(100, 110))
        columns = session.tracks[5].columns
        # The power of a square wave that falls by a third within 100 ms is 1.6 dB below its peak's.
        columns["energy"][100:110] = columns["high"][100:110] ** 2 * 10**-0.16 * 4800
        assert list(flat_topped.check(session.show())) == []

    def pinned(self, *, times: int, spread: float = 0.0, ties: int = 0) -> Session:
        """Channel 7's tops stop at -14 dBFS in moments 2 s apart, `spread` of it below at most, a sample each; of the
        lower moments `ties` are alike."""
        session = Session()
        plan = session.tracks[7]
        rng = np.random.default_rng(5)
        high = rng.uniform(0.02, 0.19, plan.levels.size)
        high[5 : 5 + ties] = 0.1
        high[20 : 20 + 20 * times : 20] = 0.2 * (1 - spread * rng.random(times))
        nothing = np.zeros(plan.levels.size, np.uint32)
        low = -rng.uniform(0.02, 0.15, plan.levels.size)
        plan.columns |= {"high": high, "low": low, "flat_high": nothing, "energy": (high / 3) ** 2 * 4800}
        return session

    def test_tops_of_one_sample_that_stop_at_one_level_on_a_microphone(self):
        (found,) = flat_topped.check(self.pinned(times=6, spread=2e-4).show())
        assert (found.channels, found.severity) == ((7,), "warning")
        assert found.message == (
            "Cut off flat below full scale: positive tops stop at -14.0 dBFS in 6 moments of 100 ms; the first at 0:02."
        )

    def test_few_or_uneven_tops_or_a_sample_played_over_and_over_are_not_pinned(self):
        assert list(flat_topped.check(self.pinned(times=5).show())) == []
        assert list(flat_topped.check(self.pinned(times=12, spread=0.02).show())) == []
        assert list(flat_topped.check(self.pinned(times=12, ties=200).show())) == []

    @pytest.mark.parametrize("way", ["di", "line", "digital"])
    def test_only_a_microphones_tops_never_tie_by_themselves(self, way):
        session = self.pinned(times=12)
        session.channels[7]["input"] = way
        assert list(flat_topped.check(session.show())) == []

    def test_a_click_beyond_the_tops_hides_neither(self):
        session = self.flat(slice(100, 110))
        session.tracks[5].columns["high"][[300, 400]] = 0.5
        session.tracks[5].columns["k_energy_10ms"] = np.full(session.tracks[5].levels.size * 10, 1e-3)
        session.tracks[5].events = clicked(30.05, 40.05)
        session.tracks[5].levels[:] = -20.0
        assert [one.channels for one in flat_topped.check(session.show())] == [(5,)]
        (found,) = click.check(session.show())
        assert (found.severity, found.amount) == ("warning", 2.0)
        # Where the highest sample is that of the tops, a break of a quarter of their level is their corner.
        session.tracks[5].columns["high"][[300, 400]] = 0.2
        assert list(click.check(session.show())) == []

    def test_two_moments_on_a_microphone_that_tie(self):
        session = self.flat(slice(100, 102))
        session.channels[5]["input"] = "mic"
        assert [one.channels for one in flat_topped.check(session.show())] == [(5,)]
        session.channels[5]["input"] = "di"
        assert list(flat_topped.check(session.show())) == []

    def always(self, spread_db: float) -> Session:
        """Channel 5 is cut off at one level in all moments, whatever its power."""
        session = self.flat(slice(None))
        plan = session.tracks[5]
        power = -10 + spread_db * np.random.default_rng(6).random(plan.levels.size)
        plan.columns["energy"] = 0.2**2 * 10 ** (power / 10) * 4800
        return session

    def test_a_source_that_is_cut_off_all_the_time_gets_louder_and_softer_below_its_tops(self):
        assert [one.channels for one in flat_topped.check(self.always(6.0).show())] == [(5,)]
        assert list(flat_topped.check(self.always(1.0).show())) == []

    def test_tops_beyond_that_level_are_not_cut_off(self):
        session = self.flat(slice(100, 110))
        session.tracks[5].columns["high"][300:320] = 0.25
        assert list(flat_topped.check(session.show())) == []


def test_every_limit_of_breaks_is_a_limit_of_click():
    assert breaks.LIMITS.items() <= click.LIMITS.items()
