"""Checking again: only after a change, and only once it has come to rest."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from replay.errors import TakeError
from replay.watching import LOOK_EVERY_S, REST_S, check_again, state_of
from tests.patch.good import Show


class Evening:
    """A clock that moves while one waits, and things that happen at given times; the end is an interruption."""

    def __init__(self, happenings: dict[float, object], end: float) -> None:
        self.now = 0.0
        self.happenings = dict(happenings)
        self.end = end

    def clock(self) -> float:
        return self.now

    def wait(self, seconds: float) -> None:
        self.now += seconds
        for at in sorted(self.happenings):
            if at <= self.now:
                self.happenings.pop(at)()
        if self.now >= self.end:
            raise KeyboardInterrupt


@pytest.fixture
def show(tmp_path: Path) -> Path:
    made = Show(tmp_path)
    made.read()
    (tmp_path / "audio").mkdir(exist_ok=True)
    (tmp_path / "audio" / "01.wav").write_bytes(bytes(100))
    return tmp_path


def checks(show: Path, happenings, end: float, statuses=(0,)) -> tuple[list[float], int]:
    """When checks were made, and the status in the end."""
    evening = Evening(happenings, end)
    at: list[float] = []
    left = list(statuses)

    def check() -> int:
        at.append(evening.now)
        status = left.pop(0) if len(left) > 1 else left[0]
        if isinstance(status, BaseException):
            raise status
        return status

    return at, check_again(str(show), check, wait=evening.wait, clock=evening.clock)


def grow(show: Path):
    def happen() -> None:
        with open(show / "audio" / "01.wav", "ab") as file:
            file.write(bytes(1000))

    return happen


def test_nothing_changes_nothing_is_checked_again(show):
    assert checks(show, {}, 600) == ([0.0], 0)


def test_a_recording_is_checked_once_it_has_come_to_rest(show):
    growing = {float(t): grow(show) for t in range(21, 120, 3)}
    at, status = checks(show, growing, 600, statuses=(1, 0))
    assert len(at) == 2
    assert 117 + REST_S <= at[1] <= 117 + REST_S + 3 * LOOK_EVERY_S
    assert status == 0


@pytest.mark.parametrize("name", ["patch.toml", "inputs.csv"])
def test_a_change_of_the_patch_counts(show, name):
    at, _ = checks(show, {50.0: lambda: os.utime(show / name, (1, 1))}, 300)
    assert len(at) == 2


@pytest.mark.parametrize("name", ["report.json", "page.html", "confirmed.csv", "notes.txt"])
def test_what_a_check_does_not_read_does_not_count(show, name):
    at, _ = checks(show, {50.0: lambda: (show / name).write_text("x")}, 300)
    assert at == [0.0]


def test_a_change_that_is_taken_back_is_none(show):
    before = os.stat(show / "audio" / "01.wav")

    def back() -> None:
        os.truncate(show / "audio" / "01.wav", before.st_size)
        os.utime(show / "audio" / "01.wav", ns=(before.st_atime_ns, before.st_mtime_ns))

    at, _ = checks(show, {50.0: grow(show), 54.0: back}, 300)
    assert at == [0.0]


def test_a_new_take_and_a_removed_one(show):
    def second() -> None:
        (show / "audio" / "later").mkdir()
        (show / "audio" / "later" / "01.wav").write_bytes(bytes(50))

    at, _ = checks(show, {50.0: second, 150.0: (show / "audio" / "01.wav").unlink}, 300)
    assert len(at) == 3


def test_what_cannot_be_answered_yet_is_told_and_waited_for(show, capsys):
    at, status = checks(show, {50.0: grow(show)}, 300, statuses=(TakeError("there is no take in audio"), 1))
    out, err = capsys.readouterr()
    assert (len(at), status) == (2, 1)
    assert err == "replay: there is no take in audio\n"
    assert out.count("Waiting for the take or the patch to change (Ctrl-C ends).") == 2


def test_interrupted_before_any_answer(show):
    assert checks(show, {}, 10, statuses=(TakeError("no take"),)) == ([0.0], 2)


def test_a_show_that_is_not_there_has_a_state(tmp_path):
    assert state_of(str(tmp_path / "no")) == frozenset()
