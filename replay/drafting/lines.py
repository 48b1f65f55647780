"""The lines of a table that are sources, each with its channels, name and place; all others are told as left out."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

from replay.drafting import marks
from replay.drafting.columns import Columns
from replay.drafting.grid import Row
from replay.drafting.headings import folded, meanings
from replay.drafting.layout import Table
from replay.drafting.marks import Spot
from replay.drafting.notes import Notes
from replay.patch.from_table import MOST_CHANNELS
from replay.text import harmless, ranges


@dataclass(frozen=True, kw_only=True)
class Line:
    """One source line. `channels` are the desk's numbers, empty where the line states none; `spot` where it is plugged,
    None where it says no place (`no_spot` is what it says instead); `cells` the rest by field; `section` the nearest
    title above it; `merged` are fields whose cell is merged with the line above."""

    line: int
    channels: tuple[int, ...]
    name: str
    spot: Spot | None
    no_spot: str
    box: str
    section: str
    cells: Mapping[str, str]
    merged: frozenset[str]


def read(table: Table, notes: Notes) -> list[Line]:
    """The source lines of a table in its order: block by block where lists stand side by side."""
    unnamed: list[int] = []
    titles: list[str] = []
    found: list[Line] = []
    for line in _lines(table, notes, unnamed, titles):
        if len(found) == MOST_CHANNELS:
            notes.leave_out(f"from line {line.line} on: a patch has at most {MOST_CHANNELS} channels")
            break
        found.append(line)
    if unnamed:
        many = len(unnamed) > 1
        notes.leave_out(f"line{'s' if many else ''} {ranges(unnamed)}: no source is named there")
    if titles:
        notes.leave_out("names without channel or socket, taken as titles: " + ", ".join(titles[:20]))
    if table.ended:
        notes.leave_out(f"everything from line {table.ended[0]} on (“{harmless(table.ended[1], 30)}”): another table")
    return _without_repeats(_two_sockets(found), notes)


def _lines(table: Table, notes: Notes, unnamed: list[int], titles: list[str]) -> Iterator[Line]:
    for block in table.blocks:
        section = ""
        for row in table.rows:
            cells = _cells(row, block)
            if not any(cells.values()):
                continue
            title = _title(row, cells, block)
            if title:
                section = title
                if cells.get("name"):
                    titles.append(f"line {row.line} (“{harmless(title, 30)}”)")
                continue
            line = _line(row, block, cells, section, notes, unnamed)
            if line is not None:
                yield line


def _cells(row: Row, block: Columns) -> dict[str, str]:
    """The cells that were understood. A dash alone is a blank cell."""
    return {field: cell if (cell := row.cell(place)).strip("-–—_ ") else "" for field, place in block.places.items()}


def _title(row: Row, cells: Mapping[str, str], block: Columns) -> str:
    """The words of a line that is no source but a title over those below it, such as a box or DRUMS."""
    held = [cell for cell in row.cells if cell]
    if len(set(held)) != 1 or any(row.merged):
        return ""
    alone = held[0]
    # In the name's column it may be a source that nobody numbered; with a list of numbers it is a title.
    if marks.numbers(alone) or (cells.get("name") and not (block.has("channel") or block.has("socket"))):
        return ""
    return "" if marks.is_total(row.cells) else alone


def _line(
    row: Row, block: Columns, cells: dict[str, str], section: str, notes: Notes, unnamed: list[int]
) -> Line | None:
    if marks.is_total(row.cells):
        notes.leave_out(f"line {row.line}: adds the list up")
        return None
    channels = marks.numbers(cells.get("channel", ""))
    name = cells.get("name", "")
    if not name and cells.get("mic") and (channels or cells.get("socket")) and not block.has("name"):
        name = cells["mic"]
    if not name:
        if cells.get("mic") or cells.get("note"):
            shown = harmless(cells.get("mic") or cells["note"], 30)
            notes.leave_out(f"line {row.line}: no source is named there, though it says “{shown}”")
        elif channels or cells.get("socket"):
            unnamed.append(row.line)
        return None
    if block.has("channel") and not channels:
        if cells.get("channel"):
            notes.leave_out(f"line {row.line}: “{harmless(cells['channel'], 20)}” is no channel ({harmless(name, 30)})")
            return None
        if not cells.get("socket") and not cells.get("track"):
            notes.leave_out(f"line {row.line}: has neither a channel nor a socket ({harmless(name, 30)})")
            return None
    wanted = len(channels) or 1
    stated = cells.get("socket", "")
    place = marks.spot(stated, wanted) if stated else None
    box = cells.get("box", "")
    return Line(
        line=row.line,
        channels=channels,
        name=name,
        spot=place,
        no_spot=stated if place is None else "",
        box=box,
        section=section,
        cells={field: cell for field, cell in cells.items() if cell},
        merged=frozenset(field for field, at in block.places.items() if at in row.merged),
    )


def _two_sockets(lines: list[Line]) -> list[Line]:
    """`A4-5` among sockets of a box A are its sockets 4 and 5, and not socket 5 of a box A4."""
    boxes = {line.spot.box.casefold() for line in lines if line.spot is not None}
    out = []
    for line in lines:
        two = marks.spot(line.cells.get("socket", ""), 2) if len(line.channels) < 2 else None
        if line.spot is not None and two is not None and len(two.sockets) == 2 and line.spot.box:
            neighbours = two.sockets[1] == two.sockets[0] + 1
            if neighbours and two.box.casefold() in boxes and two.box.casefold() != line.spot.box.casefold():
                line = replace(line, spot=two)
        out.append(line)
    return out


def _without_repeats(lines: list[Line], notes: Notes) -> list[Line]:
    """Channel numbers once each. Where they begin again under another title or box they count that box's sockets."""
    numbers = [number for line in lines for number in line.channels]
    if len(set(numbers)) == len(numbers):
        return lines
    if _count_sockets(lines):
        notes.guess_patch(
            "the list's channel numbers begin again in every box: they were taken as its sockets, and the channels "
            "numbered in the order of the list"
        )
        return [replace(line, channels=(), spot=Spot(_own_box(line), line.channels)) for line in lines]
    seen: dict[int, int] = {}
    kept = []
    for line in lines:
        clash = next((number for number in line.channels if number in seen), None)
        if clash is None:
            seen.update(dict.fromkeys(line.channels, line.line))
            kept.append(line)
        else:
            notes.leave_out(
                f"line {line.line}: channel {clash} stands on line {seen[clash]} already ({harmless(line.name, 30)})"
            )
    return kept


