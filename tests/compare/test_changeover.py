"""Two patches at a changeover: what changes at which socket, and in which order it is done."""

# ruff: noqa: E501 (a case a line reads best)
from __future__ import annotations

import json
from pathlib import Path

import pytest

from replay.cli import run
from replay.compare.changeover import as_json, as_page, as_text
from replay.compare.changeover.sockets import Changeover, SocketChange, changeover
from replay.compare.changeover.words import channel_words
from replay.patch.from_toml import read_patch
from replay.patch.model import Slot, Socket

HOUSE = """\
rate = 48000

[[box]]
name = "deck"
sockets = 16
gain = { min = 0, max = 60, step = 1 }
pad = 20

[[link]]
name = "main"
slots = 16

[[feed]]
box = "deck"
sockets = "1-16"
slots = "1-16"
"""
HEAD = "channel,name,input,mic,box,socket,gain,pad,phantom,trim,return\n"


def show(folder: Path, name: str, rows: str, patch: str = "") -> Path:
    (folder / "house").mkdir(exist_ok=True)
    (folder / "house" / "patch.toml").write_text(HOUSE)
    place = folder / name
    place.mkdir()
    (place / "patch.toml").write_text(f'extends = "../house"\ntitle = "{name}"\n{patch}')
    (place / "inputs.csv").write_text(HEAD + rows)
    return place


def compared(folder: Path, before: str, after: str, patch: str = "") -> Changeover:
    one, other = show(folder, "first", before), show(folder, "second", after, patch)
    return changeover(read_patch(one), read_patch(other))


def steps(change: Changeover, box: int = 0) -> dict[str, list[int]]:
    return {step: [one.socket.number for one in sockets] for step, sockets in change.boxes[box].steps}


def only(change: Changeover) -> SocketChange:
    assert len(change.sockets) == 1
    return change.sockets[0]


@pytest.mark.parametrize(
    ("before", "after", "changes", "done"),
    [
        # The same source and settings: nothing.
        ("1,Fiddle,mic,a,deck,1,30,,yes,,", "1,Fiddle,mic,a,deck,1,30,,yes,,", (), []),
        ("1,Fiddle,mic,a,deck,1,30,,yes,,", "1,FIDDLE,mic,A,deck,1,30,,yes,,", (), []),
        # Another source: phantom power goes off before the plug is drawn, though the next one wants it too.
        (
            "1,Fiddle,mic,a,deck,1,30,,yes,,",
            "1,Banjo,mic,b,deck,1,30,,yes,,",
            ("source", "mic"),
            ["phantom-off", "unplug", "plug", "phantom-on"],
        ),
        # A source that stays on its plug: only what differs.
        ("1,Fiddle,mic,a,deck,1,30,,yes,,", "1,Fiddle,mic,a,deck,1,30,,no,,", ("phantom",), ["phantom-off"]),
        ("1,Fiddle,mic,a,deck,1,30,,,,", "1,Fiddle,mic,a,deck,1,30,,yes,,", ("phantom",), ["phantom-on"]),
        ("1,Fiddle,mic,a,deck,1,30,,,,", "1,Fiddle,mic,a,deck,1,30,yes,,,", ("pad",), ["pad"]),
        # A gain falls before the new source comes, and rises after it.
        ("1,Fiddle,mic,a,deck,1,30,,,,", "1,Kick,mic,b,deck,1,20,,,,", ("source", "mic", "gain"), ["gain-first", "unplug", "plug"]),
        ("1,Kick,mic,b,deck,1,20,,,,", "1,Fiddle,mic,a,deck,1,30,,,,", ("source", "mic", "gain"), ["unplug", "plug", "gain-last"]),
        ("1,Kick,mic,b,deck,1,,,,,", "1,Kick,mic,b,deck,1,30,,,,", ("gain",), ["gain-first"]),
        ("1,Kick,mic,b,deck,1,30,,,,", "1,Kick,mic,b,deck,1,,,,,", ("gain",), []),
        ("1,Kick,mic,b,deck,1,30,,,,", "1,Tom,mic,c,deck,1,,,,,", ("source", "mic", "gain"), ["unplug", "plug", "gain-unknown"]),
        ("1,Kick,mic,b,deck,1,30,,,,", "1,Tape,digital,,deck,1,,,,,", ("source", "mic", "gain"), ["unplug", "plug"]),
        # A split's phantom power is not switched here, but it is there.
        (
            "1,Fiddle,mic,a,deck,1,30,,elsewhere,,",
            "1,Tape,line,,deck,1,30,,,,",
            ("source", "mic", "phantom"),
            ["phantom-off", "unplug", "plug"],
        ),
        # The desk's affairs are none of the stage box's.
        ("1,Fiddle,mic,a,deck,1,30,,,,", "9,Fiddle,mic,a,deck,1,30,,,,", ("channel",), []),
        ("1,Fiddle,mic,a,deck,1,30,,,,", "1,Fiddle,mic,a,deck,1,30,,,,live", ("return",), []),
    ],
)  # fmt: skip
def test_one_socket(tmp_path: Path, before: str, after: str, changes: tuple[str, ...], done: list[str]) -> None:
    change = compared(tmp_path, before, after)
    assert only(change).changes == changes
    assert list(steps(change)) == done


