"""The commands for listening answer at once, load nothing heavy to do so, and say how they are called."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

import replay
from replay import cli

ROOT = Path(replay.__file__).parent.parent
COMMANDS = ("hear", "confirm", "play", "render", "ident")


@pytest.mark.parametrize("command", COMMANDS)
def test_every_help_has_an_example_and_every_option_a_word(command, capsys):
    assert cli.run([command, "--help"]) == 0
    page = capsys.readouterr().out
    assert f"Example: replay {command} " in " ".join(page.split())


def test_help_loads_no_audio():
    program = (
        "import sys, contextlib, io\nfrom replay.cli import run\n"
        f"with contextlib.redirect_stdout(io.StringIO()):\n    [run([c, '--help']) for c in {COMMANDS!r}]\n"
        "print(sorted({'numpy', 'scipy', 'numba', 'soundfile', 'sounddevice', 'soxr'} & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", program], cwd=ROOT, capture_output=True, text=True, timeout=60)
    assert done.stdout == "[]\n"


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (["hear", "x", "3", "--bus", "main"], "--bus: channels and a bus at once (hear one or the other)"),
        (
            ["hear", "x", "--finding", "hot-ch1", "--from", "soon"],
            "--from: not a time: soon (write minutes and seconds, such as 4:30)",
        ),
        (["render", "x", "y", "--gain", "7"], "--gain: not a channel and a setting: 7 (write --gain 7=-3.5)"),
        (["play", "x", "--device", "d", "--to", "1:99"],
         "--to: not a time: 1:99 (minutes and seconds go up to 59, such as 1:02:05)"),
        (["confirm", "x"], "confirm asks questions, and nobody is there to answer (run it in a terminal)"),
    ],
)  # fmt: skip
def test_calls_that_make_no_sense(words, message, capsys, monkeypatch):
    monkeypatch.setattr(sys, "stdin", None)
    assert cli.run(words) == 2
    assert f"replay: {message}" in capsys.readouterr().err.splitlines()


def test_a_level_that_is_too_loud_to_begin_with(capsys):
    assert cli.run(["hear", "x", "--level", "-10"]) == 2
    assert "Invalid value for '--level'" in capsys.readouterr().err
