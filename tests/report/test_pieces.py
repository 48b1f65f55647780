"""The small parts under the text: cells, colour, phrases."""

from __future__ import annotations

import doctest
from dataclasses import replace

import pytest

import replay.text
from replay.report import as_routes, cells, phrases, verdict
from replay.report.cells import fit, width, wrap
from replay.report.ink import Ink
from tests.report.shows import RECORDED, STATES, report, track


@pytest.mark.parametrize(
    ("text", "cells", "right", "expected"),
    [
        ("Kick", 6, False, "Kick  "),
        ("28", 4, True, "  28"),
        ("Kick", 4, False, "Kick"),
        ("Overhead", 4, False, "Ove…"),
        ("太鼓太鼓", 8, False, "太鼓太鼓"),
        ("太鼓太鼓", 7, False, "太鼓太…"),
        ("太鼓太鼓", 6, False, "太鼓… "),
        ("Kick", 0, False, ""),
        ("", 3, False, "   "),
    ],
)
def test_fit(text, cells, right, expected):
    assert fit(text, cells, right=right) == expected
    assert width(expected) == cells


def test_wrap_indents_and_cuts_words_that_are_longer_than_a_line():
    assert wrap("one two three", 10, first="- ", rest="  ") == ["- one two", "  three"]
    assert wrap("x" * 25, 12, first="  ", rest="  ") == ["  " + "x" * 10, "  " + "x" * 10, "  " + "x" * 5]
    assert wrap("", 10, first="- ") == []


def test_ink_leaves_text_alone_without_colour():
    assert Ink(False)("bad", "BAD") == "BAD"
    assert Ink(True)("bad", "BAD") == "\x1b[1;31mBAD\x1b[0m"
    assert Ink(True)("spare", "spare") == "spare"
    assert Ink(True)("bad", "   ") == "   "


@pytest.mark.parametrize(
    ("seconds", "words"),
    [
        (-3600, "dated in the future (check the clocks)"),
        (-20, "made just now"),
        (119, "made just now"),
        (120, "2 minutes old"),
        (7199, "119 minutes old"),
        (7200, "2 hours old"),
        (47 * 3600, "47 hours old"),
        (48 * 3600, "2 days old"),
        (59 * 86400, "59 days old"),
        (157 * 86400, "5 months old"),
        (800 * 86400, "2 years old"),
    ],
)
def test_age(seconds, words):
    assert phrases.age(seconds) == words


@pytest.mark.parametrize(
    ("value", "level", "change"),
    [(-0.04, "0.0", "0"), (-3.25, "-3.2", "-3.2"), (10.0, "10.0", "+10"), (None, "-", ""), (-10.0, "-10.0", "-10")],
)
def test_figures(value, level, change):
    assert phrases.level(value) == level
    assert phrases.change(value) == change


def test_settings_are_read_as_on_the_preamp():
    assert [phrases.setting(value) for value in (38.0, 27.5, None)] == ["38", "27.5", "?"]


def test_depths_that_differ_are_all_named():
    made = report()
    take = replace(made.show.take, tracks=(track(1), track(2, bits=16), track(3, bits=32, is_float=True)))
    assert phrases.depth(replace(made, show=replace(made.show, take=take))) == "16 bit and 24 bit and 32-bit float"


def test_the_verdict_by_channel():
    assert verdict.verdict(report()) == (
        "NOT READY: 3 of 9 channels not to be relied on (2, 6, 9), 1 to look at (5), 3 good, 1 spare, 1 not judged."
    )
    ready = report(findings=(), states={**dict.fromkeys(STATES, "good"), 5: "look", 7: "spare"})
    assert verdict.verdict(ready) == "READY: 1 to look at (5), 7 good, 1 spare, of 9 channels."


def test_the_judged_part():
    made = report()
    assert phrases.judged_part(made) == "levels judged from 1:30 to 10:00"
    whole = replace(made, show=replace(made.show, judged_from_s=0.0, judged_to_s=600.0))
    assert phrases.judged_part(whole) == "levels judged on all of it"


def test_a_take_says_what_it_is():
    made = report()
    now = replace(made, show=replace(made.show, now=RECORDED))
    assert phrases.take_facts(now) == "audio, a soundcheck, made just now, 7 tracks, 48 kHz, 24 bit, 10:00 long"


@pytest.mark.parametrize("module", [cells, phrases, as_routes, replay.text])
def test_examples_in_docstrings(module):
    done = doctest.testmod(module)
    assert done.attempted > 0
    assert done.failed == 0