def test_a_source_comes_and_one_goes(tmp_path: Path) -> None:
    change = compared(tmp_path, "1,Fiddle,mic,a,deck,1,30,yes,yes,,", "1,Banjo,mic,a,deck,2,34,yes,yes,,")
    assert steps(change) == {
        "phantom-off": [1],
        "gain-first": [2],
        "unplug": [1],
        "pad": [2],
        "plug": [2],
        "phantom-on": [2],
    }
    goes, comes = change.sockets
    assert (goes.after, comes.before) == (None, None)
    assert change.boxes[0].mute == (1,)


def test_one_kind_of_microphone_may_stay(tmp_path: Path) -> None:
    change = compared(tmp_path, "1,Caller,mic,dynamic,deck,1,30,,,,", "1,Singer,mic,Dynamic,deck,1,30,,,,")
    assert (only(change).changes, only(change).may_stay) == (("source",), True)
    assert "unplug       1 Caller (may stay: same mic)" in as_text.text(change)


def test_two_blank_microphones_are_not_known_to_be_one_kind(tmp_path: Path) -> None:
    change = compared(tmp_path, "1,Caller,mic,,deck,1,30,,,,", "1,Singer,mic,,deck,1,30,,,,")
    assert not only(change).may_stay


def test_channels_on_one_socket(tmp_path: Path) -> None:
    rows = "1,Fiddle,mic,a,deck,1,30,,,,\n2,Fiddle FX,,,deck,1,,,,,"
    assert only(compared(tmp_path, rows, rows)).stays


def test_slots_tracks_and_whose_gains(tmp_path: Path) -> None:
    patch = (
        '[[box]]\nname = "deck"\ngains = "monitors"\n[[link]]\nname = "main"\nfirst_track = 11\n'
        '[[box]]\nname = "riser"\nsockets = 4\n[[feed]]\nbox = "riser"\nsockets = "1-4"\nslots = "1-4"\n'
    )
    change = compared(
        tmp_path,
        "1,Fiddle,mic,a,deck,1,30,,,,\n5,Bass,di,,deck,5,20,,,,",
        "1,Fiddle,mic,a,riser,1,30,,,,\n5,Bass,di,,deck,5,26,,,,",
        patch,
    )
    went, bass, came = change.sockets
    assert [one.socket for one in change.sockets] == [Socket("deck", 1), Socket("deck", 5), Socket("riser", 1)]
    assert bass.changes == ("gain", "whose", "recorded")
    assert (went.after, came.before) == (None, None)
    assert [(t.slot, t.track_before, t.track_after, t.source_before, t.source_after) for t in change.tracks] == [
        (Slot("main", 1), 1, 11, Socket("deck", 1), Socket("riser", 1)),
        (Slot("main", 5), 5, 15, Socket("deck", 5), Socket("deck", 5)),
    ]
    assert [(one.number, one.differs) for one in change.channels] == [(1, (("socket", "deck 1", "riser 1"),))]
    said = as_text.text(change)
    assert "Its gains were ours, and are monitors now. The gains are the monitor" not in said
    assert "  Its gains were ours, and are monitors now.\n  The gains are the monitor desk's: ask there.\n" in said
    assert "track 11 (was 1), slot 1: Fiddle (deck 1) -> Fiddle (riser 1)" in said


