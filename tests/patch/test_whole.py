"""The reader as a whole: what a good patch becomes, the documentation's example, and any bytes at all."""

from __future__ import annotations

import doctest
import functools
import importlib
import io
import re
import zipfile
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from replay.errors import PatchError
from replay.patch.from_toml import read_patch
from replay.patch.model import Range
from replay.patch.routes import routes
from replay.text import harmless
from tests.need import need_package
from tests.patch.good import COLUMNS, TOP, Show, csv_text, toml

DOCS = Path(__file__).parents[2] / "docs" / "patch.md"


def test_a_folder_keeps_every_space_of_its_name(tmp_path: Path) -> None:
    show = Show(tmp_path)
    show.top["take"]["folder"] = "../sound  check "
    assert show.read().take.folder == "../sound  check "


def test_everything_in_the_file_arrives(tmp_path: Path) -> None:
    show = Show(tmp_path)
    show.top["box"][1].update(gains="shared", compensated=True, full_scale_dbu=18)
    show.top["bus"]["wedge1"] = {"ceiling": -6}
    patch = show.read()
    assert (patch.title, patch.rate) == ("Saturday, Mill Yard barn dance", 48000)
    assert (patch.path, patch.folder) == (tmp_path / "patch.toml", tmp_path)
    assert patch.inputs_path == tmp_path / "inputs.csv"
    assert (patch.take.folder, patch.take.of, patch.take.from_s, patch.take.to_s) == ("audio", "soundcheck", 270, 3725)
    assert patch.headroom.show_peak == -6
    assert patch.desk.trim == Range(min=-40, max=20, step=0.5)
    deck, riser = patch.boxes
    assert (deck.name, deck.sockets, deck.gain, deck.pad) == ("deck", 24, Range(min=0, max=60, step=1), 20)
    assert (deck.gains, deck.compensated, deck.full_scale_dbu) == ("ours", False, None)
    assert (riser.gain, riser.pad, riser.gains, riser.compensated) == (None, None, "shared", True)
    assert riser.full_scale_dbu == 18
    assert [(bus.name, bus.ceiling) for bus in patch.buses] == [("main", -3), ("wedge1", -6)]
    assert dict(patch.limits) == {"low_dbtp": -24}
    assert patch.kinds["vocal"].rise == 9
    assert [channel.kind for channel in patch.channels] == ["kick", "snare", "overhead", "overhead", "vocal", "strings"]
    assert patch.channel(6).input == "di"
    assert patch.box("riser") is riser


def test_a_kinds_rise_is_overridden_and_the_rest_stays(tmp_path: Path) -> None:
    show = Show(tmp_path)
    show.top["kind"] = {"tom": {"rise": 2.5}}
    kinds = show.read().kinds
    assert (kinds["tom"].rise, kinds["tom"].may_raise, kinds["snare"].rise) == (2.5, True, 4)
    assert (kinds["other"].rise, kinds["other"].most_rise) == (4, 9)


def test_a_rise_stated_for_what_no_kind_fits_is_no_guess(tmp_path: Path) -> None:
    show = Show(tmp_path)
    show.top["kind"] = {"other": {"rise": 4}}
    other = show.read().kinds["other"]
    assert (other.rise, other.most_rise) == (4, None)


def test_the_least_that_a_patch_needs(tmp_path: Path) -> None:
    show = Show(tmp_path)
    show.top = {
        "box": [{"name": "deck", "sockets": 24}],
        "link": [{"name": "main", "slots": 32}],
        "feed": [{"box": "deck", "sockets": 1, "slots": 1}],
    }
    patch = show.read(inputs="channel,name,box,socket\n1,Kick,deck,1\n")
    assert (patch.title, patch.rate, patch.take.of, patch.take.from_s) == (tmp_path.name, None, "soundcheck", None)
    assert patch.desk.trim == Range(min=-40, max=20, step=0.1)
    assert patch.headroom.show_peak == -6


