"""The raw grid of an input list: rows of cleaned text cells, sheet by sheet, whatever stands in them.

CSV in the forms that spreadsheets write (any of four separators, UTF-8, UTF-16, Windows-1252), TSV, XLSX. Merged cells
that run down have their value in every row; those that run across have it in the first cell only.
"""

from __future__ import annotations

import csv
import io
import re
import unicodedata
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from types import ModuleType

from replay.errors import at
from replay.patch import from_table, from_xlsx
from replay.patch.files import read_bytes
from replay.patch.from_table import MOST_COLUMNS, MOST_LINES
from replay.patch.problems import Problems, Unfit
from replay.patch.readers import reader_of

LONGEST_CELL = 300
SEPARATORS = ";\t,|"
_LOOKED_AT = 300
"""Lines by which the separator is told."""


@dataclass(frozen=True, kw_only=True)
class Row:
    """One line that is not blank: its number in the file (or sheet) from 1, and its cells."""

    line: int
    cells: tuple[str, ...]
    merged: frozenset[int] = frozenset()
    """Places (from 0) whose value comes from a merged cell above."""

    def cell(self, place: int) -> str:
        """The cell at a place from 0; "" where the line ends before it."""
        return self.cells[place] if place < len(self.cells) else ""

    @property
    def filled(self) -> int:
        """How many cells hold something."""
        return sum(1 for cell in self.cells if cell)


@dataclass(frozen=True, kw_only=True)
class Sheet:
    """The rows of one sheet; the title is "" for CSV. `cut` says that it goes on beyond what is read."""

    title: str
    rows: tuple[Row, ...]
    cut: bool = False


def read_grid(path: Path) -> tuple[list[Sheet], list[str]]:
    """All sheets of a list, and remarks on its form. Raises PatchError where it cannot be read."""
    problems = Problems()
    data = read_bytes(path, "an input list", problems)
    told: list[str] = []
    found: list[Sheet] = []
    if data is not None:
        try:
            reader = _reader_of(path, data)
            if reader is None:
                found = [_csv(from_table.text_of(data, path.name, told))]
            else:
                found = [_sheet(one.title, one.rows, one.merged) for one in reader.sheets(data)]
        except Unfit as unfit:
            problems.unfit(unfit, at(path, line=unfit.line))
    problems.stop_if_any()
    return found, told


def _reader_of(path: Path, data: bytes) -> ModuleType | None:
    """What reads a list; None for CSV. A spreadsheet is known by its first bytes, whatever it was called, unless it has
    a name that another reader goes by: other formats are packed in the same way."""
    reader = reader_of(path)
    if reader in (None, from_xlsx):
        return from_xlsx if data.startswith(b"PK\x03\x04") else None
    return reader


def _csv(text: str) -> Sheet:
    lines = io.StringIO(text, newline="")
    first = lines.readline()
    skipped = 0
    stated = first.strip()
    if stated.lower().startswith("sep=") and len(stated) == 5:
        # Some spreadsheets write the separator into a line of its own.
        separator, skipped = stated[-1], 1
    else:
        lines.seek(0)
        separator = _separator(text)
    rows: list[tuple[int, tuple[str, ...]]] = []
    reader = csv.reader(lines, delimiter=separator)
    line = skipped + 1
    while len(rows) <= MOST_LINES:
        try:
            cells = next(reader, None)
        except csv.Error:
            raise Unfit("a cell is far too long, perhaps a quoted text has no end", "", line) from None
        if cells is None:
            break
        rows.append((line, tuple(cells[:MOST_COLUMNS])))
        line = skipped + reader.line_num + 1
    return _sheet("", rows, ())


