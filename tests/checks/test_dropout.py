"""Dropouts: where they must be told, and where they must keep quiet."""

from __future__ import annotations

import numpy as np
import pytest

from replay.checks import dropout
from tests.checks.factory import RATE, Session, noted


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
