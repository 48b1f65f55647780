# ruff: noqa: E501 (a case a line reads best)
"""Broken input lists: the good show with one cell broken, and the exact message that the user reads."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from tests.patch.good import COLUMNS, Show, csv_text

CELLS: list[tuple[str, int, dict[str, str], str]] = [
    # (what, row, cells changed, message); row 0 stands on line 2.
    ("no channel", 1, {"channel": ""}, "line 3, channel: is missing (1 to 1024)"),
    ("channel 0", 1, {"channel": "0"}, "line 3, channel: 0 is out of range (1 to 1024)"),
    ("channel of letters", 1, {"channel": "2a"}, 'line 3, channel: "2a" is not a whole number (1 to 1024)'),
    ("channel of many digits", 1, {"channel": "9" * 50}, f'line 3, channel: "{"9" * 50}" is not a whole number (1 to 1024)'),
    ("channel in other digits", 1, {"channel": "٣"}, 'line 3, channel: "٣" is not a whole number (1 to 1024)'),
    ("channel taken", 1, {"channel": "1"}, "line 3, channel: 1 already stands on line 2 (each channel on one line)"),
    ("no name", 1, {"name": ""}, "line 3, name: is missing (what is plugged in)"),
    ("long name", 1, {"name": "x" * 101}, f'line 3, name: "{"x" * 59}…" is too long (at most 100 characters)'),
    ("unknown kind", 1, {"kind": "snaer"}, 'line 3, kind: "snaer" is unknown (did you mean snare?)'),
    ("unknown use", 1, {"use": "maybe"}, 'line 3, use: "maybe" is unknown (did you mean may?)'),
    ("unknown input", 1, {"input": "XLR"}, 'line 3, input: "XLR" is unknown (one of: mic, di, line, rf, digital)'),
    ("unknown box", 1, {"box": "dek"}, 'line 3, box: there is no box "dek" (did you mean deck?)'),
    ("socket without box", 1, {"box": ""}, "line 3, box: is missing (the box of socket 2)"),
    ("box without socket", 1, {"socket": ""}, "line 3, socket: is missing (the number of the socket in its box)"),
    ("socket beyond", 1, {"socket": "25"}, 'line 3, socket: 25 is beyond box "deck" (it has sockets 1 to 24)'),
    ("socket 0", 1, {"socket": "0"}, "line 3, socket: 0 is out of range (1 to 24)"),
    ("socket of letters", 1, {"socket": "A2"}, 'line 3, socket: "A2" is not a whole number (1 to 24)'),
    ("gain beyond", 1, {"gain": "61"}, "line 3, gain: 61 is out of range (0 to 60 in steps of 1)"),
    ("gain below", 1, {"gain": "-1"}, "line 3, gain: -1 is out of range (0 to 60 in steps of 1)"),
    ("gain off the step", 1, {"gain": "28,5"}, "line 3, gain: 28.5 lies between two steps (0 to 60 in steps of 1)"),
    ("gain in words", 1, {"gain": "full"}, 'line 3, gain: "full" is not a number'),
    ("gain not a number", 1, {"gain": "nan"}, 'line 3, gain: "nan" is not a number'),
    ("gain infinite", 1, {"gain": "inf"}, 'line 3, gain: "inf" is not a number'),
    ("gain with an exponent", 1, {"gain": "1e1"}, 'line 3, gain: "1e1" is not a number'),
    ("gain of a box without range", 4, {"gain": "101"}, "line 6, gain: 101 is out of range (-40 to 100)"),
    ("pad where there is none", 4, {"pad": "yes"}, 'line 6, pad: box "riser" has no pad (blank or no; or pad = 20 in its [[box]])'),
    ("pad of another size", 0, {"pad": "10"}, 'line 2, pad: "10" is unknown (yes or no)'),
    ("unknown phantom", 1, {"phantom": "split"}, 'line 3, phantom: "split" is unknown (one of: yes, no, elsewhere, unknown)'),
    ("trim beyond", 1, {"trim": "20.5"}, "line 3, trim: 20.5 is out of range (-40 to 20 in steps of 0.5)"),
    ("trim off the step", 1, {"trim": "-3.25"}, "line 3, trim: -3.25 lies between two steps (-40 to 20 in steps of 0.5)"),
    ("unknown polarity", 1, {"polarity": "180"}, 'line 3, polarity: "180" is unknown (one of: normal, inverted)'),
    ("pair with itself", 1, {"pair": "2"}, "line 3, pair: channel 2 is paired with itself (the partner's channel)"),
    ("pair with nobody", 1, {"pair": "7"}, "line 3, pair: there is no channel 7 (a channel of this list)"),
    ("pair of another", 1, {"pair": "3"}, "line 3, pair: channel 3 is paired with channel 4 (each names the other)"),
    ("pair of a partner", 4, {"pair": "4"}, "line 6, pair: channel 4 is already the pair of 3 (two channels a pair)"),
    ("two pairings", 3, {"pair": "3", "pairing": "stereo"}, 'line 5, pairing: "stereo" differs from line 4 on the same pair (one pairing: spaced on both)'),
    ("unknown pairing", 2, {"pairing": "XY"}, 'line 4, pairing: "XY" is unknown (one of: stereo, one-source, spaced)'),
    ("pairing alone", 1, {"pairing": "stereo"}, "line 3, pairing: \"stereo\" stands without a pair (the partner's channel in pair)"),
    ("return beyond", 1, {"return": "33"}, 'line 3, return: "33" is beyond the link (main has slots 1 to 32; or live, or none)'),
    ("return on another link", 1, {"return": "mian 3"}, 'line 3, return: "mian" is unknown (did you mean main?; or live, or none)'),
    ("return in words", 1, {"return": "itself"}, 'line 3, return: "itself" is not a slot (a number, 1 to 32; or live, or none)'),
    ("undeclared bus", 1, {"bus": "wedge2:-10"}, 'line 3, bus: there is no bus "wedge2" (did you mean wedge1?)'),
    ("bus twice", 1, {"bus": "main:-10 Main:-3"}, 'line 3, bus: bus "main" stands twice (every bus once)'),
    ("bus without level", 1, {"bus": "main"}, 'line 3, bus: "main" is not a send (a bus and a level: main:-10)'),
    ("bus with a word", 1, {"bus": "main:low"}, 'line 3, bus: "low" is not a level (in dB: main:-10)'),
    ("bus of plenty", 1, {"bus": "main:99"}, 'line 3, bus: "99" is out of range (-144 to 24)'),
    ("two gains on a socket", 1, {"socket": "1"}, 'line 3, gain: 28 differs from line 2 on the same socket, "deck 1" (one preamp: 30 on both)'),
]  # fmt: skip


@pytest.mark.parametrize(("row", "changed", "expected"), [case[1:] for case in CELLS], ids=[case[0] for case in CELLS])
def test_broken_cell(tmp_path: Path, row: int, changed: dict[str, str], expected: str) -> None:
    show = Show(tmp_path)
    show.rows[row].update(changed)
    assert show.problems() == [f"inputs.csv, {expected}"]


def test_a_bus_where_none_is_declared(tmp_path: Path) -> None:
    show = Show(tmp_path)
    del show.top["bus"]
    expected = 'inputs.csv, line 6, bus: there is no bus "main" (declare it in the patch: [bus.main])'
    assert show.problems() == [expected]


def test_a_number_alone_where_there_are_several_links(tmp_path: Path) -> None:
    show = Show(tmp_path)
    show.top["link"].append({"name": "spare", "slots": 8})
    assert show.problems() == [
        'inputs.csv, line 7, return: "26" does not say which link (a link and a number: main 1, spare 1; or live, or none)'
    ]


HEADER = ",".join(COLUMNS)

FILES: list[tuple[str, bytes, str]] = [
    ("empty", b"", ": the list is empty (columns needed: channel, name, box, socket)"),
    ("blank", b"\n,,,\n \n", ": the list is empty (columns needed: channel, name, box, socket)"),
    ("header only", HEADER.encode(), ": the list has no channels (a line for each channel)"),
    ("numbers only", f"{HEADER}\n1\n2\n".encode(), ": the list has no channels (a line for each channel)"),
    ("no socket column", b"\nCh,Channel,Name,Box\n1,1,a,deck\n", ", line 2: there is no column socket (columns here: ch, channel, name, box)"),
    ("column twice", b"channel,name,box,socket,Gain,gain\n", ", line 1: column gain stands 2 times (every column once)"),
    ("too many cells", b"channel,name,box,socket,trim\n1,Kick,deck,1,-3,5\n", ", line 2: has 6 cells, the header has 5 (a cell with a comma in it stands in quotes)"),
    ("quote without end", b'channel,name,box,socket\n1,Kick,deck,1\n2,"Snare,deck,2\n3,Hat,deck,3\n', ', line 3: a quoted text has no end (a cell with quotes in it: "8"" tom")'),
    ("text after a quote", b'channel,name,box,socket\n1,"8" tom,deck,1\n', ', line 2: something follows a closing quote (a cell with quotes in it: "8"" tom")'),
    ("endless cell", b"channel,name,box,socket\n1," + b"x" * 200_000, ', line 2: a cell is far too long, perhaps a quoted text has no end (a cell with quotes in it: "8"" tom")'),
    ("spreadsheet", b"PK\x03\x04rest", ": is a spreadsheet and not CSV (save it as CSV, or as .xlsx under that name)"),
    ("old spreadsheet", b"\xd0\xcf\x11\xe0rest", ": is a spreadsheet and not CSV (save it as CSV, or as .xlsx under that name)"),
    ("zero bytes", b"channel,name\0,box,socket\n", ": is not text: it holds zero bytes (save the list as CSV in UTF-8)"),
    ("no text in any code", b"channel,name\x81\xff", ": is not text (save the list as CSV in UTF-8)"),
    ("broken utf-16", b"\xff\xfec\0h", ": is not text: it holds zero bytes (save the list as CSV in UTF-8)"),
    ("large", b"x" * 10_000_001, ": is too large (an input list has at most 10 MB)"),
    ("too many lines", b"channel,name,box,socket\n" + b"7\n" * 20_000, ", line 20001: has too many lines (at most 20000)"),
    ("too many channels", ("channel,name,box,socket\n" + "".join(f"{i},a,,\n" for i in range(1, 1100))).encode(), ", line 1026: has too many channels (at most 1024)"),
]  # fmt: skip


@pytest.mark.parametrize(("data", "expected"), [case[1:] for case in FILES], ids=[case[0] for case in FILES])
def test_a_file_that_is_no_list(tmp_path: Path, data: bytes, expected: str) -> None:
    problems = Show(tmp_path).problems(inputs=data)
    assert problems[0] == f"inputs.csv{expected}"
    assert len(problems) == 1


def _missing(show: Show) -> None:
    show.top["inputs"] = "list.csv"


def _zero(show: Show) -> None:
    show.top["inputs"] = "a\0b"


def _folder(show: Show) -> None:
    (show.folder / "lists").mkdir()
    show.top["inputs"] = "lists"


@pytest.mark.parametrize(
    ("change", "expected"),
    [
        (_missing, "list.csv: does not exist (an input list is looked for as {folder}/list.csv)"),
        (_zero, 'patch.toml, inputs: "a?b" is not a file name (no zero bytes in names)'),
        (_folder, "lists: is a folder (an input list is a file)"),
        (lambda show: show.top.update(inputs="/dev/zero"), "zero: is not a file (an input list is a file)"),
    ],
    ids=["missing", "zero byte", "folder", "device"],
)
def test_a_list_that_cannot_be_opened(tmp_path: Path, change: Callable[[Show], None], expected: str) -> None:
    assert Show(tmp_path).broken(change) == [expected.format(folder=tmp_path)]


def test_several_problems_of_both_files_at_once(tmp_path: Path) -> None:
    show = Show(tmp_path)
    show.top["rate"] = 48
    show.top["feed"][1]["slots"] = "23-30"
    show.rows[0]["gain"] = "75"
    show.rows[1]["socket"] = "33"
    show.rows[2]["pair"] = "9"
    assert show.problems() == [
        "patch.toml, rate: 48 is out of range (8000 to 192000)",
        'patch.toml, feed[2].slots: slots 23-24 of link "main" are already fed by feed[1] (each slot records one source)',
        "inputs.csv, line 2, gain: 75 is out of range (0 to 60 in steps of 1)",
        'inputs.csv, line 3, socket: 33 is beyond box "deck" (it has sockets 1 to 24)',
        "inputs.csv, line 4, pair: there is no channel 9 (a channel of this list)",
    ]


def test_one_cause_is_told_once(tmp_path: Path) -> None:
    """A box whose name cannot be read makes no unknown boxes in feeds and list."""
    show = Show(tmp_path)
    show.top["box"][1]["name"] = 7
    show.top["link"][0]["slots"] = "many"
    show.top["bus"] = {"front fill": {}}
    assert show.problems() == [
        "patch.toml, box[2].name: 7 is not text (text stands in quotes)",
        'patch.toml, link[1].slots: "many" is not a whole number (1 to 1024)',
        'patch.toml, bus."front fill": "front fill" is not one word (no spaces, colons, commas or semicolons)',
    ]


def test_problems_beyond_two_hundred_are_counted(tmp_path: Path) -> None:
    rows = "".join(f"{i},a,nowhere,1\n" for i in range(1, 301))
    problems = Show(tmp_path).problems(inputs=f"channel,name,box,socket\n{rows}")
    assert len(problems) == 201
    assert problems[-1] == "and 100 more problems, not shown"


def test_line_numbers_count_the_lines_of_the_file(tmp_path: Path) -> None:
    """Blank lines and line breaks in quoted cells are counted as an editor counts them."""
    text = '\nchannel,name,box,socket\n1,"Kick\nout",deck,1\n\n2,Snare,deck,99\n'
    assert Show(tmp_path).problems(inputs=text) == [
        'inputs.csv, line 6, socket: 99 is beyond box "deck" (it has sockets 1 to 24)'
    ]


def test_the_good_list_is_good(tmp_path: Path) -> None:
    show = Show(tmp_path)
    assert [channel.line for channel in show.read(inputs=csv_text(show.rows)).channels] == [2, 3, 4, 5, 6, 7]