def test_a_patch_file_by_its_name(tmp_path: Path) -> None:
    folder = Show(tmp_path).write()
    (folder / "patch.toml").rename(folder / "late.toml")
    assert read_patch(folder / "late.toml").folder == folder


@pytest.mark.parametrize(
    ("name", "expected"),
    [
        (
            "",
            "patch.toml: does not exist "
            "(a patch is looked for as {folder}/patch.toml; replay draft writes a first one)",
        ),
        ("gone", "gone: does not exist (a patch is looked for as {folder}/gone; replay draft writes a first one)"),
        ("a\0b", "a?b: is not a file name (no zero bytes in names)"),
        ("x" * 300, f"{'x' * 199}…: cannot be read: File name too long"),
    ],
)
def test_no_patch_there(tmp_path: Path, name: str, expected: str) -> None:
    with pytest.raises(PatchError) as caught:
        read_patch(tmp_path / name)
    assert str(caught.value) == expected.format(folder=tmp_path)


def test_a_patch_that_lies_near_is_named(tmp_path: Path) -> None:
    """Who gives the recording's folder, or the one above, is told where `draft` left the show."""
    (tmp_path / "school hall").mkdir()
    for name in ("school hall-show", "a", "b", "c"):
        (tmp_path / name).mkdir()
        (tmp_path / name / "patch.toml").write_text("")
    with pytest.raises(PatchError, match=rf"; there is one in '{tmp_path}/school hall-show'\)$"):
        read_patch(tmp_path / "school hall")
    with pytest.raises(
        PatchError, match=rf"; there is one in '{tmp_path}/a', '{tmp_path}/b', '{tmp_path}/c' and 1 more"
    ):
        read_patch(tmp_path)


def test_the_example_of_the_documentation(tmp_path: Path) -> None:
    text = DOCS.read_text()
    blocks = re.findall(r"```(toml|csv)\n(.*?)```", text, re.DOTALL)
    assert [language for language, _ in blocks[:2]] == ["toml", "csv"]
    (tmp_path / "patch.toml").write_text(blocks[0][1])
    (tmp_path / "inputs.csv").write_text(blocks[1][1])
    patch = read_patch(tmp_path)
    assert [channel.name for channel in patch.channels][:2] == ["Fiddle", "Accordion L"]
    assert patch.channel(3).pair == 2
    assert patch.channel(4).kind == "acoustic"
    assert routes(patch).of(8).playback == "live"
    # The table of files is an addition to the example.
    (tmp_path / "patch.toml").write_text(blocks[0][1] + blocks[2][1])
    assert read_patch(tmp_path).take.tracks["spare.wav"].number == 7


def test_the_documentation_names_every_key_and_column() -> None:
    text = DOCS.read_text()
    for column in COLUMNS:
        assert f"`{column}`" in text
    for key in ("full_scale_dbu", "first_track", "standard", "compensated", "channels", "point", "ceiling", "rise"):
        assert f"`{key}`" in text
    for table in TOP:
        assert f"[{table}" in text or f"`{table}`" in text


@pytest.mark.parametrize("module", ["kinds", "problems", "fields", "cells", "from_xlsx"])
def test_examples_in_docstrings(module: str) -> None:
    result = doctest.testmod(importlib.import_module(f"replay.patch.{module}"))
    assert result.attempted > 0
    assert result.failed == 0


# Any bytes: a patch or a PatchError, nothing else.

FUZZ = settings(
    max_examples=150,
    # Far beyond what any of these takes; only a hang reaches it.
    deadline=20_000,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
    derandomize=True,
)
GOOD = toml(TOP).encode()
LIST = csv_text([{"channel": "1", "name": "Kick", "box": "deck", "socket": "1", "bus": "main:-3"}]).encode()


