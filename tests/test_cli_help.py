"""The help pages: one layout for all commands, each with an example, and all commands in the order of use."""

from __future__ import annotations

import re

import pytest

from replay import cli
from replay.cli_help import ORDER

USAGE = {
    "check": "[OPTIONS] SHOW...",
    "draft": "[OPTIONS] FOLDER",
    "compare": "[OPTIONS] A B",
    "routes": "[OPTIONS] SHOW",
    "explain": "[OPTIONS] [CODE]",
    "hear": "[OPTIONS] SHOW [CHANNEL]...",
    "confirm": "[OPTIONS] SHOW [CHANNEL]...",
    "play": "[OPTIONS] SHOW",
    "render": "[OPTIONS] SHOW DIR",
    "ident": "[OPTIONS] SHOW DIR",
    "demo": "[OPTIONS] DIR",
    "kept": "[OPTIONS] [DIR]",
}


@pytest.mark.parametrize("command", USAGE)
def test_every_page_has_one_layout(capsys, command):
    assert cli.run([command, "--help"]) == 0
    page = capsys.readouterr().out
    assert page.splitlines()[0] == f"Usage: replay {command} {USAGE[command]}"
    assert f"replay {command}" in page.partition("Example: ")[2]
    # Nothing of the parser's own workings: types, braces, conditions in signs.
    assert not re.search(r"<\w+|[{}]|<=|\[required|\[default", page), page


def test_commands_stand_in_the_order_of_use(capsys):
    assert cli.run(["--help"]) == 0
    listed = re.findall(r"^  (\w+)  +\w", capsys.readouterr().out.partition("Commands:\n")[2], re.MULTILINE)
    assert tuple(listed) == ORDER == tuple(USAGE)
