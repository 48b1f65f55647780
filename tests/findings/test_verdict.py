from __future__ import annotations

import pytest

from replay.checks import find_all
from replay.findings.finding import Finding
from replay.findings.verdict import report
from replay.patch.model import Socket
from tests.checks.factory import Session, runs


def judged(session):
    show = session.show()
    return report(show, find_all(show))


def test_the_good_session_is_ready():
    answer = judged(Session())
    assert answer.verdict == "ready"
    assert answer.findings == ()
    assert dict(answer.states) == {**dict.fromkeys(range(1, 8), "good"), 8: "spare"}


def test_a_fault_makes_its_channel_bad_and_the_take_not_ready():
    session = Session()
    session.silence(7)
    answer = judged(session)
    assert (answer.verdict, answer.states[7], answer.states[6]) == ("not-ready", "bad", "good")


def test_a_warning_is_to_be_looked_at_and_still_ready():
    session = Session()
    session.tracks[7].clipping = runs((1, 0.1))
    answer = judged(session)
    assert (answer.verdict, answer.states[7]) == ("ready", "look")


def test_the_worse_of_two_counts():
    session = Session()
    session.tracks[7].clipping = runs((1, 0.9))
    session.channels[7]["trim"] = 12.0
    assert judged(session).states[7] == "bad"


def test_a_note_leaves_a_channel_good():
    session = Session()
    session.channels[9] = {"name": "Vocal mon", "socket": Socket("riser", 7)}
    assert judged(session).states[7] == "good"


@pytest.mark.parametrize("use", ["may", "off"])
def test_a_silent_spare_is_a_spare(use):
    session = Session()
    session.channels[8]["use"] = use
    session.silence(8)
    answer = judged(session)
    assert (answer.verdict, answer.states[8]) == ("ready", "spare")


def test_a_spare_with_a_fault_is_bad():
    session = Session()
    session.tracks[8].clipping = runs((1, 0.9))
    assert judged(session).states[8] == "bad"


def test_what_no_track_feeds_is_unjudged():
    session = Session()
    session.channels[6]["playback"] = "live"
    session.channels[9] = {"name": "Return"}
    answer = judged(session)
    assert (answer.states[6], answer.states[9]) == ("unjudged", "unjudged")


def test_a_fault_of_no_channel_is_enough():
    session = Session()
    lost = Finding(code="unreadable", severity="fault", confidence="certain", message="m.", action="a.")
    answer = report(session.show(), [lost])
    assert answer.verdict == "not-ready"
    assert set(answer.states.values()) == {"good", "spare"}