def _ends(folder: Path, patch: bytes, inputs: bytes, name: str = "inputs.csv") -> None:
    (folder / "patch.toml").write_bytes(patch)
    (folder / name).write_bytes(inputs)
    found: PatchError | None = None
    try:
        routes(read_patch(folder))
    except PatchError as error:
        found = error
    if found is not None:
        assert len(found.problems) > 0
        for problem in found.problems:
            assert str(problem) == harmless(str(problem), 10_000)


def _damaged(good: bytes) -> st.SearchStrategy[bytes]:
    """Good bytes with a stretch replaced by others."""
    return st.builds(
        lambda start, length, new: good[:start] + new + good[start + length :],
        st.integers(0, len(good)),
        st.integers(0, 40),
        st.binary(max_size=20)
        | st.sampled_from([b'"', b"'", b"[", b"]", b"{", b"=", b",", b"\n", b"-", b"inf", b"9" * 99]),
    )


@FUZZ
@given(data=st.binary(max_size=400) | st.text(max_size=400).map(lambda text: text.encode(errors="replace")))
def test_any_bytes_as_a_patch(tmp_path: Path, data: bytes) -> None:
    _ends(tmp_path, data, LIST)


@FUZZ
@given(data=_damaged(GOOD))
def test_a_damaged_patch(tmp_path: Path, data: bytes) -> None:
    _ends(tmp_path, data, LIST)


@FUZZ
@given(data=st.binary(max_size=400) | st.text(max_size=400).map(lambda text: text.encode(errors="replace")))
def test_any_bytes_as_a_list(tmp_path: Path, data: bytes) -> None:
    _ends(tmp_path, GOOD, data)


@FUZZ
@given(
    data=_damaged(LIST) | st.binary(max_size=100).map(lambda rest: b"channel,name,box,socket,bus,return,pair\n" + rest)
)
def test_a_damaged_list(tmp_path: Path, data: bytes) -> None:
    _ends(tmp_path, GOOD, data)


_values = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner, max_size=3),
    max_leaves=5,
)


@FUZZ
@given(
    where=st.sampled_from(sorted(TOP)),
    value=_values,
    key=st.sampled_from(["", "name", "slots", "gain", "main", "trim"]),
)
def test_any_value_anywhere(tmp_path: Path, where: str, value: object, key: str) -> None:
    """TOML that is well formed, with values of any type where others belong."""
    top = dict(TOP)
    old = top[where]
    if key and isinstance(old, dict):
        top[where] = {**old, key: value}
    elif key and isinstance(old, list):
        top[where] = [{**old[0], key: value}, *old[1:]]
    else:
        top[where] = value
    _ends(tmp_path, toml(top).replace("None", "nan").encode(), LIST)


@functools.cache
def _book() -> bytes:
    """The list as a spreadsheet, made once: it holds the time at which it is made."""
    import openpyxl

    book = openpyxl.Workbook()
    for line in LIST.decode().splitlines():
        book.active.append(line.split(","))
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


def _ends_as_spreadsheet(folder: Path, data: bytes) -> None:
    _ends(folder, GOOD.replace(b"inputs.csv", b"inputs.xlsx"), data, "inputs.xlsx")


@FUZZ
@given(data=st.data())
def test_a_damaged_spreadsheet(tmp_path: Path, data: st.DataObject) -> None:
    need_package("openpyxl")
    _ends_as_spreadsheet(tmp_path, data.draw(_damaged(_book())))


@FUZZ
@given(data=st.data())
def test_a_spreadsheet_with_a_damaged_part(tmp_path: Path, data: st.DataObject) -> None:
    need_package("openpyxl")
    with zipfile.ZipFile(io.BytesIO(_book())) as archive:
        parts = {name: archive.read(name) for name in archive.namelist() if "docProps" not in name}
    name = data.draw(st.sampled_from(sorted(parts)))
    parts[name] = data.draw(_damaged(parts[name]))
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as archive:
        for part, content in parts.items():
            archive.writestr(part, content)
    _ends_as_spreadsheet(tmp_path, stream.getvalue())
