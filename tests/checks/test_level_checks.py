"""clipped, over-full-scale, input-over, bus-over, hot, low."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from replay.checks import bus_over, clipped, hot, input_over, low, over_full_scale
from replay.desk.model import Advice, Clipping
from tests.checks.factory import Session, bus, runs

ALL = (clipped, over_full_scale, input_over, bus_over, hot, low)

DOWN = Advice(gain_db=-10, was_db=38, new_gain_db=28)
UP = Advice(gain_db=6, was_db=30, new_gain_db=36)


def found(module, session):
    return list(module.check(session.show()))


@pytest.mark.parametrize("module", ALL, ids=[module.CODE for module in ALL])
def test_the_good_session_is_quiet(module):
    assert found(module, Session()) == []


class TestClipped:
    def test_the_whole_sentence(self):
        session = Session()
        session.tracks[7].clipping = replace(runs((52.0, 0.2), (161.4, 1.3), (170, 0.1)), count=14)
        session.advice[7] = DOWN
        (finding,) = found(clipped, session)
        assert finding.severity == "fault"
        assert finding.message == "14 runs at full scale, the longest 1.3 ms at 2:41; first at 0:52."
        assert finding.action == "Turn riser 7 down by 10 dB (38 -> 28), record again and check."
        assert (finding.amount, finding.unit, finding.start_s, finding.end_s) == (14.0, "runs", 52.0, 170)

    @pytest.mark.parametrize(
        ("clipping", "severity"),
        [
            (runs((1, 0.1), (2, 0.1)), "warning"),
            (runs((1, 0.1), (2, 0.1), (3, 0.1)), "fault"),
            (runs((1, 0.5)), "warning"),
            (runs((1, 0.6)), "fault"),
            (runs((1, 0.1), before=50), "warning"),
        ],
    )
    def test_severity_by_count_and_length(self, clipping, severity):
        session = Session()
        session.tracks[7].clipping = clipping
        assert [finding.severity for finding in found(clipped, session)] == [severity]

    def test_only_before_the_judged_part_is_a_note(self):
        session = Session()
        session.judged = (30.0, 60.0)
        session.tracks[7].clipping = Clipping(before=5)
        (finding,) = found(clipped, session)
        assert (finding.severity, finding.amount, finding.end_s) == ("note", 5.0, 30.0)
        assert finding.message == "5 runs at full scale before the part that is judged; none in it."

    def test_both_are_told_apart(self):
        session = Session()
        session.tracks[7].clipping = runs((40, 0.1), (41, 0.2), (42, 0.1), before=9)
        (finding,) = found(clipped, session)
        assert finding.message.endswith("first at 0:40. 9 more before the part that is judged.")

    @pytest.mark.parametrize("kind", ["playback", "click"])
    def test_playback_and_click_are_a_note(self, kind):
        session = Session()
        session.channels[6].update(kind=kind, input="digital")
        session.tracks[6].clipping = runs(*[(n, 2.0) for n in range(30)])
        (finding,) = found(clipped, session)
        assert finding.severity == "note"
        assert "record again" not in finding.action

    def test_timecode_is_quiet(self):
        session = Session()
        session.channels[6].update(kind="timecode")
        session.tracks[6].clipping = runs(*[(n, 0.2) for n in range(30)])
        assert found(clipped, session) == []

    def test_a_square_wave_is_quiet(self):
        session = Session()
        plan = session.tracks[6]
        plan.levels = np.where(np.arange(600) % 5 == 0, -200.0, -0.02)
        peak = np.where(plan.levels > -100, 1.0, 0.0)
        plan.columns = {"high": peak, "low": -peak}
        plan.clipping = runs(*[(n, 2.0) for n in range(30)])
        assert found(clipped, session) == []

    def test_an_overdriven_voice_is_no_square_wave(self):
        session = Session()
        plan = session.tracks[7]
        loud = plan.levels > np.percentile(plan.levels, 60)
        plan.columns = {"high": np.where(loud, 1.0, 0.1), "low": np.where(loud, -1.0, -0.1)}
        plan.levels = np.where(loud, -0.5, -30.0)
        plan.clipping = runs(*[(n, 2.0) for n in range(30)])
        assert [finding.severity for finding in found(clipped, session)] == ["fault"]

    def test_off_and_unpatched_are_quiet(self):
        session = Session()
        session.channels[8]["use"] = "off"
        session.tracks[8].clipping = runs((1, 2.0))
        session.add_track(12).clipping = runs((1, 2.0))
        assert found(clipped, session) == []

    def test_a_guest_is_told_like_anybody(self):
        session = Session()
        session.tracks[8].clipping = runs((1, 2.0))
        assert [finding.severity for finding in found(clipped, session)] == ["fault"]

    def test_without_advice_at_least_6_db(self):
        session = Session()
        session.tracks[7].clipping = runs((1, 2.0))
        (finding,) = found(clipped, session)
        assert finding.action == "Turn riser 7 down by at least 6 dB, record again and check."

    def test_the_overshoot_is_a_range(self):
        session = Session()
        session.tracks[7].clipping = replace(runs((1, 2.0)), overshoot_db=(1.0, 3.0))
        (finding,) = found(clipped, session)
        assert finding.message == "1 run at full scale, 2 ms at 0:01; by an estimated 1 to 3 dB."

    def test_the_worst_beyond_the_kept_runs_has_no_time(self):
        session = Session()
        session.tracks[7].clipping = replace(runs((1, 2.0), (2, 1.0)), count=9000, longest_ms=8.0)
        (finding,) = found(clipped, session)
        assert finding.message == "9000 runs at full scale, the longest 8 ms; first at 0:01."

    @pytest.mark.parametrize(
        ("advice", "words"),
        [
            (replace(DOWN, pad="in", new_gain_db=48), "Mute it, put the pad of riser 7 in and set its gain 38 -> 48"),
            (Advice(gain_db=-10), "Turn riser 7 down by 10 dB"),
            (
                Advice(gain_db=-10, pad="in"),
                "Mute it, put the pad of riser 7 in and bring its level down by 10 dB in all",
            ),
            (
                Advice(gain_db=0, was_db=0, new_gain_db=0),
                "Bring it down at the source: the preamp of riser 7 can give no more",
            ),
            (
                replace(DOWN, ask="ask the monitor desk"),
                "Ask the monitor desk; then turn riser 7 down by 10 dB (38 -> 28)",
            ),
            # Pulled up with its pair or socket: nothing to do with a clip.
            (UP, "Turn riser 7 down by at least 6 dB"),
            (Advice(gain_db=-7.5, was_db=38, new_gain_db=30.5), "Turn riser 7 down by 7.5 dB (38 -> 30.5)"),
        ],
    )
    def test_the_advice_in_words(self, advice, words):
        session = Session()
        session.tracks[7].clipping = runs((1, 2.0))
        session.advice[7] = advice
        (finding,) = found(clipped, session)
        assert finding.action == f"{words}, record again and check."

    def test_at_the_source(self):
        session = Session()
        session.channels[7]["input"] = "rf"
        session.tracks[7].clipping = runs((1, 2.0))
        session.advice[7] = Advice(gain_db=-10, at_source=True)
        (finding,) = found(clipped, session)
        assert finding.action == "Bring it down by 10 dB at the pack or the receiver, record again and check."

    @pytest.mark.parametrize(
        ("entry", "where"), [("line", "the instrument's output"), ("rf", "the pack or the receiver")]
    )
    def test_radio_and_line_sources_come_before_their_preamp(self, entry, where):
        session = Session()
        session.channels[7]["input"] = entry
        session.tracks[7].clipping = runs((1, 2.0))
        session.advice[7] = DOWN
        (finding,) = found(clipped, session)
        assert finding.action == (
            f"See to {where} first; then turn riser 7 down by 10 dB (38 -> 28), record again and check."
        )


class TestOverFullScale:
    def over(self, session, hop=300):
        plan = session.tracks[7]
        plan.is_float, plan.peak, plan.totals = True, 2.0, {"over_full_scale": 12.0}
        counts = np.zeros(600, np.uint32)
        counts[hop] = 12
        plan.columns = {"over": counts}

    def test_speaks(self):
        session = Session()
        self.over(session)
        session.advice[7] = DOWN
        (finding,) = found(over_full_scale, session)
        assert (finding.severity, finding.amount, finding.unit) == ("warning", 2.0, "dBFS")
        assert finding.message == "12 samples above full scale, up to +2.0 dBFS; first at 0:30."
        assert finding.action.startswith("Turn riser 7 down by 10 dB (38 -> 28)")

    def test_outside_the_judged_part_is_a_note(self):
        session = Session()
        self.over(session, hop=20)
        session.judged = (30.0, 60.0)
        (finding,) = found(over_full_scale, session)
        assert finding.severity == "note"
        assert finding.message.endswith("first at 0:02, outside the part that is judged.")


class TestInputOver:
    def test_speaks_and_gives_the_trim(self):
        session = Session()
        session.channels[7]["trim"] = 12.0
        (finding,) = found(input_over, session)
        assert (finding.severity, finding.channels, finding.amount) == ("warning", (7,), 2.0)
        assert finding.message == (
            "Peaks at +2.0 dBTP after its trim of +12 dB at 0:12; the track itself peaks at -10.0 dBTP."
        )
        assert finding.action == "Pull the trim down to +10 dB or lower."

    def test_the_trim_is_rounded_away_from_full_scale(self):
        session = Session()
        session.channels[7]["trim"] = 12.0
        session.tracks[7].peak = -9.95
        (finding,) = found(input_over, session)
        assert finding.action == "Pull the trim down to +9.9 dB or lower."

    def test_just_full_scale_is_quiet(self):
        session = Session()
        session.channels[7]["trim"] = 10.0
        assert found(input_over, session) == []

    def test_a_recording_that_is_over_itself_is_not_told_here(self):
        session = Session()
        session.channels[7]["trim"] = 6.0
        session.tracks[7].peak = 0.4
        assert found(input_over, session) == []


class TestBusOver:
    def test_speaks(self):
        session = Session()
        session.buses = [bus("main", -3.0, 2.14, (1, 2, 7), (1, 7))]
        (finding,) = found(bus_over, session)
        assert (finding.severity, finding.channels, finding.amount, finding.unit) == ("warning", (), 5.14, "dB")
        assert finding.message == (
            "The bus main peaks at +2.1 dBTP at 0:20, 5.1 dB over its ceiling of -3; loudest in it: 1 Kick and 7 Vocal."
        )
        assert finding.action == "Pull main down by 5.2 dB, or the levels that go into it."

    def test_two_buses_are_two_findings_with_ids_of_their_own(self):
        session = Session()
        session.buses = [bus("main", -3.0, 2.0, (1,), (1,)), bus("wedge 1", -3.0, 1.0, (1,), (1,))]
        assert [finding.id for finding in found(bus_over, session)] == ["bus-over-take-main", "bus-over-take-wedge-1"]

    @pytest.mark.parametrize(("peak", "channels"), [(-3.0, (1,)), (None, (1,)), (9.0, ())])
    def test_at_the_ceiling_or_without_levels_is_quiet(self, peak, channels):
        session = Session()
        session.buses = [bus("main", -3.0, peak, channels, ())]
        assert found(bus_over, session) == []


class TestHot:
    def test_speaks(self):
        session = Session()
        session.tracks[7].played = -8.0
        session.advice[7] = Advice(gain_db=-7, was_db=30, new_gain_db=23)
        (finding,) = found(hot, session)
        assert (finding.severity, finding.confidence, finding.amount) == ("warning", "likely", 1.0)
        assert finding.message == "Expected to peak at +1.0 dBTP in the show: played peak -8.0 dBTP, rise 9 dB."
        assert finding.action == "Turn riser 7 down by 7 dB (30 -> 23)."

    def test_the_limit_itself_is_quiet(self):
        session = Session()
        session.tracks[7].played = -10.0  # expected -1.0
        assert found(hot, session) == []

    def test_without_advice_the_change_to_the_target_rounded_away_from_full_scale(self):
        session = Session()
        session.tracks[7].played = -7.4  # expected 1.6, target -6
        (finding,) = found(hot, session)
        assert finding.action == "Turn riser 7 down by 8 dB."

    def test_a_player_on_a_digital_input_is_quiet(self):
        session = Session()
        session.tracks[6].played = -0.3
        session.channels[6].update(kind="playback", input="digital")
        assert found(hot, session) == []
        session.channels[6]["input"] = "line"
        assert len(found(hot, session)) == 1

    def test_quiet_for_a_line_check_and_off(self):
        session = Session()
        session.tracks[7].played = 0.0
        session.channels[7]["use"] = "off"
        assert found(hot, session) == []
        session.channels[7]["use"] = "must"
        session.of = "line-check"
        assert found(hot, session) == []


class TestLow:
    def quiet(self, session, number=7, played=-40.0):
        session.tracks[number].played = played
        session.tracks[number].peak = played + 2

    def test_a_note(self):
        session = Session()
        self.quiet(session)
        (finding,) = found(low, session)
        assert (finding.severity, finding.channels, finding.amount) == ("note", (7,), -31.0)
        assert finding.action == "Hear it at full strength before you raise riser 7."

    def test_with_advice(self):
        session = Session()
        self.quiet(session)
        session.advice[7] = UP
        (finding,) = found(low, session)
        assert (finding.severity, finding.action) == ("note", "Turn riser 7 up by 6 dB (30 -> 36).")

    def test_a_warning_where_raising_buys_something(self):
        """16 bits: the word length's own noise is 98 dB below a full-scale sine."""
        session = Session()
        self.quiet(session)
        session.advice[7] = UP
        session.tracks[7].bits, session.tracks[7].floor = 16, -97.0
        (finding,) = found(low, session)
        assert finding.severity == "warning"
        session.tracks[7].floor = -80.0
        (finding,) = found(low, session)
        assert finding.severity == "note"

    @pytest.mark.parametrize("facts", [{"use": "may"}, {"use": "off"}, {"kind": "ambience"}])
    def test_spares_and_kinds_that_are_not_judged_are_quiet(self, facts):
        session = Session()
        self.quiet(session, played=-44.0)
        session.channels[7].update(facts)
        assert found(low, session) == []

    def test_a_source_that_was_not_heard_is_quiet(self):
        session = Session()
        self.quiet(session)
        session.tracks[7].active_s = 1.5
        assert found(low, session) == []

    def test_quiet_for_a_line_check(self):
        session = Session()
        self.quiet(session)
        session.of = "line-check"
        assert found(low, session) == []

    def test_the_limit_itself_is_quiet(self):
        session = Session()
        self.quiet(session, played=-33.0)  # expected -24
        assert found(low, session) == []
