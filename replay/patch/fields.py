"""Parsers of the patch file's values: each turns what TOML gives into what is wanted, or raises Unfit."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable, Sequence
from datetime import date, time

from replay.patch.problems import Unfit, nearest, shown, span


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


def path(value: object) -> str:
    """A parser of a path: at most 1000 characters, as they stand, since folders may have two spaces in a row."""
    text(1000)(value)
    if "\0" in str(value):
        raise Unfit(f"{shown(value)} is not a file name", "no zero bytes in names")
    return str(value)


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
