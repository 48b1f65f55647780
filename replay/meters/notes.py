"""Notes: what was worked out of a take's histories alone, kept between runs, so that no history need be read twice.

Desk and checks ask the histories of an hour for a few numbers each, and ask for the same ones at every trim. Such a
question is put through `Notes.once`: the answer is worked out when it is first asked, and found again as long as the
tracks' measurements, the question with all its arguments, and the program's sources are the same. Notes of all tracks
lie in one small file beside the measurements.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Mapping
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np

MOST = 96
"""Notes kept of a track: those that this run asked for, and of the others the youngest."""


class Notes:
    """Answers by question, of one track or of the take. Plain values only: numbers, text, truth, None, and lists or
    tables by text of them."""

    def __init__(self, found: Mapping[str, Any] | None = None) -> None:
        self._found = dict(found or {})
        self._asked: dict[str, Any] = {}
        self.changed = False

    def once(self, question: str, find: Callable[[], Any]) -> Any:
        """What `find()` answers, or did when it was last asked.

        `question` says what it is about and holds every argument. Tuples come back as lists, on the first call too, so
        that nothing depends on what was kept. TypeError where the answer is no plain value.
        """
        if question in self._asked:
            return self._asked[question]
        if question in self._found:
            value = self._found[question]
        else:
            value = json.loads(json.dumps(find()))
            self.changed = True
        self._asked[question] = value
        return value

    def all(self) -> dict[str, Any]:
        """What is worth keeping: the oldest first."""
        old = {question: value for question, value in self._found.items() if question not in self._asked}
        room = max(0, MOST - len(self._asked))
        return {**dict(list(old.items())[max(0, len(old) - room) :]), **self._asked}


@cache
def sources() -> str:
    """A hash of all sources that put questions or gather evidence (those that measure are part of a measurement's own
    name)."""
    package = Path(__file__).parent.parent
    digest = hashlib.sha256(np.__version__.encode())
    for folder in ("desk", "checks", "ident", "evidence", "sound"):
        for path in sorted((package / folder).rglob("*.py")):
            digest.update(path.name.encode() + path.read_bytes())
    for name in ("units.py", "grid.py", "ranks.py"):
        digest.update((package / name).read_bytes())
    return digest.hexdigest()[:16]


def name_of(keys: Mapping[int, str], tracks: int) -> str | None:
    """The name under which the notes of a take are kept; None where one of its `tracks` has no key."""
    if len(keys) < tracks:
        return None
    facts = ["notes", sources(), sorted(keys.items())]
    return hashlib.sha256(json.dumps(facts).encode()).hexdigest()[:40]


def written(notes: Mapping[int, Notes]) -> np.ndarray:
    """Notes by track number as an array of doubles, which is what the store keeps."""
    text = json.dumps({number: one.all() for number, one in notes.items()}).encode()
    return np.frombuffer(text + b" " * (-len(text) % 8), np.float64)


def read(kept: np.ndarray | None) -> dict[int, Notes]:
    """Notes by track number; empty for what is not there, or cannot be what was written."""
    if kept is None:
        return {}
    try:
        raw = json.loads(kept.tobytes())
        return {int(number): Notes(found) for number, found in raw.items()}
    except (ValueError, TypeError, AttributeError):
        return {}
