"""silent, not-a-number, one-side-dead."""

from __future__ import annotations

import numpy as np
import pytest

from replay.checks import find_all, noise_only, not_a_number, one_side_dead, silent
from tests.checks.factory import Session

ALL = (silent, noise_only, not_a_number, one_side_dead)


def found(module, session):
    return list(module.check(session.show()))


@pytest.mark.parametrize("module", ALL, ids=[module.CODE for module in ALL])
def test_the_good_session_is_quiet(module):
    assert found(module, Session()) == []


class TestSilent:
    def test_fault_for_must(self):
        session = Session()
        session.silence(7)
        (finding,) = found(silent, session)
        assert (finding.severity, finding.confidence, finding.channels) == ("fault", "certain", (7,))
        assert finding.action == "Check that track 7 was armed and that riser 7 reaches slot 7; record again."

    @pytest.mark.parametrize("facts", [{"use": "may"}, {"kind": "talkback"}])
    def test_spares_and_talkback_are_a_note(self, facts):
        session = Session()
        session.channels[7].update(facts)
        session.silence(7)
        assert [finding.severity for finding in found(silent, session)] == ["note"]

    def test_all_spares_in_one_note(self):
        session = Session()
        session.channels[7]["use"] = "may"
        session.silence(7)
        session.silence(8)
        (finding,) = found(silent, session)
        assert finding.channels == (7, 8)

    def test_off_is_rightly_silent(self):
        session = Session()
        session.channels[8]["use"] = "off"
        session.silence(8)
        assert found(silent, session) == []

    def test_a_whole_box_is_told_once(self):
        session = Session()
        session.channels[8]["use"] = "must"
        for number in (4, 5, 6, 7, 8):
            session.silence(number)
        (finding,) = found(silent, session)
        assert finding.channels == (4, 5, 6, 7, 8)
        assert finding.message == "Tracks 4-8 are digital silence from start to end, all of box riser."

    def test_three_neighbours_may_have_died_one_by_one(self):
        session = Session()
        for number in (1, 2, 5):
            session.silence(number)
        assert [finding.channels for finding in found(silent, session)] == [(1,), (2,), (5,)]

    def test_a_track_of_samples_that_are_no_numbers_is_told_as_such(self):
        session = Session()
        session.silence(7)
        session.tracks[7].totals = {"not_a_number": 60 * 48000.0}
        assert [finding.code for finding in find_all(session.show())] == ["not-a-number"]


class TestNotANumber:
    def test_speaks(self):
        session = Session()
        counts = np.zeros(600, np.uint32)
        counts[[52, 300]] = (1, 2)
        session.tracks[7].totals = {"not_a_number": 3.0}
        session.tracks[7].columns = {"not_a_number": counts}
        (finding,) = found(not_a_number, session)
        assert (finding.severity, finding.amount, finding.start_s, finding.end_s) == ("fault", 3.0, 5.2, 30.1)
        assert finding.message == "Track 7 has 3 samples that are not numbers, the first at 0:05."


