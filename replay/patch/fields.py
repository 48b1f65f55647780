"""Typed reading of the patch file's tables, key by key; problems are collected and reading goes on.

Keys are named by their path, tables of a list counting from 1 as the user counts them: `box[2].sockets`.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable, Sequence
from datetime import date, time
from typing import Any, TypeVar

from replay.errors import Place
from replay.patch.model import Range
from replay.patch.problems import Problems, Unfit, figure, nearest, shown, span
from replay.text import harmless

T = TypeVar("T")
D = TypeVar("D")

_BARE_KEY = re.compile(r"[A-Za-z0-9_-]{1,60}\Z")


class Table:
    """One table of the patch file. Every key asked for becomes known; `done` tells the keys that are left over.

    What is missing or unfit reads as the default, so that the rest can be checked too; a patch with problems is
    never handed out.
    """

    def __init__(self, raw: dict[str, Any], path: str, file: str, problems: Problems) -> None:
        self.raw = raw
        self.path = path
        self.file = file
        self.problems = problems
        self._known: dict[str, None] = {}

    def key(self, name: str) -> str:
        """The path of a key of this table."""
        part = name if _BARE_KEY.match(name) else f'"{harmless(name, 60)}"'
        return f"{self.path}.{part}" if self.path else part

    def place(self, name: str = "") -> Place:
        """The place of a key of this table, or of the table itself."""
        return Place(self.file, key=self.key(name) if name else self.path)

    def problem(self, name: str, message: str, hint: str = "") -> None:
        """Note a problem with a key of this table."""
        self.problems.add(message, self.place(name), hint)

    def read(self, name: str, parse: Callable[[Any], T], default: D, *, required: str = "") -> T | D:
        """The value of a key, parsed. `required` says what is wanted where leaving the key out is a problem."""
        self._known[name] = None
        if name not in self.raw:
            if required:
                self.problem(name, "is missing", required)
            return default
        try:
            return parse(self.raw[name])
        except Unfit as unfit:
            self.problems.unfit(unfit, self.place(name))
            return default

    def table(self, name: str) -> Table:
        """A table inside this one; an empty one where it is missing or is something else."""
        self._known[name] = None
        value = self.raw.get(name, {})
        if not isinstance(value, dict):
            self.problem(name, f"{shown(value)} is not a table", f"write [{self.key(name)}]")
            value = {}
        return Table(value, self.key(name), self.file, self.problems)

    def tables(self, name: str, most: int) -> list[Table]:
        """The tables of a list of tables, at most `most`."""
        self._known[name] = None
        value = self.raw.get(name, [])
        if not isinstance(value, list) or not all(isinstance(item, dict) for item in value):
            self.problem(name, f"{shown(value)} is not a list of tables", f"write [[{self.key(name)}]] for each")
            value = []
        if len(value) > most:
            self.problem(name, f"{len(value)} of them are too many", f"at most {most}")
            value = value[:most]
        here = self.key(name)
        return [Table(item, f"{here}[{i}]", self.file, self.problems) for i, item in enumerate(value, 1)]

    def inner(self) -> list[tuple[str, Table]]:
        """The tables inside this one by name, whatever the names are (`[bus.NAME]`)."""
        return [(name, self.table(name)) for name in list(self.raw)]

    def range(self, name: str, default: D) -> Range | D:
        """A range of settings, `{ min = 0, max = 60, step = 1 }`."""
        if name not in self.raw:
            self._known[name] = None
            return default
        before = self.problems.count
        right = "a range is written { min = 0, max = 60, step = 1 }"
        if not isinstance(self.raw[name], dict):
            self._known[name] = None
            self.problem(name, f"{shown(self.raw[name])} is not a range", right)
            return default
        table = self.table(name)
        low = table.read("min", number(-200, 200), 0.0, required=right)
        high = table.read("max", number(-200, 200), 0.0, required=right)
        step = table.read("step", number(0.001, 100), 1.0, required=right)
        table.done()
        if self.problems.count > before:
            return default
        if low >= high:
            self.problem(name, f"min {figure(low)} is not below max {figure(high)}", "min < max")
            return default
        if step > high - low:
            self.problem(name, f"step {figure(step)} is wider than the range", f"at most {figure(high - low)}")
            return default
        return Range(min=low, max=high, step=step)

    def done(self) -> None:
        """Tell the keys that nobody asked for."""
        for name in self.raw:
            if name not in self._known:
                hint = "" if self.problems.full else nearest(name, self._known)
                self.problem(name, "is an unknown key", hint)


def text(longest: int) -> Callable[[object], str]:
    """A parser of text that is not blank; runs of white space become one space."""

    def parse(value: object) -> str:
        if not isinstance(value, str):
            raise Unfit(f"{shown(value)} is not text", "text stands in quotes")
        words = " ".join(value.split())
        if not words:
            raise Unfit("is empty", f"1 to {longest} characters")
        if len(words) > longest:
            raise Unfit(f"{shown(value)} is too long", f"at most {longest} characters")
        return words

    return parse


def word(value: object) -> str:
    """A parser of a name without white space and `:,;`, so that it can stand in a cell beside others."""
    name = text(40)(value)
    if re.search(r"[\s:,;]", name):
        raise Unfit(f"{shown(name)} is not one word", "no spaces, colons, commas or semicolons")
    return name


def number(low: float, high: float) -> Callable[[object], float]:
    """A parser of a finite number within a range; true and false are not numbers."""

    def parse(value: object) -> float:
        if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(_as_float(value)):
            raise Unfit(f"{shown(value)} is not a number", span(low, high))
        if not low <= value <= high:
            raise Unfit(f"{shown(value)} is out of range", span(low, high))
        return float(value)

    return parse


def whole(low: int, high: int) -> Callable[[object], int]:
    """A parser of a whole number within a range."""

    def parse(value: object) -> int:
        if isinstance(value, bool) or not isinstance(value, int):
            raise Unfit(f"{shown(value)} is not a whole number", span(low, high))
        if not low <= value <= high:
            raise Unfit(f"{shown(value)} is out of range", span(low, high))
        return value

    return parse


def flag(value: object) -> bool:
    """A parser of true or false."""
    if not isinstance(value, bool):
        raise Unfit(f"{shown(value)} is neither true nor false", "without quotes")
    return value


def choice(known: Sequence[str]) -> Callable[[object], str]:
    """A parser of one of a few words, whatever the case of their letters."""

    def parse(value: object) -> str:
        if not isinstance(value, str):
            raise Unfit(f"{shown(value)} is not text", "one of: " + ", ".join(known))
        return one_of(value, known)

    return parse


def one_of(value: str, known: Iterable[str]) -> str:
    """The known name that `value` means, whatever the case of its letters."""
    names = list(known)
    folded = value.strip().casefold()
    for name in names:
        if name.casefold() == folded:
            return name
    raise Unfit(f"{shown(value)} is unknown", nearest(value, names))


def runs(high: int) -> Callable[[object], tuple[int, ...]]:
    """A parser of runs of numbers from 1 to `high`, such as "1-8, 17-24"; order is kept."""

    def parse(value: object) -> tuple[int, ...]:
        if isinstance(value, int) and not isinstance(value, bool):
            return (whole(1, high)(value),)
        if not isinstance(value, str):
            raise Unfit(f"{shown(value)} is not a run of numbers", 'written "1-24" or "1-8, 17-24"')
        numbers: list[int] = []
        for part in value.split(","):
            match = re.fullmatch(r"\s*([0-9]{1,9})\s*(?:[-–]\s*([0-9]{1,9})\s*)?", part)
            if match is None:
                raise Unfit(f"{shown(value)} is not a run of numbers", 'written "1-24" or "1-8, 17-24"')
            first, last = int(match[1]), int(match[2] or match[1])
            if not (1 <= first <= high and 1 <= last <= high):
                raise Unfit(f"{shown(value)} is out of range", span(1, high))
            if first > last:
                raise Unfit(f"{shown(value)} runs backwards", f'written "{last}-{first}"')
            numbers.extend(range(first, last + 1))
            if len(numbers) > high:
                raise Unfit(f"{shown(value)} holds too many numbers", f"at most {high}")
        return tuple(numbers)

    return parse


def seconds(value: object) -> float:
    """A parser of a time on the take: seconds, or text such as "4:30" or "1:02:05".

    >>> seconds("4:30"), seconds("1:02:05"), seconds(12.5)
    (270.0, 3725.0, 12.5)
    """
    right = 'seconds, or written "4:30" or "1:02:05"'
    if isinstance(value, date | time):
        raise Unfit("is a time of day", right)
    if isinstance(value, str):
        match = re.fullmatch(r"\s*(?:(?:([0-9]{1,2}):)?([0-9]{1,3}):)?([0-9]{1,6}(?:\.[0-9]{1,6})?)\s*", value)
        if match is None:
            raise Unfit(f"{shown(value)} is not a time", right)
        hours, minutes, rest = int(match[1] or 0), int(match[2] or 0), float(match[3])
        if (match[2] and rest >= 60) or (match[1] and minutes >= 60):
            raise Unfit(f"{shown(value)} is not a time", "minutes and seconds go up to 59")
        return hours * 3600.0 + minutes * 60.0 + rest
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(_as_float(value)):
        raise Unfit(f"{shown(value)} is not a time", right)
    if not 0 <= value <= 360_000:
        raise Unfit(f"{shown(value)} is out of range", "0 to 360000 seconds")
    return float(value)


def _as_float(value: float) -> float:
    """The value as a float; infinite where it is too large for one."""
    try:
        return float(value)
    except OverflowError:
        return math.inf