def test_the_desk(tmp_path: Path) -> None:
    change = compared(
        tmp_path,
        "1,Fiddle,mic,a,deck,1,30,,,-2,\n2,Bass,di,,deck,2,20,,,,",
        "1,Fiddle,mic,a,deck,1,30,,,1.5,live\n3,Banjo,di,,deck,2,20,,,,",
    )
    assert [channel_words(one) for one in change.channels] == [
        "Fiddle, trim -2 -> +1.5, return 1 -> live",
        "Bass goes",
        "Banjo comes, deck 2",
    ]


BEFORE = "1,Fiddle,mic,clip-on,deck,1,34,,yes,-2,\n2,Ac gtr,di,,deck,2,20,yes,,,\n3,Caller,mic,dynamic,deck,3,24,,,,"
AFTER = "1,Kick,mic,boundary,deck,1,22,yes,,,\n2,Ac gtr,di,,deck,2,20,,,,\n3,Caller,mic,dynamic,deck,3,24,,,,"

TEXT = """\
Of 3 sockets in use 2 change, 1 stays; 1 plugged anew; 1 channel to set at the
desk; 1 track with another source.

From  first (first/patch.toml)
To    second (second/patch.toml)

Mute before anything is unplugged, and before phantom power or a pad is
switched. Give phantom power time to go down before unplugging. This order is
common practice and has no source.

deck: 2 change, 1 stays
  Mute channels 1-2.
  1  phantom off  1
  2  gain         1 34 -> 22
  3  unplug       1 Fiddle
  4  pad          1 in, 2 out
  5  plug in      1 Kick (mic boundary)

  socket  was     is now    mic or DI     48 V       pad        gain
       1  Fiddle  Kick      mic boundary  on -> off  out -> in  34 -> 22
       2  Ac gtr  the same                           in -> out
  stays: 3 Caller

At the desk
     1  Fiddle -> Kick, trim -2 -> 0

At the recorder
  track 1, slot 1: Fiddle -> Kick
"""


def test_as_text(tmp_path: Path) -> None:
    assert as_text.text(compared(tmp_path, BEFORE, AFTER)) == TEXT


def test_no_name_is_cut_for_the_heading_over_the_sockets(tmp_path: Path) -> None:
    change = compared(tmp_path, BEFORE.replace("Fiddle", "Fiddle left"), AFTER)
    wide, narrow = (as_text.text(change, cells=cells).splitlines() for cells in (80, 75))
    assert "  socket  was          is now    mic or DI     48 V       pad        gain" in wide
    assert "     was          is now    mic or DI     48 V       pad        gain" in narrow
    assert "  1  Fiddle left  Kick      mic boundary  on -> off  out -> in  34 -> 22" in narrow


@pytest.mark.parametrize("cells", [60, 80, 200])
def test_no_line_is_wider(tmp_path: Path, cells: int) -> None:
    long = "Accordion of the second player from the left"
    change = compared(tmp_path, f"1,{long},mic,{long},deck,1,34,,yes,-2,", f"1,{long} B,mic,{long} B,deck,1,20,yes,,,")
    assert max(map(len, as_text.text(change, cells=cells).splitlines())) <= cells


