"""The forms in which lists come: separators, encodings, orders, decimal commas; and spreadsheets."""

from __future__ import annotations

import io
import sys
import zipfile
from pathlib import Path
from typing import Any

import pytest

from replay.patch.model import Patch, Send, Slot
from tests.need import need_package
from tests.patch.good import COLUMNS, ROWS, Show, csv_text


def _channels(patch: Patch) -> list[Any]:
    return [(c.number, c.name, c.socket, c.gain, c.trim, c.pair, c.sends, c.playback) for c in patch.channels]


@pytest.fixture
def expected(tmp_path: Path) -> list[Any]:
    folder = tmp_path / "good"
    folder.mkdir()
    return _channels(Show(folder).read())


@pytest.mark.parametrize("separator", [",", ";", "\t"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
@pytest.mark.parametrize("line_end", ["\n", "\r\n", "\r"])
def test_separators_encodings_and_line_ends(
    tmp_path: Path, expected: list[Any], separator: str, encoding: str, line_end: str
) -> None:
    text = csv_text(ROWS, separator=separator).replace("\n", line_end)
    assert _channels(Show(tmp_path).read(inputs=text.encode(encoding))) == expected


def test_columns_in_any_order_and_case_with_others_between(tmp_path: Path, expected: list[Any]) -> None:
    columns = list(reversed(COLUMNS))
    rows = [{**row, "Stand": "tall"} for row in ROWS]
    text = csv_text(rows, [*columns[:5], "Stand", *columns[5:]])
    header, _, rest = text.partition("\n")
    patch = Show(tmp_path).read(inputs=f"\n{header.upper()}\n,,,\n{rest}")
    assert _channels(patch) == expected
    assert patch.told == ()


def test_a_column_that_nearly_has_a_known_name_is_told(tmp_path: Path) -> None:
    patch = Show(tmp_path).read(inputs="channel,name,box,socket,trimm\n1,Kick,deck,1,-3\n")
    assert patch.channels[0].trim == 0
    assert patch.told == ('inputs.csv, line 1: column "trimm" is not read (did you mean trim?)',)


def test_old_encoding_is_read_and_told(tmp_path: Path) -> None:
    patch = Show(tmp_path).read(inputs="channel,name,box,socket\n1,Bodhrán,deck,1\n".encode("cp1252"))
    assert patch.channels[0].name == "Bodhrán"
    assert patch.channels[0].kind == "percussion"
    assert patch.told == ("inputs.csv: is not UTF-8; read as Windows-1252",)


def test_a_line_that_names_the_separator(tmp_path: Path, expected: list[Any]) -> None:
    assert _channels(Show(tmp_path).read(inputs="sep=;\n" + csv_text(ROWS, separator=";"))) == expected


@pytest.mark.parametrize(
    ("separator", "cell"), [(";", "-3,5"), (",", "-3,5"), ("\t", "−3,5"), (",", "-3.5 dB"), (",", "–3.5")]
)
def test_decimal_commas_and_minus_signs(tmp_path: Path, separator: str, cell: str) -> None:
    show = Show(tmp_path)
    show.rows[1]["trim"] = cell
    assert show.read(inputs=csv_text(show.rows, separator=separator)).channels[1].trim == -3.5


def test_cells_are_understood_as_people_write_them(tmp_path: Path) -> None:
    show = Show(tmp_path)
    show.rows[0].update(kind="KICK", phantom="+48V", pad="-20", polarity="Inverted", note="-")
    show.rows[1].update(kind="hi hat", phantom="elsewhere", pad="out", trim="—", **{"return": "None"})
    show.rows[2].update(pairing="One Source", **{"return": "MAIN 3"})
    show.rows[4].update(bus="main:-10,5; wedge1:+3")
    kick, hat, left, right, vox, _ = show.read().channels
    assert (kick.kind, kick.phantom, kick.pad, kick.inverted, kick.polarity_stated) == ("kick", "yes", True, True, True)
    assert (kick.note, hat.trim) == ("", 0)
    assert (hat.kind, hat.phantom, hat.pad, hat.playback) == ("hi-hat", "elsewhere", False, "none")
    assert (left.pairing, left.playback) == ("one-source", Slot("main", 3))
    assert (right.pair, right.pairing) == (3, "one-source")
    assert vox.sends == (Send(bus="main", level=-10.5), Send(bus="wedge1", level=3))


def test_what_is_left_out_has_defaults(tmp_path: Path) -> None:
    channel = Show(tmp_path).read(inputs="channel,name,box,socket\n7,Spare 1,Deck,2\n").channels[0]
    assert (channel.kind, channel.use, channel.input) == ("other", "must", "mic")
    assert (channel.gain, channel.pad, channel.phantom, channel.trim) == (None, False, "no", 0)
    assert (channel.inverted, channel.polarity_stated, channel.pair, channel.pairing) == (False, False, None, None)
    assert (channel.playback, channel.sends, channel.line) == (None, (), 2)
    assert str(channel.socket) == "deck 2"


def test_a_pair_on_one_side_holds_for_both_and_is_stereo_unless_said(tmp_path: Path) -> None:
    show = Show(tmp_path)
    del show.rows[2]["pairing"]
    _, _, left, right, *_ = show.read().channels
    assert (left.pair, left.pairing, right.pair, right.pairing) == (4, "stereo", 3, "stereo")


def test_one_preamp_has_one_gain(tmp_path: Path) -> None:
    """A gain, pad or phantom stated on one of two channels on a socket holds for both."""
    show = Show(tmp_path)
    show.rows[2].update(socket="1", phantom="yes")
    kick, _, second, *_ = show.read().channels
    assert (kick.gain, kick.pad, kick.phantom) == (30, True, "yes")
    assert (second.gain, second.pad, second.phantom) == (30, True, "yes")


def test_a_trim_between_the_steps_of_a_range_that_nobody_stated(tmp_path: Path) -> None:
    show = Show(tmp_path)
    del show.top["desk"]
    show.rows[1]["trim"] = "-3.25"
    assert show.read().channels[1].trim == -3.25


def _book(rows: list[list[object]], title: str = "Inputs", before: str | None = None) -> bytes:
    import openpyxl

    book = openpyxl.Workbook()
    sheet = book.active
    if before is not None:
        sheet.title = before
        sheet.append(["nothing here"])
        sheet = book.create_sheet()
    sheet.title = title
    for row in rows:
        sheet.append(row)
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


def _spreadsheet(show: Show, data: bytes) -> Show:
    show.top["inputs"] = "inputs.xlsx"
    (show.folder / "inputs.xlsx").write_bytes(data)
    return show


def test_a_spreadsheet_reads_as_its_csv(tmp_path: Path, expected: list[Any]) -> None:
    need_package("openpyxl")
    rows: list[list[object]] = [[], [name.title() for name in COLUMNS]]
    for row in ROWS:
        cells: list[object] = [row.get(column) for column in COLUMNS]
        # Numbers as spreadsheets hold them.
        cells = [float(c) if isinstance(c, str) and c.lstrip("-").isdigit() else c for c in cells]
        rows.append(cells)
    show = _spreadsheet(Show(tmp_path), _book(rows, before="Notes"))
    patch = show.read()
    assert _channels(patch) == expected
    assert [channel.line for channel in patch.channels] == [3, 4, 5, 6, 7, 8]


def test_problems_in_a_spreadsheet_name_its_row(tmp_path: Path) -> None:
    need_package("openpyxl")
    rows: list[list[object]] = [["channel", "name", "box", "socket", "phantom"], [], [1, "Kick", "deck", 33, True]]
    assert _spreadsheet(Show(tmp_path), _book(rows, "Sheet 1")).problems() == [
        'inputs.xlsx, line 3, socket: 33 is beyond box "deck" (it has sockets 1 to 24)'
    ]


def test_without_the_package_the_message_names_it(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "openpyxl", None)
    assert _spreadsheet(Show(tmp_path), b"PK").problems() == [
        "inputs.xlsx: spreadsheets need a package that is not installed (pip install openpyxl, or save the list as CSV)"
    ]


def _zip(parts: dict[str, bytes]) -> bytes:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in parts.items():
            archive.writestr(name, data)
    return stream.getvalue()


@pytest.mark.parametrize(
    ("parts", "expected"),
    [
        ({"xl/workbook.xml": b" " * 50_000_001}, "is too large unpacked (at most 50 MB)"),
        ({f"part{i}": b"" for i in range(1001)}, "is too large unpacked (at most 50 MB)"),
        (
            {"xl/workbook.xml": b'<!DOCTYPE x [<!ENTITY a "aaaa">]><x>&a;</x>'},
            "cannot be read as a spreadsheet (it defines a document type)"
            " (an .xlsx file as spreadsheets save it, or CSV)",
        ),
        (
            {"xl/workbook.xml": "<!DOCTYPE x>".encode("utf-16")},
            "cannot be read as a spreadsheet (it defines a document type)"
            " (an .xlsx file as spreadsheets save it, or CSV)",
        ),
        (
            {"xl/styles.xml": b"<x>" + b"<xf/>" * 300_000},
            "has too many cells or styles (a sheet with the list alone)",
        ),
        (
            {"xl/worksheets/sheet1.xml": b"<row " + b'a="1" ' * 1_000_001},
            "has too many cells or styles (a sheet with the list alone)",
        ),
        (
            {"xl/workbook.xml": b"<workbook/>"},
            "cannot be read as a spreadsheet (KeyError) (an .xlsx file as spreadsheets save it, or CSV)",
        ),
    ],
    ids=["bomb", "parts", "entities", "utf-16 entities", "styles", "attributes", "no book"],
)
def test_hostile_spreadsheets(tmp_path: Path, parts: dict[str, bytes], expected: str) -> None:
    need_package("openpyxl")
    assert _spreadsheet(Show(tmp_path), _zip(parts)).problems() == [f"inputs.xlsx: {expected}"]


def test_a_file_that_is_no_spreadsheet(tmp_path: Path) -> None:
    need_package("openpyxl")
    assert _spreadsheet(Show(tmp_path), b"channel,name\n").problems() == [
        "inputs.xlsx: cannot be read as a spreadsheet (BadZipFile) (an .xlsx file as spreadsheets save it, or CSV)"
    ]
