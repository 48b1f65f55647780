"""The work in the terminal: jobs place by place, what is said once for several of them, and what is no work."""

from __future__ import annotations

import re
from dataclasses import replace

from replay.desk.model import Advice
from replay.findings.finding import Finding
from replay.patch.model import Channel, Socket
from replay.report.as_text import text
from tests.report.shows import ADVICE, CHANNELS, CLIPPED, HOT, STATES, report
from tests.report.test_as_text import advised


def test_advice_without_a_finding_is_work_with_its_reason():
    shown = text(advised({1: replace(ADVICE[5], ask="")}, findings=()), cells=80)
    assert (
        "deck\n"
        "turn  deck 1  -6  24 -> 18  trim +7.5  ch 1 Kick in\n"
        "      Plays up to -4.2 dBTP now; 4 dB more are expected in the show.\n"
        "      Gain down first, then trim up.\n"
    ) in shown


def test_a_pad_and_a_gain_that_is_not_stated():
    advice = Advice(gain_db=4.0, was_db=None, new_gain_db=None, pad="in", reason="Hot at minimum gain.")
    assert "turn  deck 1  +4  pad in  ch 1 Kick in\n" in text(advised({1: advice}, findings=()), cells=80)


def test_advice_at_the_source_is_kept_from_the_boxes():
    advice = Advice(gain_db=-6.0, at_source=True, reason="The pack is too loud.", order="Turn the pack down.")
    shown = text(advised({1: advice}, findings=()), cells=80)
    assert "At the sources\nturn  deck 1  -6  ch 1 Kick in\n      The pack is too loud.\n      Turn the pack" in shown
    assert "\ndeck\n" not in shown


def test_channels_on_one_socket_are_one_job_with_a_trim_each():
    second = Channel(number=10, name="Kick in, again", kind="kick", socket=Socket("deck", 1), trim=3.0, line=11)
    made = advised(
        {1: replace(ADVICE[2], trim_db=8.0), 10: replace(ADVICE[2], trim_db=13.0)},
        channels=(*CHANNELS, second),
        states={**STATES, 10: "good"},
        findings=(),
    )
    shown = text(made, cells=80)
    assert "turn  deck 1  -10  38 -> 28  ch 1 Kick in, 10 Kick in, again\n" in shown
    assert "      Trims: channel 1 to +8, channel 10 to +13.\n" in shown
    assert shown.count("Gain down first, then trim up.") == 1


def test_what_goes_with_several_jobs_of_a_box_is_said_once_above_them_with_its_channels():
    remark = "the trim belongs to the new gain"
    shown = text(advised({number: replace(ADVICE[2], notes=(remark,)) for number in (1, 3, 5)}, findings=()), cells=80)
    deck = shown[shown.index("\ndeck\n") : shown.index("\nriser\n")]
    assert deck.startswith(
        "\ndeck\n"
        "      Channels 1, 3: Gain down first, then trim up.\n"
        "      Channels 1, 3: the trim belongs to the new gain.\n"
        "turn  deck 1  -10  38 -> 28  trim +10  ch 1 Kick in\n"
    )
    riser = shown[shown.index("\nriser\n") :]
    assert "      Gain down first, then trim up.\n      The trim belongs to the new gain.\n" in riser
    assert shown.count(remark[4:]) == 2


def test_above_the_jobs_stands_how_to_turn_before_what_becomes_of_trims():
    up = Advice(gain_db=4.0, was_db=20.0, new_gain_db=24.0, order="trim down first, then gain up", notes=("remark",))
    down = replace(ADVICE[2], notes=("remark",))
    shown = text(advised({1: up, 3: up, 2: down, 4: down}, findings=()), cells=80)
    deck = shown[shown.index("\ndeck\n") :].splitlines()[2:5]
    assert [line.partition(": ")[2] for line in deck] == [
        "trim down first, then gain up.",
        "Gain down first, then trim up.",
        "remark.",
    ]


def test_raises_that_need_not_be_are_a_line_each_and_told_once_above():
    up = Advice(gain_db=4.0, was_db=20.0, new_gain_db=24.0, reason="Peaks recur at -14.", may="may come up, need not")
    shown = text(advised({1: up, 2: up, 3: up, 5: up}, findings=(replace(CLIPPED, channels=(2,)),)), cells=80)
    deck = shown[shown.index("\ndeck\n") : shown.index("\nriser\n")].splitlines()[2:]
    # Channel 2 has a finding: its reason stays, for more than its level is to be seen to.
    assert deck[:2] == [
        "      Channels 1, 3: may come up, need not.",
        "turn  deck 1  +4  20 -> 24  ch 1 Kick in",
    ]
    assert deck[2].startswith("BAD   deck 2")
    assert deck[-1] == "turn  deck 3  +4  20 -> 24  ch 3 Overhead left"
    # Alone in its place, a raise says its reason.
    assert "ch 5 Bass\n      Peaks recur at -14.\n" in shown[shown.index("\nriser\n") :]


def test_sentences_of_advice_begin_large_and_end():
    advice = replace(ADVICE[2], ask="ask the monitor desk", order="gain down first", notes=("mute first",))
    shown = text(advised({1: advice}, findings=()), cells=80)
    assert "      Ask the monitor desk.\n      Gain down first.\n      Mute first.\n" in shown


def test_work_at_a_box_is_in_socket_order_whatever_the_order_of_findings():
    findings = tuple(
        Finding(code="crackle", severity=severity, confidence="likely", channels=(channel,), message="m", action="a")
        for channel, severity in ((6, "warning"), (1, "warning"), (2, "fault"))
        if severity != "fault"
    ) + (replace(CLIPPED, channels=(4,), sockets=(Socket("deck", 4),)),)
    shown = text(advised({}, findings=findings), cells=80)
    assert re.findall(r"^(?:BAD|LOOK) +(deck \d+)", shown, re.M) == ["deck 1", "deck 4", "deck 5"]


def test_a_clip_without_advice_has_its_own_action():
    assert "      Do: Turn down, record again and check.\n" in text(advised({}, findings=(CLIPPED,)), cells=80)


def test_a_note_about_clips_before_the_judged_part_is_no_work():
    before = replace(CLIPPED, severity="note", key="before", message="3 runs before the part that is judged.")
    shown = text(report(findings=(before,)), cells=80)
    assert "- clipped, channel 2 Snare top: 3 runs before the part that is judged.\n" in shown
    assert "no trim mends a clip" not in shown


def test_hot_is_told_once_with_its_advice_for_an_action():
    shown = text(report(findings=(HOT,)), cells=80)
    assert "Do: Turn down by 6 dB." not in shown
    assert "4 dB more are expected" not in shown
