"""Pairs among channels that each have a line of their own: by a column that says so, or by their names.

Only sources that are usually one pair are joined by name alone: L and R of two singers or guitars often mean the sides
of the stage. The DI box and the microphone of one instrument are a pair on one source.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from replay.drafting import marks
from replay.drafting.inputs import Input
from replay.drafting.lines import Line
from replay.drafting.notes import Notes
from replay.mapping.names import SIDES, WAYS, read_name
from replay.patch.kinds import kind_from_name

SPACED = frozenset(("overhead", "ambience", "choir", "percussion"))
"""Kinds whose pairs are two microphones apart from each other, unless they come by line or DI."""

BY_NAME = SPACED | {"keys", "playback", "other"}
_STEREO = ("st", "stereo", "s", "l", "r", "left", "right", "links", "rechts", "lr", "l/r")


def with_pairs(inputs: Sequence[Input], lines: Sequence[Line], notes: Notes) -> list[Input]:
    """The channels with pairs joined, each side naming the other."""
    by_line = {line.line: line for line in lines}
    inputs = _stated(list(inputs))
    out = list(inputs)
    for i in range(len(inputs) - 1):
        left, right = out[i], out[i + 1]
        if left.pair or right.pair or right.number != left.number + 1:
            continue
        if _direct_and_miked(left, right):
            notes.guess(
                "one instrument by its DI and by a microphone (one-source)",
                left.number,
                right.number,
                short="pair by name",
            )
            out[i] = replace(left, pair=right.number, pairing="one-source")
            out[i + 1] = replace(right, pair=left.number, pairing="one-source")
            continue
        said = all(one.line in by_line and _says_stereo(by_line[one.line]) for one in (left, right))
        if not (said and _alike(left, right, sides_needed=False)) and not _alike(left, right):
            continue
        kind = left.kind or kind_from_name(left.name)
        if not said and kind not in BY_NAME:
            notes.guess(
                "named L and R, not taken as one stereo source (players on two sides?)", left.number, right.number
            )
            continue
        apart = kind in SPACED and left.input in ("", "mic", "rf")
        pairing = "spaced" if apart else "stereo"
        if not said:
            notes.guess(f"a pair by their names ({pairing})", left.number, right.number, short="pair by name")
        out[i] = replace(left, pair=right.number, pairing=pairing)
        out[i + 1] = replace(right, pair=left.number, pairing=pairing)
    return out


def _stated(inputs: list[Input]) -> list[Input]:
    """Pairs that the list's own column names, where both exist and neither names a third."""
    by_number: Mapping[int, Input] = {one.number: one for one in inputs}
    partner: dict[int, int] = {}
    for one in inputs:
        other = by_number.get(one.pair or 0)
        if other is None or other is one or other.pair not in (None, one.number):
            continue
        if (
            partner.get(one.number, other.number) == other.number
            and partner.get(other.number, one.number) == one.number
        ):
            partner[one.number], partner[other.number] = other.number, one.number
    return [
        replace(one, pair=partner.get(one.number), pairing=_pairing(one, by_number, partner.get(one.number)))
        for one in inputs
    ]


def _pairing(one: Input, by_number: Mapping[int, Input], other: int | None) -> str:
    if other is None:
        return ""
    first, second = sorted((one.number, other))
    return by_number[first].pairing or by_number[second].pairing or "stereo"


def _says_stereo(line: Line) -> bool:
    cell = line.cells.get("stereo", "").casefold()
    return bool(cell) and (cell in _STEREO or marks.mark(cell) is True)


def _alike(left: Input, right: Input, *, sides_needed: bool = True) -> bool:
    """Whether two names are the two sides of one source."""
    a, b = read_name(left.name), read_name(right.name)
    marks_a, marks_b = dict(a.marks), dict(b.marks)
    sides = (marks_a.pop(SIDES, None), marks_b.pop(SIDES, None))
    same = (a.kind, a.words, a.numbers, marks_a) == (b.kind, b.words, b.numbers, marks_b)
    return same and (sides == ("l", "r") or (not sides_needed and sides == (None, None)))


def _direct_and_miked(one: Input, other: Input) -> bool:
    """Whether two names are one instrument, once direct and once by a microphone: Bass DI and Bass mic."""
    a, b = read_name(one.name), read_name(other.name)
    marks_a, marks_b = dict(a.marks), dict(b.marks)
    ways = {marks_a.pop(WAYS, None) or one.input, marks_b.pop(WAYS, None) or other.input}
    same = (a.kind, a.words, a.numbers, marks_a) == (b.kind, b.words, b.numbers, marks_b)
    return same and a.kind != "other" and ways == {"di", "mic"} and a.marks != b.marks
