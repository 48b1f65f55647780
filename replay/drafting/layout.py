"""Where in a grid the list is: which sheet, the header under its titles, lists side by side, where it ends."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from replay.drafting import columns, marks
from replay.drafting.columns import Columns
from replay.drafting.grid import Row, Sheet
from replay.drafting.headings import folded, is_exact, meanings

_SEARCHED = 60
"""Lines in which the header is looked for; titles, dates and logos take a dozen."""

_LEAST_COLUMNS = 2
_TWO_LINES = 0.3
"""What a header of two lines must be better by than one of its lines."""

_SOURCES = frozenset(
    ("input", "inputs", "input list", "patch", "kanalliste", "kanaele", "kanale", "eingange", "belegung")
)
_OTHERS = (
    "output",
    "monitor",
    "mix",
    "wedge",
    "ausgang",
    "ausgange",
    "sortie",
    "salida",
    "aux",
    "iem",
    "fx",
    "contact",
)


@dataclass(frozen=True, kw_only=True)
class Table:
    """A list found in a sheet. `blocks` are lists that stand side by side, each with its own columns, from left to
    right; `rows` are those below the header; `header_line` is None where there was no header."""

    sheet: Sheet
    header_line: int | None
    blocks: tuple[Columns, ...]
    rows: tuple[Row, ...]
    score: float
    ended: tuple[int, str] | None = None
    """The line on which another table begins, and how it begins."""


def find(sheets: Sequence[Sheet], wanted: str | None) -> tuple[Table | None, list[str]]:
    """The best list of all sheets, and the titles of other sheets that hold one too. `wanted` names a sheet."""
    if wanted is not None:
        sheets = [sheet for sheet in sheets if sheet.title.casefold() == wanted.strip().casefold()]
    found = [table for sheet in sheets if (table := _in_sheet(sheet)) is not None]
    if not found:
        return None, []
    best = max(found, key=lambda table: (_fitting_title(table.sheet.title), table.score))
    return best, [table.sheet.title for table in found if table is not best]


def _fitting_title(title: str) -> int:
    plain = folded(title)
    if plain in _SOURCES or "input" in plain:
        return 1
    return -1 if any(word in plain.split() or word + "s" in plain.split() for word in _OTHERS) else 0


def _in_sheet(sheet: Sheet) -> Table | None:
    best = _search(sheet, mistyped=False) or _search(sheet, mistyped=True)
    if best is None:
        return _without_header(sheet)
    worth, first, height, header = best
    rows, ended = _until_the_end(sheet.rows[first + height :], header)
    blocks = tuple(_block(header, start, stop, rows) for start, stop in _side_by_side(header))
    if not blocks[0].has("name") and not blocks[0].has("mic"):
        return _without_header(sheet)
    return Table(
        sheet=sheet,
        header_line=sheet.rows[first].line,
        blocks=blocks,
        rows=rows,
        score=worth * min(len(rows), 400) ** 0.5,
        ended=ended,
    )


def _search(sheet: Sheet, *, mistyped: bool) -> tuple[float, int, int, tuple[str, ...]] | None:
    """The header: how much it looks like one, its place among the rows, how many lines it has, its headings."""
    best: tuple[float, int, int, tuple[str, ...]] | None = None
    for i in range(min(len(sheet.rows), _SEARCHED)):
        for height, cells in _headers(sheet.rows, i):
            worth = _worth(cells, mistyped=mistyped) - (_TWO_LINES if height > 1 else 0)
            if worth > 0 and (best is None or worth > best[0] + 0.01):
                best = (worth, i, height, cells)
        if best is not None and i > best[1] + 20:
            break
    return best


def _headers(rows: Sequence[Row], i: int) -> list[tuple[int, tuple[str, ...]]]:
    """What may be a header here: this line, or it and the next one together ("Stage box" over "Box" and "In")."""
    found = [(1, rows[i].cells)]
    if i + 1 < len(rows) and rows[i].filled >= 2 and not any(marks.numbers(cell) for cell in rows[i + 1].cells):
        upper, last = [], ""
        width = max(len(rows[i].cells), len(rows[i + 1].cells))
        for place in range(width):
            last = rows[i].cell(place) or (last if rows[i + 1].cell(place) else "")
            upper.append(last)
        # A heading that is known by its lower line alone is better off without the upper one.
        together = tuple(
            low
            if low and (is_exact(low) and not is_exact(f"{up} {low}")) and not _contained(up, low)
            else f"{up} {low}".strip()
            for up, low in zip(upper, (rows[i + 1].cell(place) for place in range(width)), strict=True)
        )
        found.append((2, together))
    return found


def _contained(up: str, low: str) -> bool:
    """Whether two lines of a header mean more together: `In` under `Stage box` is a socket."""
    first = meanings(up)
    return bool(first) and first[0][0] in ("box", "socket") and folded(low) in ("in", "input", "no", "nr", "ch", "#")


def _worth(cells: Sequence[str], *, mistyped: bool = False) -> float:
    """How much a line looks like a header: its known headings, 0 where it does not."""
    known = [meanings(cell, mistyped=mistyped) for cell in cells]
    firsts = {fields[0][0] for fields in known if fields}
    anything = {field for fields in known for field, _ in fields}
    if len(firsts) < _LEAST_COLUMNS or not {"name", "mic"} & anything:
        return 0.0
    # Names and notes may head anything (contacts); sources are listed with a number, a place or a microphone.
    if not firsts - {"name", "note"} or firsts == {"mic", "note"}:
        return 0.0
    strange = sum(1 for cell, fields in zip(cells, known, strict=True) if cell and not fields)
    exact = sum(1 for cell, fields in zip(cells, known, strict=True) if fields and is_exact(cell))
    numbers = sum(1 for cell in cells if cell.isdigit())
    return max(0.0, exact + 0.7 * (sum(1 for fields in known if fields) - exact) - 0.15 * strange - numbers)


def _block(header: Sequence[str], start: int, stop: int, rows: Sequence[Row]) -> Columns:
    part = ["" if not start <= place < stop else heading for place, heading in enumerate(header)]

    def below(place: int) -> list[str]:
        return [cell for row in rows if (cell := row.cell(place))]

    width = max((len(row.cells) for row in rows[:200]), default=0)
    return columns.with_numbers(columns.understood(part, below), range(start, max(stop, width)), part, below)


def _side_by_side(header: Sequence[str]) -> list[tuple[int, int]]:
    """The column ranges of lists that stand beside each other under the same headings."""
    plain = [folded(heading) for heading in header]
    begins = next((place for place, heading in enumerate(plain) if heading), 0)
    again = [place for place in range(begins, len(plain)) if plain[place] == plain[begins]]
    if len(again) > 1:
        width = again[1] - again[0]
        first = [heading for heading in plain[begins : begins + width] if heading]
        second = [heading for heading in plain[again[1] : again[1] + width] if heading]
        if len(first) >= 2 and first == second:
            return [(place, place + width) for place in again]
    return [(0, len(header))]


def _until_the_end(rows: Sequence[Row], header: Sequence[str]) -> tuple[tuple[Row, ...], tuple[int, str] | None]:
    """The rows of the list: up to another table; its own header, repeated on every page, is left out."""
    own = [folded(cell) for cell in header if cell]
    kept: list[Row] = []
    for row in rows:
        cells = [folded(cell) for cell in row.cells if cell]
        if cells and (cells == own or (len(cells) >= 2 and set(cells) <= set(own) and len(cells) >= len(own) / 2)):
            continue
        title = " ".join(cells) if row.filled == 1 else ""
        ends = title.split()[:1] and any(title.split()[0] in (word, word + "s", word + "es") for word in _OTHERS)
        if kept and (ends or (len(cells) >= 3 and _worth(row.cells) >= 2.5)):
            return tuple(kept), (row.line, next(cell for cell in row.cells if cell))
        kept.append(row)
    return tuple(kept), None


def _without_header(sheet: Sheet) -> Table | None:
    rows = sheet.rows
    width = max((len(row.cells) for row in rows[:200]), default=0)

    def below(place: int) -> list[str]:
        # A line with one cell is a title.
        return [cell for row in rows if row.filled > 1 and (cell := row.cell(place))]

    found = columns.guessed(width, below)
    if found is None:
        return None
    return Table(sheet=sheet, header_line=None, blocks=(found,), rows=rows, score=0.5 * len(rows) ** 0.5)
