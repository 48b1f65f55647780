from __future__ import annotations

import pytest

from replay.checks import old_take
from tests.checks.factory import Session


@pytest.mark.parametrize(("hours", "words"), [(36, "36 hours"), (24 * 9, "9 days"), (24 * 40, "5 weeks")])
def test_an_old_soundcheck_is_a_note(hours, words):
    session = Session()
    session.age_h = hours
    (finding,) = old_take.check(session.show())
    assert finding.severity == "note"
    assert finding.message == f"The take audio is {words} old."
    assert (finding.amount, finding.unit) == (hours, "h")


def test_others_beside_it_are_mentioned():
    session = Session()
    session.age_h, session.others = 50, ("friday", "saturday")
    (finding,) = old_take.check(session.show())
    assert finding.message == "The take audio is 2 days old. 2 other takes lie beside it."


@pytest.mark.parametrize(
    ("hours", "of"), [(35.9, "soundcheck"), (0, "line-check"), (24 * 30, "show"), (-5, "soundcheck")]
)
def test_keeps_quiet(hours, of):
    session = Session()
    session.age_h, session.of = hours, of
    assert list(old_take.check(session.show())) == []


def test_the_limit_is_the_patchs():
    session = Session()
    session.age_h, session.limits = 30, {"old_take_hours": 24.0}
    assert len(list(old_take.check(session.show()))) == 1
