"""Several shows in one call: a line each, one status."""

from __future__ import annotations

import sys
from dataclasses import replace

import pytest

import replay
from replay import cli
from replay.errors import TakeError
from replay.report import verdict
from tests.report.shows import STATES
from tests.report.shows import report as small_show


class Shows:
    """Stands where `replay.simulate` stands."""

    def __init__(self, answers: dict[str, object]) -> None:
        self.answers = answers
        self.asked: list[str] = []

    def check(self, show, **how):
        self.asked.append(show)
        answer = self.answers[show]
        if isinstance(answer, BaseException):
            raise answer
        return answer


READY = small_show(findings=(), states=dict.fromkeys(STATES, "good"))
NOT_READY = small_show()


@pytest.fixture
def shows(monkeypatch):
    made = Shows(
        {
            "friday": READY,
            "saturday": NOT_READY,
            "sunday": TakeError("there is no take in sunday/audio"),
            "gone": OSError(5, "Input/output error"),
            "monday": replace(READY),
        }
    )
    monkeypatch.setitem(sys.modules, "replay.simulate", made)
    monkeypatch.setattr(replay, "simulate", made, raising=False)
    return made


@pytest.mark.parametrize(
    ("called", "status"),
    [
        (["friday", "monday"], 0),
        (["friday", "saturday"], 1),
        (["saturday", "sunday", "friday"], 2),
        (["gone", "friday"], 2),
    ],
)
def test_one_status_for_all(shows, called, status):
    assert cli.run(["check", *called]) == status
    assert shows.asked == called


def test_a_line_each_and_what_failed_on_standard_error(shows, capsys):
    cli.run(["check", "friday", "sunday", "saturday", "gone"])
    out, err = capsys.readouterr()
    assert out == f"friday: {verdict.verdict(READY)}\nsaturday: {verdict.verdict(NOT_READY)}\n"
    assert err == "sunday: there is no take in sunday/audio\ngone: Input/output error\n"


def test_reports_and_watching_are_for_one_show_at_a_time(shows, capsys):
    assert cli.run(["check", "friday", "saturday", "--json", "-", "--watch"]) == 2
    assert capsys.readouterr().err.splitlines() == [
        "replay: --watch: works with one show at a time (give one SHOW)",
        "replay: --json: works with one show at a time (give one SHOW)",
    ]
    assert shows.asked == []
