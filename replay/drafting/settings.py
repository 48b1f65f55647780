"""What a list says of every channel beside its place: kind, use, input, microphone, preamp, trim, polarity, notes.

What a list does not say stays unknown. A column of marks (`x` for phantom power) says no where it has no mark, but only
if something in it is marked.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from replay.drafting import marks
from replay.drafting.inputs import Input, kind_of, written
from replay.drafting.lines import Line
from replay.drafting.notes import Notes
from replay.patch.kinds import kind_from_name
from replay.patch.model import PAIRINGS, USES, Desk
from replay.text import harmless

PAD_IN = "pad in"
UNKNOWN = "unknown"


def with_settings(
    inputs: Sequence[Input], lines: Sequence[Line], headings: Mapping[str, str], notes: Notes
) -> list[Input]:
    """The channels with everything that their lines state. `headings` are the list's own by field."""
    by_line = {line.line: line for line in lines}
    marked = {
        field
        for field in ("phantom", "di", "pad")
        if any(marks.mark(line.cells.get(field, "")) for line in lines)
        or (field == "pad" and any(_pad_db(line.cells.get("pad", "")) for line in lines))
    }
    reader = _Reader(marked, headings, notes)
    return [reader.settled(one, by_line[one.line]) if one.line in by_line else one for one in inputs]


class _Reader:
    def __init__(self, marked: set[str], headings: Mapping[str, str], notes: Notes) -> None:
        self.marked = marked
        self.headings = headings
        self.notes = notes

    def settled(self, one: Input, line: Line) -> Input:
        cells = line.cells
        mic = written(cells.get("mic", "")) if marks.mark(cells.get("mic", "")) is None else ""
        note = written(cells.get("note", ""), 600)
        if line.no_spot:
            note = _and(note, f"socket: {written(line.no_spot, 40)}")
        input_ = self._input(one, cells, mic)
        has_preamp = input_ != "digital"
        pad, note = self._pad(cells, note)
        return replace(
            one,
            kind=self._kind(one, cells),
            use=self._use(one, cells),
            input=input_,
            mic=mic,
            gain=self._gain(one, cells) if has_preamp else None,
            pad=pad,
            phantom=self._phantom(one, cells, input_),
            trim=self._trim(one, cells),
            polarity=self._polarity(cells),
            pair=one.pair or _first(marks.numbers(cells.get("pair", ""))),
            pairing=one.pairing or (cells.get("pairing", "") if cells.get("pairing", "") in PAIRINGS else ""),
            note=note,
        )

    def _kind(self, one: Input, cells: Mapping[str, str]) -> str:
        stated = kind_of(cells.get("kind", ""))
        told = kind_from_name(one.name)
        # A column of groups (Drums, Band) knows less than a name that tells.
        if stated and cells["kind"].strip().casefold().replace(" ", "-") == stated:
            return stated
        if stated and told == "other":
            self.notes.guess(f"kind {stated}, by its {self.headings['kind']}", one.number, short="kind by group")
            return stated
        return "" if told == "other" else told

    def _use(self, one: Input, cells: Mapping[str, str]) -> str:
        stated = cells.get("use", "").casefold()
        if stated in USES:
            return stated
        if marks.is_spare(one.name):
            self.notes.guess("a spare or a guest, silence is no fault (use: may)", one.number, short="use by name")
            return "may"
        return ""

    def _input(self, one: Input, cells: Mapping[str, str], mic: str) -> str:
        stated = marks.input_of(cells.get("input", ""))
        if stated:
            return stated
        if marks.mark(cells.get("di", "")):
            return "di"
        for text, is_name, where in ((mic, False, "microphone's column"), (one.name, True, "name")):
            found = marks.input_of(text, name=is_name) if text else None
            if found == "mic" and not is_name:
                return found
            if found:
                self.notes.guess(f"input {found}, by its {where}", one.number, short=f"input by {where}")
                return found
        if mic:
            self.notes.guess("input mic, as the microphone's column names no DI", one.number)
            return "mic"
        return ""

    def _gain(self, one: Input, cells: Mapping[str, str]) -> float | None:
        cell = cells.get("gain", "")
        value = marks.number(cell, -40, 100) if cell else None
        if value is None and cell and marks.mark(cell) is not False:
            self.notes.guess(f"gain “{harmless(cell, 20)}” is no gain in dB: left unknown", one.number, short="gain")
        return value

    def _pad(self, cells: Mapping[str, str], note: str) -> tuple[str, str]:
        """The pad as the cell has it ("yes", "no", its attenuation) and the note."""
        cell = cells.get("pad", "")
        attenuation = _pad_db(cell)
        if attenuation:
            return f"{attenuation:g}", note
        if marks.mark(cell) or cell.casefold() in ("in", "ein"):
            heading = _pad_db(re.sub(r"[^0-9 ]", " ", self.headings.get("pad", "")).strip())
            return (f"{heading:g}" if heading else "yes"), note
        if not cell or marks.mark(cell) is False or cell.casefold() in ("out", "aus", "0"):
            return ("no" if "pad" in self.marked else ""), note
        return "", _and(note, f"pad: {written(cell, 40)}")

    def _phantom(self, one: Input, cells: Mapping[str, str], input_: str) -> str:
        cell = cells.get("phantom", "")
        if cell.casefold() == "elsewhere":
            return "elsewhere"
        stated = marks.mark(cell)
        if stated is not None and (cell or "phantom" in self.marked):
            return "yes" if stated else "no"
        if cell:
            self.notes.guess(
                f"phantom power “{harmless(cell, 20)}” is neither yes nor no: left unknown", one.number, short="phantom"
            )
            return UNKNOWN
        if "phantom" in self.marked:
            return "no"
        if any(re.search(r"\+?48 ?v\b|\+48\b|\bphantom\b", cells.get(field, ""), re.IGNORECASE) for field in _WORDS):
            self.notes.guess("phantom power by the words of its line", one.number, short="phantom by words")
            return "yes"
        return UNKNOWN if input_ != "digital" else ""

    def _trim(self, one: Input, cells: Mapping[str, str]) -> float | None:
        cell = cells.get("trim", "")
        value = marks.number(cell, Desk.trim.min, Desk.trim.max) if cell else None
        if value is None and cell and marks.mark(cell) is not False:
            self.notes.guess(f"trim “{harmless(cell, 20)}” is no trim in dB: left at 0", one.number, short="trim")
        return value

    def _polarity(self, cells: Mapping[str, str]) -> str:
        cell = cells.get("polarity", "").casefold()
        if not cell:
            return ""
        if cell in ("ø", "inv", "inverted", "invert", "180", "180°", "rev", "reverse", "-") or marks.mark(cell):
            return "inverted"
        return "normal" if cell in ("normal", "0", "+", "nor", "n") or marks.mark(cell) is False else ""


