"""One base error for everything a user can put right.

An error carries problems, each with its place (file, line, column or key) and what would be right, so that all of
them are shown at once. `cli` turns them into messages and exit status 2, in one place.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from replay.text import harmless


@dataclass(frozen=True)
class Place:
    """Where something is wrong. Lines and columns count from 1; `key` is a dotted path such as `box[1].sockets`."""

    file: str | None = None
    line: int | None = None
    column: int | None = None
    key: str | None = None

    def __str__(self) -> str:
        parts = [self.file or ""]
        if self.line is not None:
            parts.append(f"line {self.line}")
        if self.column is not None:
            parts.append(f"column {self.column}")
        if self.key is not None:
            parts.append(self.key)
        return ", ".join(part for part in parts if part)


@dataclass(frozen=True)
class Problem:
    """One thing that is wrong: what, where, and what would be right."""

    message: str
    place: Place = Place()
    hint: str = ""

    def __str__(self) -> str:
        where = str(self.place)
        text = f"{where}: {self.message}" if where else self.message
        return f"{text} ({self.hint})" if self.hint else text


class ReplayError(Exception):
    """Something that the user can put right; never shown as a traceback.

    Attributes
    ----------
    problems : tuple of Problem
        All that is wrong, at least one.
    """

    def __init__(self, problems: Problem | str | Iterable[Problem], *, hint: str = "") -> None:
        if isinstance(problems, str):
            problems = Problem(problems, hint=hint)
        if isinstance(problems, Problem):
            problems = (problems,)
        self.problems: tuple[Problem, ...] = tuple(problems)
        super().__init__("\n".join(str(problem) for problem in self.problems))


class PatchError(ReplayError):
    """The patch definition or the input list cannot be used."""


class TakeError(ReplayError):
    """There is no take, or none of its files can be read."""


class CallError(ReplayError):
    """The command was called with something that does not exist or does not fit."""


class OutputError(ReplayError):
    """A report could not be written."""


def at(file: Path | str, *, line: int | None = None, column: int | None = None, key: str | None = None) -> Place:
    """A place in `file`, named as the user knows it (the file's name, not its whole path), harmless to show."""
    return Place(harmless(Path(file).name), line, column, key)
