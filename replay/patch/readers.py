"""Which module reads an input list that is no CSV, and what it gives."""

from __future__ import annotations

import importlib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from types import ModuleType

READERS: Mapping[str, str] = {
    ".xlsx": "from_xlsx",
    ".xlsm": "from_xlsx",
}
"""Which module of this folder reads a list, by the suffix of its file; with any other suffix it is CSV. The module has
`lines(data)`, for the patch: an iterator over (number of the line, its cells as text), the heading among them; and
`sheets(data)`, for drafts: a list of Sheet. Both raise Unfit, and nothing else, where these bytes are no such file or
are too much of one: a list comes from anywhere. It is imported when a list asks for it."""


@dataclass(frozen=True, kw_only=True)
class Sheet:
    """The rows of a sheet that hold anything, with their numbers; formulas by their kept values.

    `merged` are the ranges of merged cells as (first row, last row, first column, last column), counting from 1; only
    the first cell of such a range has a value.
    """

    title: str
    rows: tuple[tuple[int, tuple[str, ...]], ...]
    merged: tuple[tuple[int, int, int, int], ...] = ()


def reader_of(path: Path) -> ModuleType | None:
    """The module that reads a list of this suffix; None for CSV."""
    name = READERS.get(path.suffix.lower())
    return None if name is None else importlib.import_module(f"replay.patch.{name}")


def suffixes() -> str:
    """The suffixes of lists that are read, in words: .csv, .tsv or .xlsx."""
    *rest, last = (".csv", ".tsv", *READERS)
    return f"{', '.join(rest)} or {last}"