_WORDS = ("mic", "note", "input")


def _pad_db(cell: str) -> float | None:
    """A pad's attenuation in dB, from 1 to 60; None where the cell states none (a 1 is a mark)."""
    value = marks.number(cell, -60, 60)
    return abs(value) if value is not None and abs(value) > 1 else None


def _first(numbers: Iterable[int]) -> int | None:
    return next(iter(numbers), None)


def _and(note: str, more: str) -> str:
    return f"{note}; {more}" if note else more


def pads(inputs: Sequence[Input], notes: Notes) -> tuple[list[Input], dict[str, float]]:
    """The channels with pads as `yes` or `no`, and every box's attenuation. A pad whose attenuation nothing states, or
    of which a box has two, goes into the note: the model needs the figure."""
    stated: dict[str, set[float]] = {}
    for one in inputs:
        if one.box and one.pad not in ("", "yes", "no"):
            stated.setdefault(one.box, set()).add(float(one.pad))
    known = {box: min(values) for box, values in stated.items() if len(values) == 1}
    out = []
    for one in inputs:
        if one.pad in ("", "no"):
            out.append(one)
        elif one.box in known:
            out.append(replace(one, pad="yes"))
        else:
            notes.not_known(
                "a pad is in, its attenuation is not stated: write pad = ... into the [[box]], and yes here", one.number
            )
            said = PAD_IN if one.pad == "yes" else f"{PAD_IN}, {one.pad} dB"
            out.append(replace(one, pad="", note=_and(one.note, said)))
    return [replace(one, pad=one.pad if one.box in known else "") for one in out], known


def shared(inputs: Sequence[Input], notes: Notes) -> list[Input]:
    """The channels with one gain, pad and phantom power for each socket, on its first channel: one preamp has one of
    each. The first that is stated counts."""
    by_socket: dict[tuple[str, int], list[int]] = {}
    out = list(inputs)
    for i, one in enumerate(out):
        if one.socket is not None:
            by_socket.setdefault((one.box, one.socket), []).append(i)
    for places in by_socket.values():
        if len(places) == 1:
            continue
        owner, same = out[places[0]], [out[i] for i in places]
        out[places[0]] = replace(
            owner,
            gain=next((one.gain for one in same if one.gain is not None), None),
            pad=next((one.pad for one in same if one.pad), ""),
            phantom=next((one.phantom for one in same if one.phantom not in ("", UNKNOWN)), owner.phantom),
        )
        for i in places[1:]:
            out[i] = replace(out[i], gain=None, pad="", phantom="")
            notes.guess(f"on the same socket as channel {owner.number}", out[i].number, short="socket shared")
    return out
