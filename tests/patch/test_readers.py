"""A further form of input list is a module and a line in the table of suffixes: `check` and `draft` both read it."""

from __future__ import annotations

import sys
from pathlib import Path
from types import ModuleType

import pytest

from replay.drafting.grid import read_grid
from replay.patch import readers
from replay.patch.from_table import read_list
from replay.patch.problems import Problems, Unfit
from replay.patch.readers import READERS, Sheet, reader_of

DOCS = Path(readers.__file__).parents[2] / "docs"
ROWS = ((1, ("channel", "name", "box", "socket")), (2, ("1", "Fiddle", "deck", "7")))
NO_LISTS = (b"", b"\0" * 100, b"PK\x03\x04rest", b"[" * 100_000, b"{}", b"\xff\xfe<a/>", b"1")


def test_every_module_that_reads_lists_has_a_suffix():
    folder = Path(readers.__file__).parent
    having = {path.stem for path in folder.glob("from_*.py") if "\ndef sheets(" in path.read_text(encoding="utf-8")}
    missing = sorted(having - set(READERS.values()))
    assert not missing, f"list {missing} by suffix in READERS of replay/patch/readers.py"


@pytest.mark.parametrize("suffix", READERS)
class TestEveryReader:
    def test_is_there(self, suffix):
        reader = reader_of(Path(f"list{suffix.upper()}"))
        assert callable(reader.lines)
        assert callable(reader.sheets)

    @pytest.mark.parametrize("data", NO_LISTS)
    def test_says_of_what_it_cannot_read_that_it_does_not_fit(self, suffix, data):
        reader = reader_of(Path(f"list{suffix}"))
        with pytest.raises(Unfit):
            list(reader.lines(data))
        with pytest.raises(Unfit):
            reader.sheets(data)

    @pytest.mark.parametrize("page", ["patch.md", "drafting.md"])
    def test_is_told_of(self, suffix, page):
        assert f"`{suffix}`" in (DOCS / page).read_text(encoding="utf-8")


def test_the_suffixes_in_words(monkeypatch):
    monkeypatch.setattr(readers, "READERS", {".xlsx": "from_xlsx"})
    assert readers.suffixes() == ".csv, .tsv or .xlsx"


# One of them begins as spreadsheets do: others are ZIP files too.
@pytest.mark.parametrize("data", [b"bars", b"PK\x03\x04 bars"])
def test_one_more_reader(tmp_path, monkeypatch, data):
    reader = ModuleType("replay.patch.from_bars")
    reader.lines = lambda found: iter(ROWS) if found == data else iter(())
    reader.sheets = lambda found: [Sheet(title="Evening", rows=ROWS)]
    monkeypatch.setitem(sys.modules, reader.__name__, reader)
    monkeypatch.setitem(readers.READERS, ".bars", "from_bars")
    assert readers.suffixes().endswith(" or .bars")
    path = tmp_path / "list.Bars"
    path.write_bytes(data)
    problems = Problems()
    (row,) = read_list(path, problems).rows
    assert not problems.count
    assert row.cells == {"channel": "1", "name": "Fiddle", "box": "deck", "socket": "7"}
    ((sheet,), told) = read_grid(path)
    assert (sheet.title, [one.cells for one in sheet.rows], told) == ("Evening", [cells for _, cells in ROWS], [])
