"""A further form of input list is a module and a line in the table of suffixes: `check` and `draft` both read it."""

from __future__ import annotations

import sys
from types import ModuleType

from replay.drafting.grid import read_grid
from replay.patch import from_table
from replay.patch.from_table import READERS, read_list, reader_of
from replay.patch.from_xlsx import Sheet
from replay.patch.problems import Problems

ROWS = ((1, ("channel", "name", "box", "socket")), (2, ("1", "Fiddle", "deck", "7")))


def test_every_reader_of_the_table_is_there(tmp_path):
    for suffix in READERS:
        reader = reader_of(tmp_path / f"list{suffix.upper()}")
        assert callable(reader.lines)
        assert callable(reader.sheets)


def test_one_more_reader(tmp_path, monkeypatch):
    reader = ModuleType("replay.patch.from_bars")
    reader.lines = lambda data: iter(ROWS) if data == b"bars" else iter(())
    reader.sheets = lambda data: [Sheet(title="Evening", rows=ROWS)]
    monkeypatch.setitem(sys.modules, reader.__name__, reader)
    monkeypatch.setitem(from_table.READERS, ".bars", "from_bars")
    path = tmp_path / "list.Bars"
    path.write_bytes(b"bars")
    problems = Problems()
    (row,) = read_list(path, problems).rows
    assert not problems.count
    assert row.cells == {"channel": "1", "name": "Fiddle", "box": "deck", "socket": "7"}
    ((sheet,), told) = read_grid(path)
    assert (sheet.title, [one.cells for one in sheet.rows], told) == ("Evening", [cells for _, cells in ROWS], [])
