"""Gain advice for channels that another's source is told to feed: nothing is turned before the plugs are right."""

from __future__ import annotations

from dataclasses import replace

import pytest

from replay.checks import clipped, duplicate, find_all, hot, low, over_full_scale, swapped, wrong_by_ear
from replay.checks.shared.fed_wrong import GAIN_WAITS, without_their_advice
from replay.desk.model import Advice, Show
from replay.ear import Answer, Ear
from replay.findings.settle import settle
from replay.findings.verdict import report
from replay.report import as_json, as_text, sheet
from replay.report.as_csv import stage_sheet
from tests.checks.factory import Session, runs
from tests.checks.test_mapping_checks import like, misplaced, one, show_of

DOWN = Advice(gain_db=-12.0, was_db=30.0, new_gain_db=18.0, trim_db=12.0, order="gain down first, then trim up")


def session(*advised: int) -> Session:
    made = Session()
    made.advice = dict.fromkeys(advised, DOWN)
    return made


def waiting(show: Show) -> list[int]:
    assert all(view.advice is None for view in show.channels if view.advice_waits)
    return [view.channel.number for view in show.channels if view.advice_waits]


def advised(show: Show) -> list[int]:
    return [view.channel.number for view in show.channels if view.advice is not None]


def ears(**said: str) -> Ear:
    """Answers as `ch7="right"` or `ch7="2"` (it is channel 2)."""
    answers = {}
    for name, what in said.items():
        number, right = int(name[2:]), what == "right"
        answers[number] = Answer(
            channel=number, name="", answer="right" if right else "wrong", is_really="" if right else what
        )
    return Ear(answers=answers)


def test_exchanged_channels_are_not_turned_and_the_others_are():
    show = without_their_advice(show_of(session(1, 2, 7), misplaced=(misplaced({2: 7, 7: 2}),)))
    assert (waiting(show), advised(show)) == ([2, 7], [1])
    finding = one(swapped.check(show))
    assert finding.action.endswith(" Record again after that: what gain channels 2, 7 need can be told only then.")


def test_a_channel_whose_gain_needed_no_change_waits_for_nothing():
    show = without_their_advice(show_of(session(), misplaced=(misplaced({2: 7, 7: 2}),)))
    assert waiting(show) == []
    assert "Record again after that" not in one(swapped.check(show)).action


def test_a_stereo_partner_waits_too():
    """The sides turn together, by what both ask for."""
    show = without_their_advice(show_of(session(3, 4), misplaced=(misplaced({3: 7, 7: 3}),)))
    assert waiting(show) == [3, 4]


def test_a_shift_holds_the_channels_that_may_have_moved_and_the_spare_at_its_end():
    case = replace(misplaced({5: 6, 6: 7, 7: 8}, "shift", by=1, sound=8.0, silence=3.0), may_begin=(2,))
    show = without_their_advice(show_of(session(1, 2, 5, 8), misplaced=(case,)))
    assert (waiting(show), advised(show)) == ([2, 5, 8], [1])


def test_what_the_ears_deny_is_turned_as_patched():
    show = show_of(session(2, 7), misplaced=(misplaced({2: 7, 7: 2}),))
    show = without_their_advice(replace(show, ear=ears(ch2="right", ch7="right")))
    assert (waiting(show), advised(show)) == ([], [2, 7])


def test_what_the_ears_call_another_source_waits():
    show = without_their_advice(replace(show_of(session(1, 2)), ear=ears(ch2="a whistle")))
    assert (waiting(show), advised(show)) == ([2], [1])
    assert "what gain channel 2 needs can be told only then" in one(wrong_by_ear.check(show)).action


def test_a_crossed_return_moves_no_preamp():
    made = session(2)
    made.channels[2]["playback"] = None
    show = replace(show_of(made), ear=ears(ch2="a whistle"))
    crossed = tuple(
        replace(view, playback=show.view(7).playback) if view.channel.number == 2 else view for view in show.channels
    )
    assert advised(without_their_advice(replace(show, channels=crossed))) == [2]


def test_copies_wait_and_a_pair_that_was_mono_does_not():
    likeness = (like(2, 7, residual_db=-90.0), like(3, 4, residual_db=-90.0))
    show = without_their_advice(show_of(session(2, 3, 4, 7), likeness=likeness))
    assert (waiting(show), advised(show)) == ([2, 7], [3, 4])
    fault = next(finding for finding in duplicate.check(show) if finding.severity == "fault")
    assert "can be told only then" in fault.action


def test_what_is_told_of_their_levels_asks_for_the_plugs_first():
    made = session(2)
    made.tracks[2].clipping = runs((10.0, 0.5), (11.0, 0.5))
    made.expected[7] = 3.0
    made.expected[5] = -40.0
    made.tracks[6].totals["over_full_scale"] = 3
    made.tracks[6].columns["over"] = made.tracks[6].levels * 0 + 1
    case = misplaced({2: 7, 7: 5, 5: 6, 6: 2}, "cycle")
    before = show_of(made, misplaced=(case,))
    show = without_their_advice(before)
    for check, channel in ((clipped, 2), (hot, 7), (low, 5), (over_full_scale, 6)):
        found = {finding.channels[0]: finding.action for finding in check.check(show)}
        assert found[channel] == GAIN_WAITS
        assert GAIN_WAITS not in {finding.action for finding in check.check(before)}


def test_every_format_says_so_and_none_turns():
    show = without_their_advice(show_of(session(2, 7), misplaced=(misplaced({2: 7, 7: 2}),)))
    answer = report(show, settle(find_all(show)))
    text = as_text.text(answer)
    assert "trim +12" not in text
    assert "can be told only then" in " ".join(text.split())
    channel = as_json.document(answer)["channels"][1]
    assert (channel["advice"], channel["advice_waits"]) == (None, True)
    assert as_json.document(answer)["channels"][0]["advice_waits"] is False
    lines = {line.socket.number: line for box in sheet.boxes(answer) for line in box.lines}
    assert (lines[2].change_db, lines[2].to_know) == (None, (GAIN_WAITS,))
    assert lines[1].to_know == ()
    assert [row[-1] for row in stage_sheet(answer)][1] == GAIN_WAITS


@pytest.mark.parametrize("number", range(1, 9))
def test_a_healthy_show_keeps_its_advice(number: int):
    show = without_their_advice(show_of(session(number), likeness=(like(3, 4, residual_db=-90.0),)))
    assert advised(show) == [number]
