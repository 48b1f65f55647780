"""Lists that hold anything at all: a message or a draft that the check accepts, soon, and in little memory."""

from __future__ import annotations

import csv
import io
import tracemalloc
import zipfile
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from replay.drafting import layout, lines, taking
from replay.drafting.draft import draft, encoded
from replay.drafting.grid import clean, read_grid
from replay.drafting.headings import meanings
from replay.drafting.inputs import written
from replay.drafting.marks import numbers, spot
from replay.drafting.notes import Notes
from replay.drafting.written import quoted
from replay.errors import PatchError, ReplayError
from replay.patch import from_xlsx
from replay.patch.from_toml import read_patch
from tests.conftest import Shelf
from tests.drafting.making import book, numbered

HEADINGS = st.sampled_from(
    [
        "Ch",
        "Input",
        "#",
        "Source",
        "Name",
        "Box",
        "Stagebox",
        "Socket",
        "Mic",
        "DI",
        "Gain",
        "Pad",
        "48V",
        "Trim",
        "Phase",
    ]
    + ["Stereo", "Pair", "Note", "Track", "Use", "Kind", "Type", "", "Stand", "Kanal", "pairing", "\x07", "=1+1"]
)
CELLS = st.sampled_from(
    ["", "", "1", "2", "3", "4", "9/10", "9-12", "1024", "1025", "0", "-1", "3.5", "-3,5", "+48", "x", "X", "no", "yes"]
    + [
        "Kick",
        "Keys L",
        "Keys R",
        "Keys",
        "Spare",
        "A",
        "A 1",
        "A 2",
        "a 1",
        "A1/2",
        "SB1-3",
        "B 1025",
        "1-2",
        "-20",
        "pad",
    ]
    + [
        "USB",
        "Total",
        "OUTPUTS",
        "STAGEBOX A",
        "=cmd()",
        "@x",
        "\u202eevil\u200b",
        "a" * 400,
        '"',
        "tab\tbed",
        "Ø",
        "live",
    ]
    + [
        "unknown",
        "elsewhere",
        "must",
        "off",
        "stereo",
        "spaced",
        "none",
        "\x1b[31m",
        "9999999999999999999999",
        "1e9",
        "½",
    ]
)
TABLES = st.tuples(
    st.lists(HEADINGS, min_size=2, max_size=8), st.lists(st.lists(CELLS, min_size=1, max_size=9), max_size=14)
)


@pytest.fixture(scope="module")
def take(shelf: Shelf) -> Path:
    return shelf.get("five tracks without names", lambda folder: numbered(folder / "one", 5))


@given(TABLES)
@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_a_draft_is_always_a_patch(take: Path, tmp_path: Path, table: tuple[list[str], list[list[str]]]) -> None:
    """Whatever stands in the cells: either no list can be seen in it, or the check accepts what comes out."""
    out = io.StringIO()
    csv.writer(out).writerows([table[0], *table[1]])
    path = tmp_path / "list.csv"
    path.write_text(out.getvalue(), encoding="utf-8")
    try:
        made = draft(taking.where(take, tmp_path / "show"), path, None, None)
    except PatchError as error:
        told = str(error)
        assert told.startswith("list.csv: no list of inputs can be seen in it") or "has no sources" in told, told
        return
    for name, data in encoded(made).items():
        (tmp_path / name).write_bytes(data)
    patch = read_patch(tmp_path)
    assert len(patch.channels) == len(made.channels) > 0
    assert "\x1b" not in made.inputs + made.patch


