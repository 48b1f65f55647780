"""The tables for a spreadsheet: what stands in them, and that no cell of text is taken for a formula."""

from __future__ import annotations

import csv
import io
from dataclasses import replace

import pytest

from replay.desk.model import Advice
from replay.errors import OutputError
from replay.patch.model import Channel, Socket
from replay.report import as_csv
from tests.report.shows import CHANNELS, CLIPPED, STATES, report


def read(folder, name: str) -> list[dict[str, str]]:
    data = (folder / name).read_bytes()
    assert data.startswith(b"\xef\xbb\xbf")
    return list(csv.DictReader(io.StringIO(data.decode("utf-8-sig"), newline="")))


@pytest.fixture
def sheets(tmp_path):
    as_csv.write(report(), str(tmp_path / "sheets"))
    return tmp_path / "sheets"


def test_three_files_and_nothing_else(sheets):
    assert sorted(path.name for path in sheets.iterdir()) == ["channels.csv", "findings.csv", "stage-sheet.csv"]


def test_the_stage_sheet_goes_box_by_box_in_socket_order(sheets):
    lines = (sheets / "stage-sheet.csv").read_bytes().decode("utf-8-sig").split("\r\n")
    assert lines == [
        '"box","socket","channel","name","mic or DI","phantom","pad","CHANGE","was","set","found","whose gain","done",'
        '"note"',
        '"deck",1,1,"Kick in","mic","no","out","",30,"","","ours","",""',
        '"deck",2,2,"Snare top","mic","no","out",-10,38,28,"","ours","",'
        '"Gain down first, then trim up. Then record it again and check: no trim mends a clip."',
        '"deck",3,3,"Overhead left","mic","yes","out","","","","","ours","",""',
        '"deck",4,4,"Overhead right","mic","yes","out","","","","","ours","",""',
        '"deck",5,6,"Vocal caller","mic","no","out","",44,"","","ours","",'
        '"Check microphone, cable, phantom power and mute switch."',
        '"deck",6,7,"Vocal spare","mic","no","out","",40,"","","ours","",""',
        '"riser",13,5,"Bass","DI","no","none",-6,24,18,"","monitors","",'
        '"Tell the monitor desk first. Gain down first, then trim up."',
        '"riser",14,9,"Fiddle","mic","no","none","",20,"","","monitors","",""',
        '"local",1,8,"Talkback","mic","no","none","","","","","ours","",""',
        "",
    ]


def test_channels(sheets):
    rows = read(sheets, "channels.csv")
    assert [row["channel"] for row in rows] == [str(number) for number in range(1, 10)]
    snare = rows[1]
    assert snare["state"] == "bad"
    assert (snare["box"], snare["socket"], snare["link"], snare["slot"], snare["track"]) == (
        "deck",
        "2",
        "main",
        "2",
        "2",
    )
    assert (snare["sample_peak_dbfs"], snare["true_peak_dbtp"], snare["played_peak_dbtp"]) == ("0", "0.63", "0.4")
    assert (snare["change_db"], snare["was_gain_db"], snare["new_gain_db"], snare["new_trim_db"]) == (
        "-10",
        "38",
        "28",
        "10",
    )
    assert rows[7]["track"] == rows[7]["true_peak_dbtp"] == ""


def test_findings(sheets):
    rows = read(sheets, "findings.csv")
    assert [row["code"] for row in rows] == [
        "clipped",
        "noise-only",
        "no-track",
        "hot",
        "bus-over",
        "not-recorded",
        "old-take",
    ]
    assert rows[0]["slots"] == "main 2"
    assert rows[0]["start_s"] == "151.2"
    assert rows[0]["message"] == "14 runs at full scale between 2:31 and 8:02, the longest 0.8 ms."


@pytest.mark.parametrize(
    ("name", "cell"),
    [
        ("=1+1", "'=1+1"),
        ("+44 line", "'+44 line"),
        ("-3 dB pad", "'-3 dB pad"),
        ("@SUM(A1)", "'@SUM(A1)"),
        ("\t=1+1", "?=1+1"),
        ("\r=1+1", "?=1+1"),
        (" =1+1", "' =1+1"),
        ("＝1+1", "'＝1+1"),
        ('Kick", "x', 'Kick", "x'),
        ("Kick;=1+1", "Kick;=1+1"),
        ("\x1b[2JKick\u202e\ud800", "?[2JKick??"),
        ("<b>Kick</b>", "<b>Kick</b>"),
        ("1", "1"),
    ],
)
def test_no_name_is_a_formula_in_any_table(tmp_path, name, cell):
    channels = (replace(CHANNELS[0], name=name), *CHANNELS[1:])
    made = report(channels=channels, findings=(replace(CLIPPED, message=name, action=name, channels=(1,)),))
    as_csv.write(made, str(tmp_path))
    assert read(tmp_path, "channels.csv")[0]["name"] == cell
    assert read(tmp_path, "stage-sheet.csv")[0]["name"] == cell
    assert read(tmp_path, "findings.csv")[0]["message"] == cell


def test_text_is_quoted_so_that_a_semicolon_in_a_name_starts_no_cell(tmp_path):
    channels = (replace(CHANNELS[0], name="Kick;=1+1"), *CHANNELS[1:])
    as_csv.write(report(channels=channels), str(tmp_path))
    assert ',"Kick;=1+1",' in (tmp_path / "channels.csv").read_text(encoding="utf-8-sig")


def test_a_change_is_a_number_and_keeps_its_sign(tmp_path):
    as_csv.write(report(), str(tmp_path))
    assert ',"out",-10,38,28,' in (tmp_path / "stage-sheet.csv").read_text(encoding="utf-8-sig")


def sheet_row(advice: Advice, number: int = 1) -> dict[str, object]:
    made = report(findings=())
    views = tuple(
        replace(view, advice=advice if view.channel.number == number else None) for view in made.show.channels
    )
    rows = list(as_csv.stage_sheet(replace(made, show=replace(made.show, channels=views))))
    heads = as_csv._SHEET
    return next(dict(zip(heads, row, strict=True)) for row in rows if row[2] == number)


def test_a_pad_is_an_order_in_capitals():
    assert sheet_row(Advice(gain_db=6.0, pad="in"))["pad"] == "PUT IN"
    assert sheet_row(Advice(gain_db=-20.0, pad="out"))["pad"] == "TAKE OUT"


def test_what_is_cured_at_the_source_leaves_the_preamp_alone():
    row = sheet_row(Advice(gain_db=-6.0, at_source=True, order="Turn the pack down."))
    assert (row["CHANGE"], row["was"], row["set"]) == (None, 30.0, None)
    assert row["note"] == "At the source: -6 dB. Turn the pack down."


def test_a_socket_of_two_channels_is_one_row():
    second = Channel(number=10, name="Kick again", socket=Socket("deck", 1), line=11)
    rows = list(as_csv.stage_sheet(report(channels=(*CHANNELS, second), states={**STATES, 10: "good"})))
    assert rows[0][:4] == ["deck", 1, "1 10", "Kick in / Kick again"]
    assert len(rows) == 9


def test_a_file_in_the_way_of_the_folder_is_said_before_anything_is_written(tmp_path):
    (tmp_path / "sheets").write_text("mine")
    with pytest.raises(OutputError, match=r"sheets: cannot be written: File exists"):
        as_csv.write(report(), str(tmp_path / "sheets"))
    assert (tmp_path / "sheets").read_text() == "mine"
