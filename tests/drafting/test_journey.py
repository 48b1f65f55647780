"""From an unseen folder of 32 tracks and an unseen spreadsheet to a first check: two commands, and no editing."""

from __future__ import annotations

import hashlib
import json
import os
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import pytest

from tests.conftest import Shelf
from tests.drafting.making import book
from tests.material.recording import Input, Recording
from tests.material.stage import record
from tests.material.take import write

HEAD = ("Desk", "Source", "Mic / DI", "Stage box", "Socket", "Preamp gain (dB)", "+48V", "Stand", "Remarks")


@pytest.fixture(scope="module")
def evening(shelf: Shelf) -> Recording:
    return shelf.get("an evening of 32", lambda _: record(32, seed=61, seconds=40, kit="pearl"))


def spreadsheet(inputs: Sequence[Input]) -> bytes:
    """The evening's list as somebody keeps it: titles, groups, stereo sources on one line, blank lines, a total."""
    rows: list[list[Any]] = [
        ["MILL YARD"],
        ["Barn dance, Saturday", None, None, None, None, None, None, "v4"],
        [],
        list(HEAD),
    ]
    last = ""
    done: set[int] = set()
    for one in inputs:
        if one.number in done:
            continue
        if one.kind != last and one.kind in ("kick", "bass", "vocal"):
            rows += [[], [{"kick": "DRUMS", "bass": "BAND", "vocal": "VOCALS"}[one.kind]]]
        last = one.kind
        both = (
            [one] if one.pairing != "stereo" else [other for other in inputs if other.number in (one.number, one.pair)]
        )
        done |= {other.number for other in both}
        numbers: Any = one.number if len(both) == 1 else f"{both[0].number}/{both[1].number}"
        socket: Any = one.socket if len(both) == 1 else f"{both[0].socket}/{both[1].socket}"
        name = one.name if len(both) == 1 else one.name.rsplit(" ", 1)[0] + " (stereo)"
        words = {
            "mic": "condenser" if one.phantom == "yes" else "dynamic",
            "di": "active DI",
            "line": "line",
            "rf": "wireless",
        }
        phantom = "x" if one.phantom == "yes" else None
        rows.append(
            [numbers, name, words.get(one.input, "USB"), one.box, socket, one.gain, phantom, None, one.note or None]
        )
    rows += [[], ["Total inputs", len(inputs)]]
    return book(("Cover", [["Input list"], ["of the barn dance"]], []), ("Inputs FOH", rows, ["A1:I1"]))


def typed(folder: Path, *words: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "replay", *words],
        cwd=folder,
        env=os.environ | {"COLUMNS": "80", "PYTHONPATH": str(Path(__file__).parents[2])},
        capture_output=True,
        encoding="utf-8",
        timeout=300,
    )


def test_two_commands_and_no_editing(tmp_path: Path, evening: Recording) -> None:
    take = tmp_path / "saturday show"
    paths = write(take, evening, metadata=True)
    assert len(paths) == 32
    (tmp_path / "inputs.xlsx").write_bytes(spreadsheet(evening.inputs))
    before = {path.name: hashlib.sha256(path.read_bytes()).digest() for path in paths}

    drafted = typed(tmp_path, "draft", "saturday show", "--inputs", "inputs.xlsx")
    assert (drafted.returncode, drafted.stderr) == (0, "")
    assert drafted.stdout.rstrip().endswith("Now: replay check 'saturday show-show'")
    checked = typed(tmp_path, "check", "saturday show-show", "--json", "answer.json")
    assert (checked.returncode, checked.stderr) == (0, ""), checked.stdout + checked.stderr
    assert checked.stdout.startswith("READY: ")

    answer = json.loads((tmp_path / "answer.json").read_text("utf-8"))
    for one, channel in zip(evening.inputs, answer["channels"], strict=True):
        assert (channel["channel"], channel["track"]) == (one.number, one.number)
        assert (channel["box"], channel["socket"]) == (one.box, one.socket)
        assert one.use != "must" or channel["mapping"]["status"] in ("heard", "named"), channel
    assert {path.name: hashlib.sha256(path.read_bytes()).digest() for path in sorted(take.iterdir())} == before


def test_what_the_list_states_is_what_the_check_knows(tmp_path: Path, evening: Recording) -> None:
    from replay.drafting import taking
    from replay.drafting.draft import draft, encoded
    from replay.patch.from_toml import read_patch

    write(tmp_path / "take", evening.part(list(range(1, 33)), stop_s=1.0))
    (tmp_path / "list.xlsx").write_bytes(spreadsheet(evening.inputs))
    made = draft(taking.where(tmp_path / "take", None), tmp_path / "list.xlsx", None, None)
    for name, data in encoded(made).items():
        (tmp_path / name).write_bytes(data)
    patch = read_patch(tmp_path)
    for one in evening.inputs:
        channel = patch.channel(one.number)
        assert channel.gain == one.gain, one.name
        assert channel.phantom == ("yes" if one.phantom == "yes" else "no"), one.name
        assert (channel.pair if channel.pairing else None) == (one.pair if one.pairing != "one-source" else None), (
            one.name
        )
        assert channel.input == one.input, one.name
        if one.kind not in ("playback", "other"):
            assert channel.kind == one.kind, one.name


def test_the_tracks_alone(tmp_path: Path, evening: Recording) -> None:
    """Without a list: names give channels and kinds, and what nobody said is left open and told."""
    write(tmp_path / "saturday show", evening.part(list(range(1, 13)), stop_s=31.0), metadata=True)
    drafted = typed(tmp_path, "draft", "saturday show")
    assert (drafted.returncode, drafted.stderr) == (0, "")
    told = " ".join(drafted.stdout.split())
    assert "No list was given: each track was taken as the channel of its number" in told
    assert "Channels 1-12: gain: a change can be told, but not what to set." in told
    assert "Channels 1-12: phantom power." in told
    checked = typed(tmp_path, "check", "saturday show-show")
    assert checked.returncode == 0, checked.stdout + checked.stderr
    assert checked.stdout.startswith("READY: ")
