"""All that is wrong with a patch, collected while reading, so that it is told in one go.

Parsers raise `Unfit`; whoever knows the place (a key of the patch file, a cell of the input list) adds it here.
"""

from __future__ import annotations

import difflib
import math
from collections.abc import Iterable
from datetime import date, time

from replay.errors import PatchError, Place, Problem
from replay.text import harmless

MOST_PROBLEMS = 200
"""Beyond this many problems only their number is told: nobody reads on, and a hostile file could make millions."""

_MOST_KNOWN = 200
_LONGEST_SHOWN = 60


class Unfit(Exception):
    """A value that does not fit: what is wrong with it, and what would be right. Never leaves this package.

    `line` is set where a file stops making sense at one of its lines.
    """

    def __init__(self, message: str, hint: str = "", line: int | None = None) -> None:
        super().__init__(message)
        self.message = message
        self.hint = hint
        self.line = line


class Problems:
    """Collects problems in the order in which they are found. `count` is exact, the list is capped."""

    def __init__(self) -> None:
        self.count = 0
        self._found: list[Problem] = []

    def add(self, message: str, place: Place, hint: str = "") -> None:
        """Note one thing that is wrong."""
        self.count += 1
        if self.count <= MOST_PROBLEMS:
            self._found.append(Problem(message, place, hint))

    def unfit(self, unfit: Unfit, place: Place) -> None:
        """Note what a parser did not accept."""
        self.add(unfit.message, place, unfit.hint)

    @property
    def full(self) -> bool:
        """Whether further problems are only counted; then hints need not be worked out."""
        return self.count >= MOST_PROBLEMS

    def stop_if_any(self) -> None:
        """Raise PatchError with everything found so far, if there is anything."""
        if not self._found:
            return
        more = self.count - len(self._found)
        last = [Problem(f"and {more} more problems, not shown")] if more else []
        raise PatchError(self._found + last)


def nearest(word: str, known: Iterable[str]) -> str:
    """What would be right instead of `word`: the nearest known name, or else the list of known names.

    >>> nearest("sokets", ["name", "sockets"])
    'did you mean sockets?'
    >>> nearest("colour", ["name", "sockets"])
    'one of: name, sockets'
    """
    names: list[str] = []
    for name in known:
        if len(names) == _MOST_KNOWN:
            break
        names.append(name)
    if not names:
        return ""
    by_folded = {name.casefold(): name for name in names}
    close = difflib.get_close_matches(word[:_LONGEST_SHOWN].casefold(), by_folded, n=1, cutoff=0.6)
    if close:
        return f"did you mean {harmless(by_folded[close[0]])}?"
    listed = [harmless(name, 40) for name in names[:30]]
    return "one of: " + ", ".join(listed + ["…"] * (len(names) > 30))


def shown(value: object) -> str:
    """A value as the user wrote it, short and harmless: strings in quotes, tables and lists by what they are.

    >>> shown("a"), shown(True), shown(3.0), shown([1])
    ('"a"', 'true', '3', 'a list')
    """
    if isinstance(value, str):
        return f'"{harmless(value, _LONGEST_SHOWN)}"'
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int):
        # Python refuses to write out integers of thousands of digits (a hexadecimal one in TOML can be that long).
        return figure(value) if value.bit_length() <= 200 else "a number of many digits"
    if isinstance(value, float):
        return figure(value) if math.isfinite(value) else str(value)
    if isinstance(value, date | time):
        return "a date or time"
    return "a list" if isinstance(value, list) else "a table"


def figure(value: float) -> str:
    """A number without needless digits.

    >>> figure(60.0), figure(-0.5), figure(192000)
    ('60', '-0.5', '192000')
    """
    return f"{value:.10g}" if isinstance(value, float) else str(value)


def span(low: float, high: float) -> str:
    """A range in words.

    >>> span(0, 60.0)
    '0 to 60'
    """
    return f"{figure(low)} to {figure(high)}"