def _own_box(line: Line) -> str:
    return line.box or box_of_title(line.section)


def _count_sockets(lines: list[Line]) -> bool:
    if any(line.spot is not None for line in lines) or not all(line.channels and _own_box(line) for line in lines):
        return False
    spots = [(_own_box(line).casefold(), number) for line in lines for number in line.channels]
    return len(set(spots)) == len(spots)


_BOX_WORDS = re.compile(
    r"\b(?:stage ?box(?:es)?|stage ?rack|box|rack|sub ?snake|snake|riser|local|lokal|locale?s?|multi(?:core)?|"
    r"b(?:ü|ue)hnenbox|boitier|boîtier|caja)\b",
    re.IGNORECASE,
)


def box_of_title(title: str) -> str:
    """The box that a title names: the whole title, or the word beside the word for a box; "" where it names none.

    >>> box_of_title("STAGEBOX A"), box_of_title("Drum riser box (24 in)"), box_of_title("DRUMS")
    ('A', 'Drum riser', '')
    """
    if not _BOX_WORDS.search(title):
        return ""
    plain = re.sub(r"\([^)]*\)|[:#]|\b\d{1,3}\s*(?:in|inputs|ch|channels|ways?|eingänge|kanäle)\b.*", " ", title)
    kept = re.sub(r"\b(?:inputs?|in|stage ?box(?:es)?|stage ?rack|b(?:ü|ue)hnenbox|bo[iî]tier|caja|box)\b", " ", plain,
                  flags=re.IGNORECASE)  # fmt: skip
    name = " ".join(kept.split()).strip(" -–:,/")
    return (name or " ".join(plain.split()).strip(" -–:,/"))[:40]


def heads(table: Table) -> Iterator[str]:
    """How each heading was understood, from left to right; one whose word is the field's own stands alone."""
    block = table.blocks[0]
    for field, heading in sorted(block.headings.items(), key=lambda item: block.places[item[0]]):
        if table.header_line is None or folded(heading) != field:
            first = meanings(heading)
            sure = bool(first) and first[0][0] == field
            yield f"{heading} as {field}" if sure else f"{heading} as {field} (by what stands below it)"
        else:
            yield heading
