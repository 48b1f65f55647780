"""What was answered by ear, as every report says it."""

from __future__ import annotations

import csv
from dataclasses import replace

import pytest

from replay.ear import Answer, Ear
from replay.errors import OutputError
from replay.findings.result import Report
from replay.mapping.model import ChannelMapping, MappingResult
from replay.report import as_csv, as_json, as_routes, as_text, confirmed, whole
from tests.report import pages, shows
from tests.report.shows import patch, routes


@pytest.fixture(scope="module")
def report() -> Report:
    return pages.answered()


def row(report: Report, number: int) -> str:
    lines = as_text.text(report, cells=100).splitlines()
    at = lines.index(next(line for line in lines if line.startswith("CHANNELS")))
    (found,) = [line for line in lines[at:] if line[5:10].split() == [str(number)]]
    return found


def test_the_first_lines_count_what_neither_sound_nor_ear_confirmed(report):
    first = " ".join(as_text.text(report, cells=200).splitlines()[:4])
    # Six channels must play and have a track: the sound confirms 2, the ears confirm 1 and call 5 wrong.
    assert "; 4 not confirmed by sound or by ear." in first
    assert "1 confirmed by sound, 1 by ear, 1 wrong by ear, 3 could not be told." in first
    assert "You answered by ear: 1 right, 1 wrong, 1 unsure, last on 2026-06-20 17:32." in first


def test_without_answers_nothing_is_said_of_ears(report):
    without = replace(report, show=replace(report.show, ear=Ear()))
    shown = as_text.text(without)
    assert "; 4 not confirmed by sound." in " ".join(shown.split())
    assert "Your ears may say the rest: replay confirm SHOW." in " ".join(shown.split())
    assert "ear" not in shown.replace("heard", "").replace("appear", "").split()


@pytest.mark.parametrize(("number", "word"), [(1, "ear"), (2, "yes"), (3, "-"), (5, "WRONG")])
def test_the_column_of_what_was_heard(report, number, word):
    assert word in row(report, number).split()


def test_ears_and_sound_together():
    words = {
        (status, said): confirmed.heard(status, said)
        for status in ("heard", "named", "contradicted", "unknown")
        for said in ("", "right", "wrong", "unsure")
    }
    assert {said for (_, kind), said in words.items() if kind == "wrong"} == {"WRONG"}
    assert all(words[status, "unsure"] == words[status, ""] for status, _ in words)
    assert [words[status, "right"] for status in ("heard", "named", "contradicted", "unknown")] == [
        "both", "ear", "ear?", "ear",
    ]  # fmt: skip
    assert max(map(len, words.values())) <= 5


def test_the_table_for_a_spreadsheet(report, tmp_path):
    as_csv.write(report, str(tmp_path / "sheets"))
    with open(tmp_path / "sheets" / "channels.csv", encoding="utf-8-sig", newline="") as file:
        rows = {line["channel"]: line for line in csv.DictReader(file)}
    keys = ("mapping", "confirmed", "confirmed_as", "confirmed_on")
    assert [rows["1"][key] for key in keys] == ["unknown", "right", "", "2026-06-20 17:30"]
    assert [rows["2"][key] for key in keys] == ["heard", "", "", ""]
    assert [rows["5"][key] for key in keys] == ["heard", "wrong", pages.HOSTILE, "2026-06-20 17:32"]


def test_the_count_for_other_programs(report):
    assert as_json.document(report)["counts"]["unconfirmed"] == 4


def test_ticks_in_the_list_of_routes():
    said = {
        1: Answer(channel=1, name="", answer="right"),
        2: Answer(channel=2, name="", answer="wrong", is_really="5"),
        3: Answer(channel=3, name="", answer="unsure"),
    }
    of = patch()
    judged = MappingResult(channels={1: ChannelMapping("heard"), 4: ChannelMapping("contradicted", found_on=3)})
    for mapping, ends in (
        (None, ["ear", "WRONG, is 5", "-", "4"]),
        (judged, ["both", "WRONG, is 5", "-", "NO, track 3"]),
    ):
        shown = as_routes.text(of, routes(of), medium=None, mapping=mapping, ear=Ear(answers=said), cells=100)
        lines = [line for line in shown.splitlines() if line[:2].strip() in ("1", "2", "3", "4") and "deck" in line]
        assert [line.endswith(end) for line, end in zip(lines, ends, strict=True)] == [True] * 4
        assert "You answered by ear: 1 right, 1 wrong, 1 unsure." in " ".join(shown.split())
    assert "heard" not in as_routes.text(of, routes(of), medium=None)


def test_the_drawing_of_the_way():
    from replay.findings.finding import Finding
    from replay.report.page import channels, drawing

    wrong = Finding(
        code="wrong-by-ear", severity="fault", confidence="certain", message="It is.", action="Go.", channels=(1,)
    )
    made = shows.report(findings=(wrong,))
    ways = {way.row.number: way for way in drawing.drawing(made, channels.rows(made)).ways}
    assert (ways[1].kind, ways[1].trouble) == ("exchanged", "wrong by ear")
    assert [sign.text for sign in ways[1].signs] == ["⇄"]
    assert ways[3].kind == "plain"


def test_no_report_is_ever_written_over_the_answers(report, tmp_path):
    moved = replace(report, show=replace(report.show, patch=replace(report.show.patch, folder=tmp_path)))
    with pytest.raises(OutputError, match="is part of the show and is never written over"):
        whole.protect(moved, tmp_path / "confirmed.csv")
