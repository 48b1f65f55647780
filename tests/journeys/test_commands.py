"""The commands end to end: what is typed, what is printed, and the exit status.

`check`'s answer is hand-made here (tests/report/shows.py), so that these tests are about the commands alone.
"""

from __future__ import annotations

import errno
import json
import os
import re
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest

import replay
from replay import cli, report
from replay.errors import PatchError, Place, Problem, TakeError
from replay.report import as_json, as_text, verdict
from tests.report.shows import STATES
from tests.report.shows import report as small_show

ROOT = Path(replay.__file__).parent.parent


class Simulation:
    """Stands where `replay.simulate` stands: answers, or fails, and remembers how it was asked."""

    def __init__(self) -> None:
        self.answer: object = small_show()
        self.asked: dict[str, object] = {}

    def check(self, show, **how):
        self.asked = {"show": show, **how}
        if isinstance(self.answer, BaseException):
            raise self.answer
        return self.answer


@pytest.fixture
def simulation(monkeypatch) -> Simulation:
    made = Simulation()
    monkeypatch.setitem(sys.modules, "replay.simulate", made)
    monkeypatch.setattr(replay, "simulate", made, raising=False)
    monkeypatch.setenv("COLUMNS", "80")
    return made


def ready():
    return small_show(findings=(), states=dict.fromkeys(STATES, "good"))


def test_a_fault_ends_with_status_1_and_the_text_on_standard_output(simulation, capsys):
    assert cli.run(["check", "show"]) == 1
    out, err = capsys.readouterr()
    assert out == as_text.text(small_show(), cells=80)
    assert err == ""


def test_no_fault_ends_with_status_0(simulation, capsys):
    simulation.answer = ready()
    assert cli.run(["check", "show"]) == 0
    assert capsys.readouterr().out.startswith("READY: ")


def test_quiet_prints_the_verdict_only(simulation, capsys):
    assert cli.run(["check", "show", "--quiet"]) == 1
    assert capsys.readouterr().out == verdict.verdict(small_show()) + "\n"


def test_options_arrive_as_values(simulation):
    cli.run(
        [
            "check",
            "show",
            "--take",
            "friday",
            "--from",
            "4:30",
            "--to",
            "1:02:05.5",
            "--trim",
            "7=-3.5",
            "--trim",
            "8=+2",
        ]
        + ["--gain", "7 = 28", "--gain", "9=3,5", "--fresh"]
    )
    asked = dict(simulation.asked)
    assert callable(asked.pop("progress"))
    assert asked == {
        "show": "show",
        "take": "friday",
        "from_s": 270.0,
        "to_s": 3725.5,
        "trims": {7: -3.5, 8: 2.0},
        "gains": {7: 28.0, 9: 3.5},
        "fresh": True,
        "kept_in": None,
    }


def test_without_options_nothing_is_overridden(simulation):
    cli.run(["check", "show"])
    del simulation.asked["progress"]
    assert simulation.asked == {
        "show": "show",
        "take": None,
        "from_s": None,
        "to_s": None,
        "trims": {},
        "gains": {},
        "fresh": False,
        "kept_in": None,
    }


