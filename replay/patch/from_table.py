"""The input list as text cells in named columns: CSV in the forms that spreadsheets write, and XLSX.

What stands in the cells is judged in `channels.py`; here only the form of the file is.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TypeVar

from replay.errors import Place
from replay.patch.files import read_bytes
from replay.patch.problems import Problems, Unfit, nearest, shown
from replay.patch.readers import reader_of
from replay.text import harmless

T = TypeVar("T")
D = TypeVar("D")

NEEDED = ("channel", "name", "box", "socket")
COLUMNS = (
    *("channel", "name", "kind", "use", "input", "mic", "box", "socket", "gain", "pad", "phantom", "trim"),
    *("polarity", "pair", "pairing", "return", "bus", "note"),
)
MOST_CHANNELS = 1024
"""Channels of one list."""

MOST_LINES = 20_000
"""Lines that hold anything, unused ones of a template included."""

MOST_COLUMNS = 256
_LONGEST_CELL = 1000


@dataclass(frozen=True, kw_only=True)
class Row:
    """One line of the list: its cells by column name, white space trimmed; blank cells are left out.

    `line` is the line of the file on which it begins (the row of a spreadsheet), counting from 1.
    """

    file: str
    line: int
    cells: Mapping[str, str]
    problems: Problems

    def place(self, column: str = "") -> Place:
        """The place of a cell, or of the line."""
        return Place(self.file, line=self.line, key=column or None)

    def problem(self, column: str, message: str, hint: str = "") -> None:
        """Note a problem with a cell."""
        self.problems.add(message, self.place(column), hint)

    def read(self, column: str, parse: Callable[[str], T], default: D, *, required: str = "") -> T | D:
        """The value of a cell, parsed; the default where it is blank or unfit. `required`: as in fields.Table.read."""
        cell = self.cells.get(column)
        if cell is None:
            if required:
                self.problem(column, "is missing", required)
            return default
        try:
            return parse(cell)
        except Unfit as unfit:
            self.problems.unfit(unfit, self.place(column))
            return default


@dataclass(frozen=True, kw_only=True)
class InputList:
    """The rows of an input list, and remarks on its form that do not prevent use."""

    rows: tuple[Row, ...]
    told: tuple[str, ...] = ()


Lines = Iterator[tuple[int, Sequence[str]]]
"""Lines of cells with the number of the line on which each begins."""


def read_list(path: Path, problems: Problems, called: str | None = None) -> InputList | None:
    """The rows of an input list; None, and problems, where it has no usable header or cannot be read.

    `called` is how the file is shown (its name, if left out).
    """
    called = harmless(path.name) if called is None else called
    data = read_bytes(path, "an input list", problems, called)
    if data is None:
        return None
    told: list[str] = []
    try:
        reader = reader_of(path)
        lines = _csv_lines(text_of(data, called, told)) if reader is None else reader.lines(data)
        return _listed(lines, called, problems, told)
    except Unfit as unfit:
        problems.unfit(unfit, Place(called, unfit.line))
    return None


def text_of(data: bytes, called: str, told: list[str]) -> str:
    """The text of a CSV file: UTF-8, UTF-16 where it says so by its first bytes, else Windows-1252, which is told.

    Raises Unfit where the bytes are no text.
    """
    if data.startswith((b"PK\x03\x04", b"\xd0\xcf\x11\xe0")):
        raise Unfit("is a spreadsheet and not CSV", "save it as CSV, or as .xlsx under that name")
    encoding = "utf-16" if data.startswith((b"\xff\xfe", b"\xfe\xff")) else "utf-8-sig"
    try:
        text = data.decode(encoding)
    except UnicodeDecodeError:
        try:
            text = data.decode("cp1252")
        except UnicodeDecodeError:
            raise Unfit("is not text", "save the list as CSV in UTF-8") from None
        told.append(f"{called}: is not UTF-8; read as Windows-1252")
    if "\0" in text:
        raise Unfit("is not text: it holds zero bytes", "save the list as CSV in UTF-8")
    return text


def _csv_lines(text: str) -> Lines:
    """Lines of cells. The separator is the one under which the first line has most columns with known names."""
    start, first = 0, ""
    for start, first in enumerate(io.StringIO(text, newline="")):  # noqa: B007 (both are used below)
        if first.strip():
            break
    separator = None
    skipped = 0
    if first.strip().lower().startswith("sep=") and len(first.strip()) == 5:
        # Some spreadsheets write the separator into a line of its own.
        separator, skipped = first.strip()[-1], start + 1
    if separator is None:
        header = first[:10_000]

        def known(mark: str) -> int:
            return sum(_folded(cell) in COLUMNS for cell in header.split(mark))

        separator = max(",;\t", key=lambda mark: (known(mark), header.count(mark)))
    stream = io.StringIO(text, newline="")
    for _ in range(skipped):
        stream.readline()
    reader = csv.reader(stream, delimiter=separator, strict=True)
    line = skipped + 1
    while True:
        try:
            cells = next(reader, None)
        except csv.Error as error:
            raise Unfit(_in_words(error), 'a cell with quotes in it: "8"" tom"', line) from None
        if cells is None:
            return
        yield line, cells
        # A quoted cell may hold line breaks: the next line begins after them.
        line = skipped + reader.line_num + 1


def _in_words(error: csv.Error) -> str:
    message = str(error)
    if "unexpected end of data" in message:
        return "a quoted text has no end"
    if "expected after" in message:
        return "something follows a closing quote"
    if "field larger than" in message:
        return "a cell is far too long, perhaps a quoted text has no end"
    return message


def _listed(lines: Lines, called: str, problems: Problems, told: list[str]) -> InputList | None:
    header: dict[int, str] = {}
    width = 0
    rows: list[Row] = []
    filled = 0
    for line, raw in lines:
        if not any(cell and not cell.isspace() for cell in raw):
            continue
        filled += 1
        if filled > MOST_LINES:
            problems.add("has too many lines", Place(called, line), f"at most {MOST_LINES}")
            break
        if not header:
            header = _header(raw[:MOST_COLUMNS], called, line, problems, told)
            width = len(raw)
            if not header:
                return None
            continue
        row = Row(file=called, line=line, cells=_cells(raw, header), problems=problems)
        if any(cell.strip() for cell in raw[width:]):
            message = f"has {len(raw)} cells, the header has {width}"
            problems.add(message, row.place(), "a cell with a comma in it stands in quotes")
        # A number alone is a line of a template that nobody filled in.
        elif set(row.cells) - {"channel"}:
            if len(rows) == MOST_CHANNELS:
                problems.add("has too many channels", row.place(), f"at most {MOST_CHANNELS}")
                break
            rows.append(row)
    if not header:
        problems.add("the list is empty", Place(called), "columns needed: " + ", ".join(NEEDED))
        return None
    if not rows and not problems.count:
        problems.add("the list has no channels", Place(called), "a line for each channel")
    return InputList(rows=tuple(rows), told=tuple(told))


def _header(raw: Sequence[str], called: str, line: int, problems: Problems, told: list[str]) -> dict[int, str]:
    """Which column stands where; empty, and problems, where a needed one is missing or one stands twice."""
    place = Place(called, line)
    names = {i: _folded(cell) for i, cell in enumerate(raw) if cell.strip()}
    known = {i: name for i, name in names.items() if name in COLUMNS}
    extra = [name for name in names.values() if name not in COLUMNS]
    ok = True
    for name in COLUMNS:
        times = list(known.values()).count(name)
        if times > 1:
            problems.add(f"column {name} stands {times} times", place, "every column once")
            ok = False
        if not times and name in NEEDED:
            found = ", ".join(harmless(name, 20) for name in list(names.values())[:20])
            problems.add(f"there is no column {name}", place, f"columns here: {found}")
            ok = False
    free = [name for name in COLUMNS if name not in known.values()]
    for name in extra:
        hint = nearest(name, free) if len(told) < 50 else ""
        if hint.startswith("did you mean"):
            told.append(f"{place}: column {shown(name)} is not read ({hint})")
    return known if ok else {}


def _cells(raw: Sequence[str], header: Mapping[int, str]) -> dict[str, str]:
    cells = {}
    for i, name in header.items():
        # One character more than allowed, so that what is too long shows as too long.
        cell = " ".join(raw[i][: _LONGEST_CELL + 1].split()) if i < len(raw) else ""
        # Lists often have a dash where there is nothing.
        if cell.strip("-–— "):
            cells[name] = cell
    return cells


def _folded(cell: str) -> str:
    return cell.strip().strip('"').strip().casefold()
