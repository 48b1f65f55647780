"""A good show of two boxes on one link, to break one thing of at a time."""

from __future__ import annotations

import copy
import json
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import pytest

from replay.errors import PatchError
from replay.patch.from_toml import read_patch
from replay.patch.model import Patch

GAIN = {"min": 0, "max": 60, "step": 1}

TOP: dict[str, Any] = {
    "title": "Saturday, Mill Yard barn dance",
    "rate": 48000,
    "inputs": "inputs.csv",
    "take": {"folder": "audio", "of": "soundcheck", "from": "4:30", "to": "1:02:05"},
    "headroom": {"show_peak": -6.0},
    "kind": {"vocal": {"rise": 9}},
    "desk": {"trim": {"min": -40, "max": 20, "step": 0.5}},
    "box": [
        {"name": "deck", "sockets": 24, "gain": GAIN, "pad": 20, "gains": "ours", "compensated": False},
        {"name": "riser", "sockets": 16},
    ],
    "link": [{"name": "main", "slots": 32}],
    "feed": [
        {"box": "deck", "sockets": "1-24", "link": "main", "slots": "1-24", "point": "preamp"},
        {"box": "riser", "sockets": "1-8", "link": "main", "slots": "25-32"},
    ],
    "bus": {"main": {"ceiling": -3.0}, "wedge1": {}},
    "limits": {"low_dbtp": -24},
}

COLUMNS = (
    *("channel", "name", "kind", "use", "input", "mic", "box", "socket", "gain", "pad", "phantom", "trim"),
    *("polarity", "pair", "pairing", "return", "bus", "note"),
)

ROWS: list[dict[str, str]] = [
    {"channel": "1", "name": "Kick", "box": "deck", "socket": "1", "gain": "30", "pad": "yes"},
    {"channel": "2", "name": "Snare top", "box": "deck", "socket": "2", "gain": "28", "phantom": "no", "trim": "-3"},
    {"channel": "3", "name": "OH L", "box": "deck", "socket": "3", "pair": "4", "pairing": "spaced"},
    {"channel": "4", "name": "OH R", "box": "deck", "socket": "4"},
    {"channel": "5", "name": "Vox", "kind": "vocal", "box": "riser", "socket": "1", "bus": "main:-10 wedge1:-20"},
    {"channel": "6", "name": "Fiddle", "use": "may", "input": "di", "box": "riser", "socket": "2", "return": "26"},
]


def toml(top: dict[str, Any]) -> str:
    """A dict as TOML text: enough of a writer for these tests."""

    def value(item: Any) -> str:
        if isinstance(item, bool):
            return str(item).lower()
        if isinstance(item, dict):
            return "{ " + ", ".join(f"{json.dumps(key)} = {value(inner)}" for key, inner in item.items()) + " }"
        if isinstance(item, list):
            return "[" + ", ".join(value(inner) for inner in item) + "]"
        if isinstance(item, str):
            # JSON's escapes are TOML's too.
            return json.dumps(item)
        return repr(item)

    return "".join(f"{json.dumps(key)} = {value(item)}\n" for key, item in top.items())


def csv_text(rows: Sequence[dict[str, str]], columns: Sequence[str] = COLUMNS, separator: str = ",") -> str:
    """Rows as CSV text; cells with the separator in them in quotes."""

    def cell(text: str) -> str:
        return f'"{text}"' if separator in text else text

    lines = [separator.join(cell(row.get(column, "")) for column in columns) for row in rows]
    return "\n".join([separator.join(columns), *lines]) + "\n"


class Show:
    """The good show, to be changed and written."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.top = copy.deepcopy(TOP)
        self.rows = copy.deepcopy(ROWS)

    def write(self, *, patch: str | bytes | None = None, inputs: str | bytes | None = None) -> Path:
        """Write both files; text or bytes given are written instead."""
        for name, content in (
            ("patch.toml", toml(self.top) if patch is None else patch),
            ("inputs.csv", csv_text(self.rows) if inputs is None else inputs),
        ):
            data = content.encode() if isinstance(content, str) else content
            (self.folder / name).write_bytes(data)
        return self.folder

    def read(self, **files: str | bytes) -> Patch:
        return read_patch(self.write(**files))

    def problems(self, **files: str | bytes) -> list[str]:
        """All problems of the show as the user reads them; fails where there are none."""
        with pytest.raises(PatchError) as caught:
            self.read(**files)
        return [str(problem) for problem in caught.value.problems]

    def broken(self, change: Callable[[Show], object]) -> list[str]:
        change(self)
        return self.problems()