class TestOneSideDead:
    def down(self, session, number, decibels):
        session.tracks[number].levels = np.maximum(session.tracks[number].levels - decibels, -120)

    @pytest.mark.parametrize(("number", "other"), [(3, "4 OH R"), (4, "3 OH L")])
    def test_speaks_of_the_weak_side(self, number, other):
        session = Session()
        self.down(session, number, 31)
        (finding,) = found(one_side_dead, session)
        assert (finding.severity, finding.channels) == ("warning", (number,))
        assert finding.amount == pytest.approx(31, abs=1.5)
        assert f"channel {other}," in finding.message

    @pytest.mark.parametrize("decibels", [3, 12, 20])
    def test_an_uneven_pair_is_quiet(self, decibels):
        session = Session()
        self.down(session, 4, decibels)
        assert found(one_side_dead, session) == []

    def alike(self, decibels: float, spread: float = 1.5) -> Session:
        """Both overheads hear the same but for `spread` dB now and then, the right one `decibels` below the left."""
        session = Session()
        left = session.tracks[3].levels
        rng = np.random.default_rng(3)
        session.tracks[4].levels = np.maximum(left - decibels + rng.normal(0, spread, left.size), -110)
        return session

    @pytest.mark.parametrize(
        ("decibels", "severity"), [(11, "note"), (15, "warning"), (19, "warning"), (23, "warning")]
    )
    def test_a_side_that_stays_far_below_the_other_speaks(self, decibels, severity):
        (finding,) = found(one_side_dead, self.alike(decibels))
        assert (finding.severity, finding.channels) == (severity, (4,))
        assert finding.confidence == ("likely" if severity == "warning" else "possible")
        assert finding.amount == pytest.approx(decibels, abs=1)
        assert "dB below its other side, channel 3 OH L, all the time" in finding.message
        near = {11: "as a pad of 10 dB", 15: "as a pad of 15 dB", 19: "as a pad of 20 dB"}.get(decibels)
        assert near is None or near in finding.message

    def test_a_pad_that_the_list_has_and_gains_that_differ_by_it(self):
        session = self.alike(20)
        session.channels[4].update(pad=True, gain=20.0)
        (finding,) = found(one_side_dead, session)
        assert "left in" not in finding.message
        assert finding.message.endswith("(the list has gains of 20 and 30 dB).")

    @pytest.mark.parametrize(("decibels", "spread"), [(3, 1.5), (8, 1.5), (16, 6.0)])
    def test_sides_that_differ_a_little_or_now_and_then_are_quiet(self, decibels, spread):
        assert found(one_side_dead, self.alike(decibels, spread)) == []

    def test_what_the_trims_make_up_for_is_quiet_and_so_is_what_only_they_make(self):
        session = self.alike(18)
        session.channels[4]["trim"] = 15.0
        assert found(one_side_dead, session) == []
        session = self.alike(0)
        session.channels[4]["trim"] = -18.0
        assert found(one_side_dead, session) == []

    def test_only_the_part_that_is_judged_must_differ(self):
        session = self.alike(18)
        session.tracks[4].levels[:150] += 18  # the line check, at other gains
        assert found(one_side_dead, session) == []
        session.judged = (15.0, 60.0)
        (finding,) = found(one_side_dead, session)
        assert finding.amount == pytest.approx(18, abs=1)

    def test_one_source_pairs_differ_as_they_like(self):
        session = self.alike(18)
        session.channels[3]["pairing"] = session.channels[4]["pairing"] = "one-source"
        assert found(one_side_dead, session) == []

    def test_one_source_pairs_are_quiet(self):
        session = Session()
        session.channels[3]["pairing"] = session.channels[4]["pairing"] = "one-source"
        self.down(session, 4, 40)
        assert found(one_side_dead, session) == []

    def test_spaced_pairs_are_told(self):
        session = Session()
        session.channels[3]["pairing"] = session.channels[4]["pairing"] = "spaced"
        self.down(session, 4, 40)
        assert len(found(one_side_dead, session)) == 1

    def test_a_silent_side_is_told_by_silent_alone(self):
        session = Session()
        session.silence(4)
        assert found(one_side_dead, session) == []
        assert [finding.code for finding in find_all(session.show())] == ["silent"]

    def test_two_sides_of_nothing_are_quiet(self):
        session = Session()
        session.noise(3, -80)
        session.noise(4, -110)
        assert found(one_side_dead, session) == []

    def test_quiet_sides_that_alternate_are_quiet(self):
        """A percussion pair: now left, now right; each side plays half of the time."""
        session = Session()
        left = np.random.default_rng(1).random(600) < 0.5
        session.tracks[3].levels = np.where(left, -25.0, -60.0)
        session.tracks[4].levels = np.where(left, -60.0, -24.9)
        found_here = found(one_side_dead, session)
        assert len(found_here) == 0