@given(st.binary(max_size=400))
@settings(max_examples=200, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@pytest.mark.parametrize("head", [b"", b"\xff\xfe", b"PK\x03\x04", b"Ch,Source,Socket\n"])
def test_any_bytes(take: Path, tmp_path: Path, head: bytes, data: bytes) -> None:
    path = tmp_path / "list.csv"
    path.write_bytes(head + data)
    try:
        made = draft(taking.where(take, tmp_path / "show"), path, None, None)
    except ReplayError:
        return
    assert made.channels


@given(st.text(max_size=80))
@settings(max_examples=400, deadline=None)
def test_any_cell(text: str) -> None:
    cell = clean(text)
    assert clean(cell) == cell
    assert all(1 <= number <= 1024 for number in numbers(cell))
    found = spot(cell, 1)
    assert found is None or all(1 <= socket <= 1024 for socket in found.sockets)
    meanings(text, mistyped=True)


@pytest.mark.parametrize(
    "cell",
    ["A" * 60_000, "1-" * 30_000, " " * 60_000 + "x", "A 1/" * 20_000, "." * 60_000, "ch" * 30_000, "9" * 60_000],
)
def test_long_cells_take_no_time(cell: str) -> None:
    """Patterns that look at a cell more than a few times would not come back here."""
    for _ in range(200):
        short = clean(cell)
        numbers(short)
        spot(short, 1)
        spot(short, 2)
        meanings(cell)


def test_a_list_of_very_many_lines_is_cut_and_told(take: Path, tmp_path: Path) -> None:
    path = tmp_path / "list.csv"
    path.write_text("Box,In,Source\n" + "".join(f"{n % 60},{n // 60 + 1},Choir {n}\n" for n in range(60_000)))
    made = draft(taking.where(take, tmp_path / "show"), path, None, None)
    assert len(made.channels) == 1024
    assert "from line 1026 on: a patch has at most 1024 channels" in [str(note) for note in made.notes.left_out]


def test_a_wide_list_in_little_memory(tmp_path: Path) -> None:
    """9 MB of short cells; a grid of Python strings of all of them would take ten times as much as is allowed here."""
    path = tmp_path / "list.csv"
    path.write_bytes((b"a," * 4000 + b"\n") * 1100)
    tracemalloc.start()
    try:
        sheets, _ = read_grid(path)
        _, peak = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    assert max(len(row.cells) for row in sheets[0].rows) == 256
    assert peak < 120e6


def test_a_list_beyond_all_bounds(take: Path, tmp_path: Path) -> None:
    path = tmp_path / "list.csv"
    path.write_bytes(b"x" * 10_000_001)
    with pytest.raises(PatchError, match=r"^list.csv: is too large \(an input list has at most 10 MB\)$"):
        draft(taking.where(take, tmp_path / "show"), path, None, None)


def test_a_quoted_text_without_an_end(take: Path, tmp_path: Path) -> None:
    path = tmp_path / "list.csv"
    path.write_text('Ch,Source,Socket\n1,"Kick,A 1\n' + "2,Snare,A 2\n" * 20_000)
    with pytest.raises(
        PatchError, match=r"^list.csv, line 2: a cell is far too long, perhaps a quoted text has no end$"
    ):
        draft(taking.where(take, tmp_path / "show"), path, None, None)


def test_a_book_that_unpacks_without_end(take: Path, tmp_path: Path) -> None:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("xl/workbook.xml", b" " * 50_000_001)
    path = tmp_path / "list.xlsx"
    path.write_bytes(stream.getvalue())
    with pytest.raises(PatchError, match=r"^list.xlsx: is too large unpacked \(at most 50 MB\)$"):
        draft(taking.where(take, tmp_path / "show"), path, None, None)


def test_a_book_that_claims_merged_cells_without_end(tmp_path: Path) -> None:
    data = book(("Inputs", [["Ch", "Source", "Socket"], [1, "Kick", "A 1"]], []))
    stream = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as new:
        for part in old.infolist():
            body = old.read(part)
            if part.filename == "xl/worksheets/sheet1.xml":
                ranges = b"".join(b'<mergeCell ref="B%d:B1048576"/>' % row for row in range(2, 20_000))
                body = body.replace(b"</worksheet>", b"<mergeCells>" + ranges + b"</mergeCells></worksheet>")
            new.writestr(part, body)
    path = tmp_path / "list.xlsx"
    path.write_bytes(stream.getvalue())
    sheets, _ = read_grid(path)
    assert [row.cells[:3] for row in sheets[0].rows] == [("Ch", "Source", "Socket"), ("1", "Kick", "A 1")]


def test_a_book_of_very_many_cells_is_not_read_to_its_end(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Each sheet is within bounds; all together could take minutes."""
    monkeypatch.setattr(from_xlsx, "MOST_CELLS", 1000)
    small = [["Ch", "Source", "Socket"], [1, "Kick", "A 1"]]
    path = tmp_path / "list.xlsx"
    path.write_bytes(book(("Inputs", small, []), *((f"Sheet {n}", [[1] * 20] * 30, []) for n in range(4))))
    sheets, _ = read_grid(path)
    assert [sheet.title for sheet in sheets] == ["Inputs", "Sheet 0", "Sheet 1"]


def test_formulas_whose_values_were_never_kept(take: Path, tmp_path: Path) -> None:
    """A book written by a program has formulas without values: such cells are blank, and nothing is worked out."""
    rows = [["Ch", "Source", "Socket"], ["=ROW()-1", "Kick", "A 1"], ["=A2+1", "Snare", '="A "&2']]
    path = tmp_path / "list.xlsx"
    path.write_bytes(book(("Inputs", rows, [])))
    made = draft(taking.where(take, tmp_path / "show"), path, None, None)
    told = [str(note) for note in made.notes.left_out]
    assert [(one.number, one.name, one.socket) for one in made.channels] == [(1, "Kick", 1)]
    assert told == ["names without channel or socket, taken as titles: line 3 (“Snare”)"]


def test_a_track_name_goes_into_the_list_as_one_harmless_line() -> None:
    assert written("\t=1+1 \x1b[31mKick\n\u202ein ") == "1+1 ?[31mKick ?in"


def test_strings_in_a_patch_are_safe() -> None:
    import tomllib

    for text in ('a"b\\c', "line\nbreak", "\x7f\x01", "é\u2028ü", "'''", "#"):
        assert tomllib.loads(f"x = {quoted(text)}") == {"x": text}


def test_titles_of_all_kinds_end_no_list_early() -> None:
    """A source may be called like a heading or an output."""
    rows = "Ch,Source,Socket\n1,Mix playback,A 1\n2,Monitor talkback,A 2\n3,Source,A 3\n4,Mic,A 4\n5,FX return,A 5\n"
    from replay.drafting.grid import _csv

    table, _ = layout.find([_csv(rows)], None)
    assert table is not None
    assert [line.name for line in lines.read(table, Notes())] == [
        "Mix playback", "Monitor talkback", "Source", "Mic", "FX return",
    ]  # fmt: skip
