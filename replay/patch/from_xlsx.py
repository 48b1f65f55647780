"""The cells of a spreadsheet (.xlsx) as text, bounded: what a ZIP or an XML claims is not believed."""

from __future__ import annotations

import io
import re
import warnings
import zipfile
from collections.abc import Callable, Iterator, Sequence
from typing import Any

from replay.patch.problems import Unfit
from replay.patch.readers import Sheet

LARGEST_UNPACKED = 50 * 1000 * 1000
"""Bytes of all parts unpacked; a list of a thousand channels has a tenth of a megabyte."""

MOST_MARKS_SHEET = 1_000_000
MOST_MARKS = 300_000
"""Elements and attributes of a sheet and of any other part. The reader makes about a kilobyte and ten microseconds of
each, and a list of a thousand channels has a hundred thousand in its sheet."""

MOST_SHEETS = 20
MOST_MERGED = 10_000
"""Sheets that are looked through for a list, and merged ranges of each; a book of lists has a handful."""

MOST_CELLS = 200_000
"""Filled cells after which no further sheet is looked through."""

_MOST_PARTS = 1000
_MOST_ROWS = 20_100
_MOST_COLUMNS = 256


def lines(data: bytes) -> Iterator[tuple[int, Sequence[str]]]:
    """Rows of the sheet called "inputs", or of the first sheet, with their numbers; formulas by their kept values.

    Raises
    ------
    Unfit
        The package that reads spreadsheets is not installed, or these bytes are no spreadsheet within bounds.
    """

    def wanted(titles: Sequence[str]) -> list[int]:
        return [next((i for i, title in enumerate(titles) if title.strip().casefold() == "inputs"), 0)]

    yield from _read(data, wanted)[0].rows


def sheets(data: bytes) -> list[Sheet]:
    """The first sheets of a book, in its order: MOST_SHEETS, or fewer large ones. Raises Unfit as `lines` does."""
    return _read(data, lambda titles: list(range(min(len(titles), MOST_SHEETS))))


def _read(data: bytes, wanted: Callable[[Sequence[str]], list[int]]) -> list[Sheet]:
    """The sheets whose places `wanted` picks from all titles."""
    try:
        import openpyxl
    except ImportError:
        raise Unfit(
            "spreadsheets need a package that is not installed",
            "pip install openpyxl, or save the list as CSV",
        ) from None
    _look_inside(data)
    book = None
    # Whatever a hostile workbook makes the reader raise or warn of, it is the file that is wrong.
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        try:
            book = openpyxl.load_workbook(io.BytesIO(data), read_only=True, data_only=True, keep_links=False)
            there = book.worksheets
            found: list[Sheet] = []
            cells = 0
            for i in wanted([sheet.title for sheet in there]):
                # One large sheet is read, many are not: what stands behind so much is no input list.
                if cells <= MOST_CELLS:
                    found.append(_sheet(data, there[i]))
                    cells += sum(1 for _, row in found[-1].rows for cell in row if cell)
            return found
        except Exception as error:
            raise Unfit(f"cannot be read as a spreadsheet ({type(error).__name__})", _RIGHT) from None
        finally:
            if book is not None:
                book.close()


def _sheet(data: bytes, sheet: Any) -> Sheet:
    # The size that a sheet states is often wrong; without it the reader goes by what is there.
    sheet.reset_dimensions()
    rows = []
    for number, row in enumerate(sheet.iter_rows(max_row=_MOST_ROWS, max_col=_MOST_COLUMNS), 1):
        cells = tuple(as_text(cell.value) for cell in row)
        if any(cells):
            rows.append((number, cells))
    return Sheet(title=sheet.title, rows=tuple(rows), merged=_merged(data, getattr(sheet, "_worksheet_path", "")))


def _merged(data: bytes, part: str) -> tuple[tuple[int, int, int, int], ...]:
    """The merged ranges of a sheet. The reader leaves them out where it reads row by row, so they are read here, from
    the sheet's own text; at most MOST_MERGED."""
    found: list[tuple[int, int, int, int]] = []
    rest = b""
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        if part not in archive.namelist():
            return ()
        with archive.open(part) as stream:
            while (block := stream.read(1 << 20)) and len(found) < MOST_MERGED:
                text = rest + block
                end = 0
                for match in _MERGED.finditer(text):
                    end = match.end()
                    first, last = match[1], match[3]
                    found.append((int(match[2]), int(match[4]), _column(first), _column(last)))
                rest = text[max(end, len(text) - 200) :]
    return tuple(found[:MOST_MERGED])


_MERGED = re.compile(rb"""<(?:\w{1,20}:)?mergeCell\s+ref=["']([A-Z]{1,3})([0-9]{1,7}):([A-Z]{1,3})([0-9]{1,7})["']""")


def _column(letters: bytes) -> int:
    """The number of a column by its letters: A is 1, AA is 27."""
    number = 0
    for letter in letters:
        number = number * 26 + letter - ord("A") + 1
    return number


_RIGHT = "an .xlsx file as spreadsheets save it, or CSV"


def as_text(value: object) -> str:
    """A cell as a person would have typed it.

    >>> as_text(12.0), as_text(-3.5), as_text(None), as_text(True)
    ('12', '-3.5', '', 'yes')
    """
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        # Spreadsheets keep 0.1 as a binary fraction with all its digits.
        return f"{value:.10g}"
    return str(value)[:2000]


def _look_inside(data: bytes) -> None:
    """Refuse what would unpack too large, or define entities (the format forbids document types)."""
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            parts = archive.infolist()
            if len(parts) > _MOST_PARTS or sum(part.file_size for part in parts) > LARGEST_UNPACKED:
                raise Unfit("is too large unpacked", f"at most {LARGEST_UNPACKED // 1_000_000} MB")
            for part in parts:
                if part.flag_bits & 1:
                    raise Unfit("is locked with a password", "save it without one")
                _look_through(archive, part)
    except Unfit:
        raise
    except Exception as error:
        raise Unfit(f"cannot be read as a spreadsheet ({type(error).__name__})", _RIGHT) from None


def _look_through(archive: zipfile.ZipFile, part: zipfile.ZipInfo) -> None:
    """Refuse a part that defines entities, or has so many elements that reading them would take minutes."""
    most = MOST_MARKS_SHEET if part.filename.startswith("xl/worksheets/") else MOST_MARKS
    marks = 0
    tail = b""
    with archive.open(part) as stream:
        while block := stream.read(1 << 20):
            # Without the zero bytes, text in UTF-16 reads the same.
            plain = block.replace(b"\0", b"")
            # Entities that stand for other entities can make a small file grow without bound while it is read.
            joined = tail + plain
            if b"<!DOCTYPE" in joined or b"<!ENTITY" in joined:
                raise Unfit("cannot be read as a spreadsheet (it defines a document type)", _RIGHT)
            tail = joined[-16:]
            marks += plain.count(b"<") + plain.count(b"=")
            if marks > most:
                raise Unfit("has too many cells or styles", "a sheet with the list alone")
