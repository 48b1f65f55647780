"""Parsers of the input list's cells: text as people type it, turned into values. Each raises Unfit."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence

from replay.patch import fields
from replay.patch.fields import one_of
from replay.patch.model import PHANTOMS, Bus, Link, Range, Send, Slot
from replay.patch.problems import Unfit, figure, nearest, shown, span
from replay.patch.wiring import slot_parser

_NUMBER = re.compile(r"([+\-−–]?)\s*([0-9]{1,9}(?:[.,][0-9]{1,9})?)\s*(?:dB)?", re.IGNORECASE | re.ASCII)
_YES = ("yes", "y", "true", "on", "x", "1")
_NO = ("no", "n", "false", "off", "0")


def text(longest: int) -> Callable[[str], str]:
    """A parser of text of at most `longest` characters."""
    return fields.text(longest)


def number(cell: str) -> float:
    """A number with decimal point or comma, with or without "dB".

    >>> number("-3,5"), number("+10 dB")
    (-3.5, 10.0)
    """
    match = _NUMBER.fullmatch(cell.strip())
    if match is None:
        raise Unfit(f"{shown(cell)} is not a number")
    value = float(match[2].replace(",", "."))
    return -value if match[1] not in ("", "+") and value else value


def whole(low: int, high: int) -> Callable[[str], int]:
    """A parser of a whole number within a range."""

    def parse(cell: str) -> int:
        digits = cell.strip()
        if not re.fullmatch(r"[0-9]{1,9}(\.0+)?", digits, re.ASCII):
            raise Unfit(f"{shown(cell)} is not a whole number", span(low, high))
        value = int(digits.partition(".")[0])
        if not low <= value <= high:
            raise Unfit(f"{value} is out of range", span(low, high))
        return value

    return parse


def choice(known: Sequence[str]) -> Callable[[str], str]:
    """A parser of one of a few words, in any case of letters, with spaces or underscores for hyphens."""

    def parse(cell: str) -> str:
        try:
            return one_of(re.sub(r"[\s_-]+", "-", cell.strip()), known)
        except Unfit:
            raise Unfit(f"{shown(cell)} is unknown", nearest(cell, known)) from None

    return parse


def setting(range_: Range | None, *, low: float, high: float, on_step: bool = True) -> Callable[[str], float]:
    """A parser of a setting in dB, within `range_` and on its steps; without a range, from `low` to `high`."""

    def parse(cell: str) -> float:
        value = number(cell)
        if range_ is None:
            if not low <= value <= high:
                raise Unfit(f"{figure(value)} is out of range", span(low, high))
            return value
        right = f"{span(range_.min, range_.max)} in steps of {figure(range_.step)}"
        if not range_.min <= value <= range_.max:
            raise Unfit(f"{figure(value)} is out of range", right)
        steps = (value - range_.min) / range_.step
        # A millionth of a step is rounding; more is a setting that the preamp does not have.
        if on_step and abs(steps - round(steps)) > 1e-6:
            raise Unfit(f"{figure(value)} lies between two steps", right)
        return value

    return parse


def phantom(cell: str) -> str:
    """Phantom power: yes, no, elsewhere (a split feeds it), or unknown."""
    word = cell.strip().casefold()
    if word in _YES or re.fullmatch(r"\+?48 ?v?", word):
        return "yes"
    if word in _NO:
        return "no"
    return one_of(cell, PHANTOMS)


def pad(cell: str) -> bool:
    """Whether the pad is in: yes or no, in or out."""
    word = cell.strip().casefold()
    if word in _YES or word == "in":
        return True
    if word in _NO or word == "out":
        return False
    raise Unfit(f"{shown(cell)} is unknown", "yes or no")


def inverted(cell: str) -> bool:
    """Whether the channel inverts: normal or inverted."""
    word = cell.strip().casefold()
    if word in ("inv", "invert", "ø"):
        return True
    return one_of(cell, ("normal", "inverted")) == "inverted"


def playback(links: tuple[Link, ...]) -> Callable[[str], Slot | str]:
    """A parser of the return: a slot, "live" or "none"."""
    slot = slot_parser(links)

    def parse(cell: str) -> Slot | str:
        word = cell.strip().casefold()
        if word in ("live", "none"):
            return word
        try:
            return slot(cell)
        except Unfit as unfit:
            raise Unfit(unfit.message, f"{unfit.hint}; or live, or none") from None

    return parse


def sends(buses: Sequence[Bus]) -> Callable[[str], tuple[Send, ...]]:
    """A parser of a channel's sends: `main:-10 wedge1:-20`."""
    names = [bus.name for bus in buses]

    def parse(cell: str) -> tuple[Send, ...]:
        found: dict[str, Send] = {}
        for part in re.split(r"[\s;]+", cell.strip()):
            if not part:
                continue
            name, colon, level = part.partition(":")
            if not colon or not name:
                raise Unfit(f"{shown(part)} is not a send", "a bus and a level: main:-10")
            try:
                bus = one_of(name, names)
            except Unfit as unfit:
                hint = unfit.hint if names else f"declare it in the patch: [bus.{name[:40]}]"
                raise Unfit(f"there is no bus {shown(name)}", hint) from None
            if bus in found:
                raise Unfit(f"bus {shown(bus)} stands twice", "every bus once")
            try:
                value = number(level)
            except Unfit:
                raise Unfit(f"{shown(level)} is not a level", "in dB: main:-10") from None
            if not -144 <= value <= 24:
                raise Unfit(f"{shown(level)} is out of range", span(-144, 24))
            found[bus] = Send(bus=bus, level=value)
        return tuple(found.values())

    return parse