def _separator(text: str) -> str:
    """The separator under which the lines most agree on how many cells they have, and have most."""
    head = "".join(line for line, _ in zip(io.StringIO(text, newline=""), range(_LOOKED_AT), strict=False))[:200_000]

    def worth(mark: str) -> float:
        try:
            counts = Counter(len(row) for row in csv.reader(io.StringIO(head, newline=""), delimiter=mark) if any(row))
        except csv.Error:
            return 0.0
        if not counts:
            return 0.0
        return max(share * (cells - 1) ** 0.5 for cells, share in counts.items()) / counts.total()

    return max(SEPARATORS, key=worth)


def _sheet(
    title: str, rows: Iterable[tuple[int, tuple[str, ...]]], merged: Iterable[tuple[int, int, int, int]]
) -> Sheet:
    kept: dict[int, list[str]] = {}
    cut = False
    for line, cells in rows:
        cleaned = [clean(cell) for cell in cells]
        if any(cleaned):
            if len(kept) == MOST_LINES:
                cut = True
                break
            kept[line] = cleaned
    filled: dict[int, set[int]] = {}
    for top, bottom, left, right in merged:
        value = kept[top][left - 1] if top in kept and left <= len(kept[top]) else ""
        # What runs across is a title, and a range of thousands of lines is nobody's source.
        if not value or right > left or bottom - top > 1024:
            continue
        for line in range(top + 1, bottom + 1):
            # A line that holds nothing else still holds the merged value: the second socket of a stereo source.
            row = kept.setdefault(line, [])
            row.extend([""] * (left - len(row)))
            if not row[left - 1]:
                row[left - 1] = value
                filled.setdefault(line, set()).add(left - 1)
        if len(kept) > 2 * MOST_LINES:
            break
    return Sheet(
        title=clean(title)[:40],
        rows=tuple(
            Row(line=line, cells=tuple(kept[line]), merged=frozenset(filled.get(line, ()))) for line in sorted(kept)
        ),
        cut=cut,
    )


_UNSEEN = {"Cc", "Cf", "Cs", "Co", "Cn"}


def clean(cell: str) -> str:
    """A cell without characters that nobody sees, white space in runs of one, at most LONGEST_CELL characters.

    >>> clean(" Kick\\u200b\\n\\tin\\u00a0"), clean("2026-10-09 00:00:00"), clean("1.0")
    ('Kick in', '9/10', '1')
    """
    text = cell[: 4 * LONGEST_CELL]
    if not text.isascii() or not text.isprintable():
        text = "".join(c for c in text if c.isspace() or unicodedata.category(c) not in _UNSEEN)
    text = " ".join(text.split())[:LONGEST_CELL].rstrip()
    if whole := re.fullmatch(r"(\d{1,9})[.,]0{1,9}", text, re.ASCII):
        return whole[1]
    return _undated(text)


_DATE = re.compile(r"\d{4}-(\d\d)-(\d\d)(?: 00:00:00)?", re.ASCII)
_DAY_MONTH = re.compile(r"(\d{1,2})[. -]{1,2}([A-Za-zäéû]{3,9})\.?", re.ASCII)
_MONTHS = (
    ("jan", "ene"), ("feb", "fev", "fév"), ("mar", "mär", "mrz"), ("apr", "avr", "abr"), ("may", "mai"),
    ("jun", "juin"), ("jul", "juil"), ("aug", "aou", "aoû", "ago"), ("sep", "sept"), ("oct", "okt"), ("nov",),
    ("dec", "dez", "déc", "dic"),
)  # fmt: skip


def _undated(text: str) -> str:
    """What was typed before a spreadsheet took it for a date: 9/10 becomes the ninth of October, or the tenth of
    September. Only where day and month are neighbours."""
    day = month = 0
    if found := _DATE.fullmatch(text):
        month, day = int(found[1]), int(found[2])
    elif found := _DAY_MONTH.fullmatch(text):
        day = int(found[1])
        word = found[2].casefold()
        month = next((i for i, names in enumerate(_MONTHS, 1) if any(word.startswith(name) for name in names)), 0)
    if abs(day - month) != 1 or not min(day, month):
        return text
    return f"{min(day, month)}/{max(day, month)}"