def test_all_wrong_values_are_told_at_once_and_nothing_is_measured(simulation, capsys, tmp_path):
    words = ["--from", "4:99", "--to", "soon", "--trim", "7", "--trim", "8=4", "--trim", "8=5", "--gain", "9=1000"]
    assert cli.run(["check", "show", *words, "--json", str(tmp_path), "--csv", str(tmp_path / "no" / "no")]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err.splitlines() == [
        "replay: --from: not a time: 4:99 (minutes and seconds go up to 59, such as 1:02:05)",
        "replay: --to: not a time: soon (write minutes and seconds, such as 4:30)",
        "replay: --trim: not a channel and a setting: 7 (write --trim 7=-3.5)",
        "replay: --trim: channel 8 is given twice (give each channel once)",
        "replay: --gain: 1000 dB on channel 9 is beyond any desk (give it in dB)",
        f"replay: {tmp_path}: is a folder (give the name of a file)",
        f"replay: {tmp_path}/no/no: cannot be written "
        "(that folder does not exist: make it first, or give another place)",
    ]
    assert simulation.asked == {}


def test_a_part_that_ends_before_it_begins(simulation, capsys):
    assert cli.run(["check", "show", "--from", "5:00", "--to", "4:00"]) == 2
    assert capsys.readouterr().err == "replay: --to: 4:00 is not after --from 5:00 (give a later time)\n"


@pytest.mark.parametrize(
    ("written", "seconds"),
    [("0", 0.0), ("270", 270.0), ("90.25", 90.25), ("4:30", 270.0), ("4:30,5", 270.5), ("90:00", 5400.0)],
)
def test_times(simulation, written, seconds):
    cli.run(["check", "show", "--from", written])
    assert simulation.asked["from_s"] == seconds


@pytest.mark.parametrize("written", ["", "-4:30", "4:", "1:60:00", "1:2:3:4", "4.30.1", "４:30", "nan", "inf", "1e3"])
def test_what_is_no_time(simulation, capsys, written):
    assert cli.run(["check", "show", f"--from={written}"]) == 2
    assert "not a time" in capsys.readouterr().err


@pytest.mark.parametrize("written", ["", "7", "=3", "7=", "7=x", "-7=3", "7=nan", "7=1e3", "7=--3", "٣=1"])
def test_what_is_no_setting(simulation, capsys, written):
    assert cli.run(["check", "show", f"--trim={written}"]) == 2
    assert "not a channel and a setting" in capsys.readouterr().err


def test_json_and_csv_beside_the_text(simulation, capsys, tmp_path):
    assert cli.run(["check", "show", "--json", str(tmp_path / "r.json"), "--csv", str(tmp_path / "sheets")]) == 1
    assert capsys.readouterr().out == as_text.text(small_show(), cells=80)
    assert (tmp_path / "r.json").read_text(encoding="utf-8") == as_json.text(small_show())
    assert sorted(os.listdir(tmp_path / "sheets")) == ["channels.csv", "findings.csv", "stage-sheet.csv"]


def test_json_on_standard_output_is_alone_there(simulation, capsys):
    assert cli.run(["check", "show", "--json", "-"]) == 1
    assert json.loads(capsys.readouterr().out)["verdict"] == "not-ready"


def test_each_format_is_an_option_of_check(capsys):
    assert cli.run(["check", "--help"]) == 0
    page = capsys.readouterr().out
    for one in report.FORMATS:
        assert f"{one.OPTION} {one.METAVAR}" in page


def test_every_help_has_an_example(capsys):
    for command in ("check", "routes", "explain", "demo", "kept"):
        assert cli.run([command, "--help"]) == 0
        assert f"Example: replay {command} " in capsys.readouterr().out


def test_the_answer_is_given_even_if_a_file_cannot_be_written(simulation, capsys, tmp_path, monkeypatch):
    def full(*_):
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    assert cli.run(["check", "show", "--json", str(tmp_path / "r.json"), "--csv", str(tmp_path)]) == 2
    out, err = capsys.readouterr()
    assert out == as_text.text(small_show(), cells=80)
    hint = "No space left on device (the disk is full: make room, or give a place on another disk)"
    assert err.splitlines() == [
        f"replay: {tmp_path}/r.json: cannot be written: {hint}",
        f"replay: {tmp_path}/channels.csv: cannot be written: {hint}",
    ]
    assert os.listdir(tmp_path) == []


def test_all_problems_of_a_patch_are_told(simulation, capsys):
    problems = [Problem("no such key: sokcet", Place("inputs.csv", 3), "did you mean socket?"), Problem("empty")]
    simulation.answer = PatchError(problems)
    assert cli.run(["check", "show"]) == 2
    assert capsys.readouterr().err == (
        "replay: inputs.csv, line 3: no such key: sokcet (did you mean socket?)\nreplay: empty\n"
    )


@pytest.mark.parametrize(
    ("error", "message"),
    [
        (TakeError("no take\x1b[2J"), "replay: no take?[2J"),
        (FileNotFoundError(2, "No such file or directory", "a\nb"), "replay: a?b: No such file or directory"),
        (OSError("odd"), "replay: odd"),
        (MemoryError(), "replay: this machine has not enough memory for it (close other programs and try again)"),
    ],
)
def test_what_goes_wrong_is_one_line_and_status_2(simulation, capsys, error, message):
    simulation.answer = error
    assert cli.run(["check", "show"]) == 2
    assert capsys.readouterr().err == message + "\n"


def test_a_defect_of_ours_is_told_without_a_traceback_and_kept_in_a_file(simulation, capsys, tmp_path, monkeypatch):
    import tempfile

    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    simulation.answer = ZeroDivisionError("division by zero")
    assert cli.run(["check", "show"]) == 2
    err = capsys.readouterr().err
    (kept,) = tmp_path.iterdir()
    assert err.splitlines() == [
        "replay: this should not have happened: ZeroDivisionError: division by zero",
        f"replay: it is a defect of this program; please report it and send {kept} along",
    ]
    assert "called with ['check', 'show']" in kept.read_text()
    assert "Traceback" in kept.read_text()


def test_interrupted_while_working(simulation, capsys):
    simulation.answer = KeyboardInterrupt()
    assert cli.run(["check", "show"]) == 130
    assert capsys.readouterr().err == "Interrupted.\n"


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (["check"], r"replay: Missing argument 'SHOW' \(see replay check --help\)"),
        (["chekc", "x"], r"replay: No such command 'chekc'.*\(see replay --help\)"),
        (["check", "x", "--frm", "3"], r"replay: No such option: --frm.*\(see replay check --help\)"),
        (["demo", "x", "--minutes", "0"], r"replay: Invalid value for '--minutes'.*\(see replay demo --help\)"),
        (["routes", "x", "\x1b[2J"], r"replay: Got unexpected extra argument[^\x1b]*\(see replay routes --help\)"),
    ],
)
def test_calls_that_cannot_be_understood(capsys, words, message):
    assert cli.run(words) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert re.fullmatch(message + "\n", err)


