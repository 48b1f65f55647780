"""Width, colour and the line of progress."""

from __future__ import annotations

import io

import pytest

from replay import terminal


class Screen(io.StringIO):
    """A standard stream that says it is a terminal."""

    def isatty(self) -> bool:
        return True


@pytest.mark.parametrize(("columns", "cells"), [("132", 132), ("", 80), ("0", 80), ("wide", 80), ("99999999", 80)])
def test_width(monkeypatch, columns, cells):
    monkeypatch.setenv("COLUMNS", columns)
    monkeypatch.setattr("sys.stdout", io.StringIO())
    assert terminal.cells() == cells


def test_colour_only_on_a_terminal_that_wants_it(monkeypatch):
    monkeypatch.delenv("NO_COLOR", raising=False)
    monkeypatch.setenv("TERM", "xterm")
    monkeypatch.setattr("sys.stdout", io.StringIO())
    assert not terminal.takes_colour()
    monkeypatch.setattr("sys.stdout", Screen())
    assert terminal.takes_colour()
    monkeypatch.setenv("TERM", "dumb")
    assert not terminal.takes_colour()
    monkeypatch.setenv("TERM", "xterm")
    monkeypatch.setenv("NO_COLOR", "1")
    assert not terminal.takes_colour()


@pytest.fixture
def clock(monkeypatch):
    """A clock that stands until it is set."""
    now = [100.0]
    monkeypatch.setattr(terminal.time, "monotonic", lambda: now[0])
    return now


def test_progress_says_nothing_in_the_first_second_nor_into_a_pipe(monkeypatch, clock):
    screen, pipe = Screen(), io.StringIO()
    for stream in (screen, pipe):
        monkeypatch.setattr("sys.stderr", stream)
        with terminal.Progress() as progress:
            progress(0.1, "reading")
            clock[0] += 0.9
            progress(0.2, "reading")
    assert screen.getvalue() == pipe.getvalue() == ""
    monkeypatch.setattr("sys.stderr", pipe)
    with terminal.Progress() as progress:
        clock[0] += 5
        progress(0.5, "reading")
    assert pipe.getvalue() == ""


def test_progress_fills_one_line_and_wipes_it(monkeypatch, clock):
    screen = Screen()
    monkeypatch.setattr("sys.stderr", screen)
    with terminal.Progress() as progress:
        clock[0] += 1.5
        progress(0.416, "reading 12 Bass\x1b[2J\n")
        progress(0.417, "too soon after the last")
        clock[0] += 0.2
        progress(7.0, "done")
    lines = screen.getvalue().split("\r")
    assert [line.rstrip() for line in lines] == ["", " 42 %  reading 12 Bass?[2J?", "100 %  done", "\x1b[K"]
    assert {len(line) for line in lines[1:3]} == {79}


def test_a_line_that_is_not_wanted_is_wiped_even_when_interrupted(monkeypatch, clock):
    screen = Screen()
    monkeypatch.setattr("sys.stderr", screen)

    def work():
        with terminal.Progress() as progress:
            clock[0] += 2
            progress(0.5, "reading")
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        work()
    assert screen.getvalue().endswith("\r\x1b[K")


def test_a_closed_standard_stream_is_no_error(monkeypatch):
    monkeypatch.setattr("sys.stdout", None)
    monkeypatch.setattr("sys.stderr", None)
    terminal.say("x")
    terminal.complain("x")
    assert terminal.cells() > 0
    assert not terminal.takes_colour()


def test_messages_are_broken_between_words_on_a_terminal_and_nowhere_else(monkeypatch):
    monkeypatch.setenv("COLUMNS", "30")
    path = "/a/path/that/is/longer/than/the/line/patch.toml"
    said = f"replay: {path}: does not exist (it is looked for in vain)"
    screen, pipe = Screen(), io.StringIO()
    monkeypatch.setattr("sys.stderr", screen)
    terminal.complain(said)
    assert screen.getvalue() == f"replay:\n{path}:\ndoes not exist (it is looked\nfor in vain)\n"
    monkeypatch.setattr("sys.stderr", pipe)
    terminal.complain(said)
    assert pipe.getvalue() == said + "\n"
