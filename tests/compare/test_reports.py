"""What is typed, what is refused, and what text, JSON and page hold, whatever the names are."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path

import jsonschema
import pytest

import replay.compare
from replay.cli import run
from replay.compare import as_json, as_page, as_text, words
from replay.compare.model import FATES, Comparison, Told
from replay.compare.put_together import compare
from replay.compare.sides import Side, meant
from replay.errors import CallError, OutputError
from replay.findings.result import Report
from replay.patch.kinds import KINDS
from replay.report.cells import width
from tests.report import pages, shows

ROOT = Path(replay.compare.__file__).parents[2]
SCHEMA = json.loads((Path(replay.compare.__file__).parent / "schema.json").read_text(encoding="utf-8"))


def two(before: Report, after: Report) -> Comparison:
    return compare(
        Side(letter="A", name="friday", report=_whole(before)),
        Side(letter="B", name="saturday", report=_whole(after)),
    )


def _whole(report: Report) -> Report:
    """With every kind of source, as any patch that was read has."""
    return replace(report, show=replace(report.show, patch=replace(report.show.patch, kinds=KINDS)))


@pytest.fixture(scope="module")
def hostile() -> Comparison:
    found = two(pages.small(), pages.hostile())
    told = Told(
        code="quieter",
        worse=True,
        confidence="likely",
        channels=(1,),
        message="6.0 dB quieter.",
        action="Look.",
        amount=-6.0,
        unit="dB",
    )
    return replace(found, told=(*found.told, told))


class Elements(HTMLParser):
    """Every element with its attributes."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.found: list[tuple[str, dict[str, str | None]]] = []
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        self.found.append((tag, dict(attrs)))


# What is typed


def test_a_show_a_patch_a_take_and_a_file_of_one_are_known(tmp_path):
    show = tmp_path / "saturday"
    take = show / "audio" / "one"
    take.mkdir(parents=True)
    (show / "patch.toml").write_text("")
    (show / "act.toml").write_text("")
    (take / "01.wav").write_bytes(b"")
    assert meant("A", str(show)).take is None
    assert meant("A", str(show / "act.toml")).show == show / "act.toml"
    assert (meant("A", str(take)).show, meant("A", str(take)).take) == (show, str(take))
    assert meant("A", str(take / "01.wav")).take == str(take / "01.wav")


def test_all_that_is_wrong_with_both_is_told_at_once(tmp_path, capsys):
    (tmp_path / "loose").mkdir()
    assert run(["compare", str(tmp_path / "gone"), str(tmp_path / "loose")]) == 2
    told = capsys.readouterr().err.splitlines()
    hint = "(give a show's folder, a take inside a show's folder, or a patch file)"
    assert told == [
        f"replay: A: {tmp_path / 'gone'} does not exist {hint}",
        f"replay: B: {tmp_path / 'loose'} is no show, and no folder above it has a patch.toml {hint}",
    ]


def test_a_name_with_a_zero_byte_is_no_file():
    with pytest.raises(CallError, match="does not exist"):
        meant("A", "friday\0")


def test_a_take_is_not_held_against_itself(capsys):
    demo = str(ROOT / "demo_audio")
    assert run(["compare", demo, demo]) == 2
    assert capsys.readouterr().err == "replay: A and B are the same take, audio (give two takes)\n"


def test_what_goes_wrong_with_a_show_names_its_letter(tmp_path, capsys):
    (tmp_path / "patch.toml").write_text("title = 3")
    assert run(["compare", str(ROOT / "demo_audio"), str(tmp_path)]) == 2
    lines = capsys.readouterr().err.splitlines()
    assert lines
    assert all("B: " in line for line in lines)


def test_only_one_way_to_compare_can_be_meant(capsys):
    assert run(["compare", "a", "b", "--takes", "--same-pass"]) == 2
    assert capsys.readouterr().err == "replay: --takes, --same-pass: only one of these can be meant (give one)\n"


def test_targets_that_cannot_be_written_are_told_before_any_work(tmp_path, capsys):
    call = ["compare", "a", "b", "--json", str(tmp_path / "no" / "a"), "--page", str(tmp_path)]
    assert run(call) == 2
    assert capsys.readouterr().err.splitlines() == [
        f"replay: {tmp_path / 'no' / 'a'}: cannot be written (that folder does not exist: make it first, or give "
        "another place)",
        f"replay: {tmp_path}: is a folder (give the name of a file)",
    ]


def test_a_file_is_no_folder_for_kept_measurements(tmp_path, capsys):
    (tmp_path / "file").write_text("")
    assert run(["compare", "a", "b", "--kept", str(tmp_path / "file")]) == 2
    assert capsys.readouterr().err == (
        f"replay: --kept: {tmp_path / 'file'} is not a folder (give a folder; it is made where there is none)\n"
    )


# Reports


def test_a_line_check_is_not_held_against_music():
    report = pages.small()
    patch = replace(report.show.patch, take=replace(report.show.patch.take, of="line-check"))
    found = two(replace(report, show=replace(report.show, patch=patch)), report)
    assert {one.why_not for one in found.channels} == {"a line check in A"}
    assert found.told == ()