def test_no_words_at_all_print_the_help(capsys):
    assert cli.run([]) == 2
    out, err = capsys.readouterr()
    assert "Begin with: replay check SHOW" in out + err


def test_explain_lists_all_codes_and_prints_a_page(capsys):
    from replay.checks import CHECKS

    assert cli.run(["explain"]) == 0
    listed = [line.split("  ")[0] for line in capsys.readouterr().out.splitlines()]
    assert listed == sorted(check.CODE for check in CHECKS)
    assert cli.run(["explain", "clipped"]) == 0
    page = capsys.readouterr().out
    assert page.startswith("clipped: the recording is clipped\n")
    assert "What to do\n" in page


def test_explain_knows_what_was_nearly_typed(capsys):
    assert cli.run(["explain", "cliped"]) == 2
    assert "clipped" in capsys.readouterr().err


SHOW = {
    "patch.toml": """\
title = "Mill Yard"
rate = 48000

[[box]]
name = "deck"
sockets = 8

[[link]]
name = "main"
slots = 8

[[feed]]
box = "deck"
sockets = "1-4"
link = "main"
slots = "1-4"
""",
    "inputs.csv": "channel,name,box,socket\n1,Kick,deck,1\n2,Bass,deck,2\n3,Caller,deck,7\n",
}


@pytest.fixture
def folder(tmp_path) -> Path:
    for name, content in SHOW.items():
        (tmp_path / name).write_text(content)
    return tmp_path


def test_routes_of_a_folder_and_of_its_patch_file(folder, capsys, monkeypatch):
    monkeypatch.setenv("COLUMNS", "100")
    assert cli.run(["routes", str(folder)]) == 0
    page = capsys.readouterr().out
    assert " 1  Kick    deck 1  preamp    1     1      1\n" in page
    assert "NOT RECORDED\ndeck (no feed carries these sockets):\n  7: channel 3 Caller\n" in page
    # 2^31 / (48000 x 3 x 2 slots) = 7456.5 s
    assert "2 slots in use at 48 kHz, 24 bit:\n" in page
    assert "reaches 2 GiB after 2:04:16" in page
    assert re.search(r"hours on the disk of .* \([0-9.]+ GB free\)", " ".join(page.split()))
    assert cli.run(["routes", str(folder / "patch.toml")]) == 0
    assert " 1  Kick    deck 1  preamp " in capsys.readouterr().out


def test_routes_of_nothing(tmp_path, capsys):
    assert cli.run(["routes", str(tmp_path / "nothing")]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err.startswith("replay: ")


@pytest.mark.parametrize(
    ("typed", "offered"),
    [("replay ch", {"check"}), ("replay explain clo", {"clock-slip"}), ("replay check --qu", {"--quiet"})],
)
def test_the_shell_can_complete(typed, offered):
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "_REPLAY_COMPLETE": "complete_bash", "COMP_WORDS": typed}
    environment["COMP_CWORD"] = str(typed.count(" "))
    done = subprocess.run([sys.executable, "-m", "replay"], env=environment, capture_output=True, text=True)
    assert (set(done.stdout.split()), done.stderr) == (offered, "")


def test_states_of_a_changed_show_reach_the_first_line(simulation, capsys):
    simulation.answer = replace(ready(), states={**dict.fromkeys(STATES, "good"), 3: "look"})
    cli.run(["check", "show"])
    assert capsys.readouterr().out.startswith("READY: 1 to look at (3), 8 good, of 9 channels.\n")