def test_as_json(tmp_path: Path) -> None:
    found = json.loads(as_json.text(compared(tmp_path, BEFORE, AFTER)))
    assert (found["format"], found["version"]) == ("replay-changeover", "1.0")
    assert found["counts"] == {"sockets": 3, "change": 2, "stay": 1, "replugged": 1, "channels": 1, "tracks": 1}
    (box,) = found["boxes"]
    assert box["steps"] == [
        {"step": "phantom-off", "sockets": [1]},
        {"step": "gain-first", "sockets": [1]},
        {"step": "unplug", "sockets": [1]},
        {"step": "pad", "sockets": [1, 2]},
        {"step": "plug", "sockets": [1]},
    ]
    assert box["sockets"][1] == {
        "socket": 2,
        "stays": False,
        "changes": ["pad"],
        "replugged": False,
        "may_stay_plugged": False,
        "before": {
            "channels": [2],
            "name": "Ac gtr",
            "input": "di",
            "mic": "",
            "phantom": "no",
            "pad": True,
            "gain_db": 20,
            "gains": "ours",
            "recorded": [{"link": "main", "slot": 2, "track": 2}],
            "returns": [{"link": "main", "slot": 2}],
        },
        "after": {**box["sockets"][1]["before"], "pad": False},
    }


def test_as_a_page(tmp_path: Path) -> None:
    rows = BEFORE.replace("Fiddle", "<b>Fiddle</b>")
    page = as_page.text(compared(tmp_path, rows, AFTER))
    assert "&lt;b&gt;Fiddle&lt;/b&gt;" in page
    assert "<b>Fiddle" not in page
    assert page.count('<article class="sheet"') == 2
    assert "Mute channels 1-2." in page


class TestTheCommand:
    def test_two_patch_files_are_meant_as_patches(self, tmp_path: Path, capsys) -> None:
        one, other = show(tmp_path, "first", BEFORE), show(tmp_path, "second", AFTER)
        assert run(["compare", str(one / "patch.toml"), str(other / "patch.toml")]) == 0
        assert capsys.readouterr().out == TEXT

    def test_quiet(self, tmp_path: Path, capsys) -> None:
        one, other = show(tmp_path, "first", BEFORE), show(tmp_path, "second", BEFORE)
        assert run(["compare", str(one), str(other), "--patches", "--quiet"]) == 0
        assert capsys.readouterr().out == "Nothing changes at 3 sockets in use.\n"

    def test_files_are_written_and_json_printed(self, tmp_path: Path, capsys) -> None:
        one, other = show(tmp_path, "first", BEFORE), show(tmp_path, "second", AFTER)
        call = ["compare", str(one), str(other), "--patches", "--page", str(tmp_path / "x.html"), "--json"]
        assert run([*call, "-"]) == 0
        assert json.loads(capsys.readouterr().out)["counts"]["change"] == 2
        assert run([*call, str(tmp_path / "x.json")]) == 0
        assert (tmp_path / "x.json").read_text() == as_json.text(changeover(read_patch(one), read_patch(other)))
        assert (tmp_path / "x.html").read_text().startswith("<!doctype html>")

    def test_what_is_wrong_with_both_is_told(self, tmp_path: Path, capsys) -> None:
        one, other = show(tmp_path, "first", BEFORE + ","), show(tmp_path, "second", "1,Kick,mic,,dek,99,loud,,,,")
        (tmp_path / "first" / "patch.toml").write_text("rate = 1\n")
        assert run(["compare", str(one), str(other), "--patches"]) == 2
        said = capsys.readouterr().err.splitlines()
        assert said[0] == "replay: A: patch.toml, rate: 1 is out of range (8000 to 192000)"
        assert said[-1] == 'replay: B: inputs.csv, line 2, gain: "loud" is not a number'

    def test_a_patch_is_never_written_over(self, tmp_path: Path, capsys) -> None:
        one, other = show(tmp_path, "first", BEFORE), show(tmp_path, "second", AFTER)
        house = tmp_path / "house" / "patch.toml"
        assert run(["compare", str(one), str(other), "--patches", "--json", str(house)]) == 2
        assert capsys.readouterr().err == (
            f"replay: {house}: is part of a show and is never written over (give another name)\n"
        )
        assert house.read_text() == HOUSE