def test_a_spare_that_plays_in_neither_is_not_said_to_be_missing_in_one():
    found = two(pages.small(), pages.small())
    why = {one.after.channel.number: one.why_not for one in found.channels}
    assert (why[6], why[7]) == ("plays in neither", "plays in neither")


def test_one_report_held_against_itself_changes_nothing():
    found = two(pages.small(), pages.small())
    assert found.verdict == "not-worse"
    assert found.told == ()
    assert {one.fate for one in found.findings} == {"still"}
    assert {one.moved.own_db for one in found.channels if one.moved is not None} == {0.0}
    assert words.verdict(found).startswith("NOTHING WORSE in 9 channels; ")


@pytest.mark.parametrize("cells", [60, 80, 120])
def test_no_line_is_wider_than_the_terminal(hostile, cells):
    for comparison in (hostile, two(pages.small(), pages.small())):
        for line in as_text.text(comparison, cells=cells).splitlines():
            assert width(line) <= cells, line


def test_the_document_fits_its_schema_and_holds_every_channel(hostile):
    document = json.loads(as_json.text(hostile))
    jsonschema.Draft202012Validator(SCHEMA).validate(document)
    assert len(document["channels"]) == len(hostile.channels)
    assert document["changes"][-1]["amount"] == -6.0
    assert as_json.text(hostile).isascii()


def test_words_of_the_code_and_of_the_schema_are_the_same():
    definitions = SCHEMA["$defs"]
    assert set(definitions["fate"]["properties"]["fate"]["enum"]) == set(FATES)
    assert set(definitions["channel"]["properties"]["state"]["enum"]) == set(words.MARKS)
    assert {fate for fates in words.FATES_UNDER.values() for fate in fates} == set(FATES)


def test_every_key_of_the_schema_is_described():
    text = (ROOT / "docs" / "comparing.md").read_text(encoding="utf-8")
    text = re.sub(r"^```.*?^```$", "", text, flags=re.MULTILINE | re.DOTALL)
    described = set(re.findall(r"[a-z][a-z0-9_]*", " ".join(re.findall(r"`([^`]+)`", text))))

    def keys(part: dict) -> set[str]:
        found = set(part.get("required", ())) | set(part.get("properties", ()))
        below = [*part.get("properties", {}).values(), *part.get("$defs", {}).values()]
        return found.union(*(keys(one) for one in below))

    assert sorted(keys(SCHEMA) - described) == []
    codes = SCHEMA["$defs"]["change"]["properties"]["code"]["enum"]
    assert [code for code in codes if f"`{code}`" not in text] == []


def test_nothing_in_the_page_runs_or_loads(hostile):
    text = as_page.text(hostile)
    elements = Elements(text)
    tags = {tag for tag, _ in elements.found}
    assert not tags & {"script", "img", "iframe", "object", "embed", "base", "form"}
    for tag, attributes in elements.found:
        assert not [name for name in attributes if name.startswith("on") or name in ("style", "srcdoc")], tag
        for name in ("src", "href", "xlink:href", "action"):
            assert re.fullmatch(r"#[\w-]+|data:,", attributes.get(name) or "#x"), (tag, attributes)
    policy = next(a["content"] for tag, a in elements.found if a.get("http-equiv") == "Content-Security-Policy")
    assert policy is not None
    assert policy.startswith("default-src 'none'; ")
    assert "<script" not in text
    assert "&lt;script&gt;" in text


def test_names_are_made_harmless_everywhere():
    marked = replace(shows.CHANNELS[0], name="Kick\u202e\x1b[31m<b>")
    report = pages.with_histories(shows.report(channels=(marked, *shows.CHANNELS[1:])))
    comparison = two(report, report)
    for text in (as_page.text(comparison), as_text.text(comparison, cells=200), as_json.text(comparison)):
        assert "Kick??[31m" in text
        assert "\u202e" not in text
        assert "\x1b" not in text
    assert "<b>" not in as_page.text(comparison).split("<main>")[1].replace("<b>dull", "").split("Kick")[1][:20]


def test_nothing_is_written_over_either_show(hostile, tmp_path):
    inputs = hostile.a.report.show.patch.inputs_path
    for write in (as_json.write, as_page.write):
        with pytest.raises(OutputError, match="is part of the show and is never written over"):
            write(hostile, inputs)
        with pytest.raises(OutputError, match="nothing is ever written into a take"):
            write(hostile, hostile.b.report.show.take.folder / "report")


def test_colour_is_only_ever_beside_a_word(hostile):
    plain = as_text.text(hostile)
    coloured = as_text.text(hostile, colour=True)
    assert "\x1b[" in coloured
    assert re.sub(r"\x1b\[[\d;]*m", "", coloured) == plain


def test_the_older_take_as_b_is_remarked():
    newer = pages.small()
    older = replace(newer, show=replace(newer.show, take=replace(newer.show.take, recorded=shows.RECORDED - 86400)))
    assert words.order(two(older, newer)) == ""
    assert words.order(two(newer, older)).startswith("B is the older take")
