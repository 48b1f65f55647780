"""Every example of README.md, DEVELOPERS.md and docs/ does what the page says."""

from __future__ import annotations

import doctest
import os
import re
import shutil
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest
import typer

from replay.cli import app
from tests.docs.examples import Block, agrees, blocks, commands, holds

ROOT = Path(__file__).parents[2]
PAGES = [ROOT / "README.md", ROOT / "DEVELOPERS.md", *sorted((ROOT / "docs").glob("*.md"))]

BY_HAND = {"README.md", "DEVELOPERS.md", "speed.md"}
"""Pages with `sh` blocks: commands that set a machine up or run for minutes. `.ci/run` runs those of the README."""


def folder_for(page: Path, place: Path) -> Path:
    """A folder as the examples expect it: with the demo show of a fresh clone in it."""
    shutil.copytree(ROOT / "demo_audio", place / "demo_audio")
    return place


def surroundings() -> dict[str, str]:
    """The environment of the examples: 80 columns, no colour, and `replay` and `python` of this very installation."""
    bin_folder = str(Path(sys.executable).parent)
    kept = {name: value for name, value in os.environ.items() if not name.startswith(("COLUMNS", "LINES", "PYTEST"))}
    return kept | {"PATH": bin_folder + os.pathsep + kept.get("PATH", ""), "COLUMNS": "80", "NO_COLOR": "1"}


def run_console(block: Block, folder: Path) -> str:
    """Types the commands of a block; returns what the last of them printed."""
    printed = ""
    for typed in commands(block):
        done = subprocess.run(
            ["bash", "-c", typed.command],
            cwd=folder,
            env=surroundings(),
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            encoding="utf-8",
            timeout=300,
        )
        printed = done.stdout
        where = f"line {typed.line}: {typed.command}"
        assert agrees(typed.printed, printed), f"{where}\nprints\n{printed}\nnot\n{typed.printed}"
        assert done.returncode in (0, 1), f"{where}\nends with status {done.returncode}\n{printed}"
    return printed


def run_python(block: Block, folder: Path, names: dict[str, object]) -> None:
    if ">>>" not in block.text:
        exec(compile(block.text, f"line {block.line}", "exec"), names)
        return
    test = doctest.DocTestParser().get_doctest(block.text, names, "example", None, block.line)
    told: list[str] = []
    runner = doctest.DocTestRunner(verbose=False, optionflags=doctest.ELLIPSIS)
    result = runner.run(test, out=told.append, clear_globs=False)
    names.update(test.globs)
    assert result.failed == 0, "".join(told)


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_examples(page: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    run = ("console", "text", "python")
    found = [block for block in blocks(page.read_text(encoding="utf-8")) if block.language in run]
    if not found:
        return
    if shutil.which("bash") is None:
        pytest.skip("the examples are typed into bash, which is not here")
    folder = folder_for(page, tmp_path)
    monkeypatch.chdir(folder)
    for name in ("PATH", "COLUMNS", "NO_COLOR"):
        monkeypatch.setenv(name, surroundings()[name])
    names: dict[str, object] = {}
    printed = ""
    for block in found:
        if block.language == "console":
            printed = run_console(block, folder)
        elif block.language == "text":
            assert holds(printed, block.text), f"line {block.line}: this is not in\n{printed}"
        else:
            run_python(block, folder, names)


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_every_block_says_what_it_is(page: Path) -> None:
    """A block that no test looks at would rot: only these kinds exist, and each of them is held to something."""
    known = {"console", "text", "python", "toml", "csv", "json"} | ({"sh"} if page.name in BY_HAND else set())
    strange = [(block.line, block.language) for block in blocks(page.read_text(encoding="utf-8"))]
    assert [one for one in strange if one[1] not in known] == []


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_toml_can_be_read(page: Path) -> None:
    for block in blocks(page.read_text(encoding="utf-8")):
        if block.language == "toml":
            assert tomllib.loads(block.text), f"line {block.line} holds nothing"


def test_the_readme_sets_up_with_the_commands_that_ci_runs() -> None:
    said = [block.text.strip() for block in blocks((ROOT / "README.md").read_text("utf-8")) if block.language == "sh"]
    assert len(said) == 2
    assert [one.startswith("python3 -m venv .venv && ") for one in said] == [True, True]
    assert said[0].endswith("replay check demo_audio")
    assert said[1].endswith("pytest -q")


def options() -> set[str]:
    """Every option of every command."""
    command = typer.main.get_command(app)
    found = {"--help"}
    for one in (command, *command.commands.values()):  # type: ignore[attr-defined]
        found.update(name for parameter in one.params for name in parameter.opts)
    return found


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_no_page_names_an_option_or_a_command_that_does_not_exist(page: Path) -> None:
    lines = page.read_text(encoding="utf-8").splitlines()
    text = "\n".join(line for line in lines if "python -m tests" not in line)
    commands_there = set(typer.main.get_command(app).commands)  # type: ignore[attr-defined]
    named = set(re.findall(r"(?:`|\$ )replay ([a-z]+)", text))
    assert sorted(named - commands_there) == []
    if page.name not in BY_HAND:  # those speak of other programs' options too
        assert sorted(set(re.findall(r"(?<![\w-])--[a-z][a-z-]+", text)) - options()) == []


@pytest.mark.parametrize(
    ("said", "printed", "same"),
    [
        ("one\ntwo\n", "one\ntwo\n", True),
        ("one  \n\n", "one\n", True),
        ("one\n", "two\n", False),
        ("one\n...\nfour\n", "one\ntwo\nthree\nfour\n", True),
        ("one\n...\nfour\n", "one\nfour\n", True),
        ("one\n...\n", "two\n", False),
        ("is ... old\n", "is 5 months old\n", True),
        ("is ... old\n", "is 5\nmonths old\n", False),
        ("a.c\n", "abc\n", False),
        ("", "something\n", False),
    ],
)
def test_agreement(said: str, printed: str, same: bool) -> None:
    assert agrees(said, printed) is same


@pytest.mark.parametrize(
    ("said", "same"), [("two\n", True), ("one\n...\nthree\n", True), ("wo\n", False), ("two\nfour\n", False)]
)
def test_a_stretch(said: str, same: bool) -> None:
    assert holds("one\ntwo\nthree\nfour\n", said) is same


def test_commands_of_a_block() -> None:
    block = Block("console", "$ one\nprinted\n\nmore\n$ two\n> and on\n", 10)
    assert [(c.command, c.printed, c.line) for c in commands(block)] == [
        ("one", "printed\n\nmore\n", 10),
        ("two\nand on", "", 14),
    ]
    with pytest.raises(ValueError, match="line 3: 'printed' stands before any command"):
        commands(Block("console", "printed\n$ one\n", 3))
