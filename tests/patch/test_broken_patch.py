"""Broken patch files: the good show with one thing broken, and the exact message that the user reads."""

# ruff: noqa: E501 (a case a line reads best)
from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.patch.good import GAIN, Show

Change = Callable[[Show], object]


def _set(*path: object) -> Change:
    """A change: the last of `path` put at the keys before it."""

    def change(show: Show) -> None:
        *keys, last, value = path
        where = show.top
        for key in keys:
            where = where[key]  # type: ignore[index]
        where[last] = value  # type: ignore[index]

    return change


def _drop(*path: object) -> Change:
    def change(show: Show) -> None:
        *keys, last = path
        where = show.top
        for key in keys:
            where = where[key]  # type: ignore[index]
        del where[last]  # type: ignore[arg-type]

    return change


def _overlap(show: Show) -> None:
    show.top["link"].append({"name": "spare", "slots": 8, "first_track": 32})
    show.rows[5]["return"] = "main 26"


CASES: list[tuple[str, Change, str]] = [
    ("unknown key", _set("titel", "x"), "titel: is an unknown key (did you mean title?)"),
    (
        "key like none",
        _set("headroom", "zzz", 1),
        "headroom.zzz: is an unknown key (one of: show_peak)",
    ),
    ("unknown key in a box", _set("box", 1, "sokets", 3), "box[2].sokets: is an unknown key (did you mean sockets?)"),
    ("unknown key in a feed", _set("feed", 0, "slot", 3), "feed[1].slot: is an unknown key (did you mean slots?)"),
    ("unknown key in a range", _set("box", 0, "gain", {**GAIN, "steps": 1}), "box[1].gain.steps: is an unknown key (did you mean step?)"),
    ("rate in kHz", _set("rate", 48), "rate: 48 is out of range (8000 to 192000)"),
    ("rate is text", _set("rate", "48000"), 'rate: "48000" is not a whole number (8000 to 192000)'),
    ("rate is true", _set("rate", True), "rate: true is not a whole number (8000 to 192000)"),
    ("rate is huge", _set("rate", 10**400), "rate: a number of many digits is out of range (8000 to 192000)"),
    ("title is a number", _set("title", 7), "title: 7 is not text (text stands in quotes)"),
    ("title is empty", _set("title", " "), "title: is empty (1 to 200 characters)"),
    ("take is no table", _set("take", 5), "take: 5 is not a table (write [take])"),
    ("take of what", _set("take", "of", "sound-check"), 'take.of: "sound-check" is unknown (did you mean soundcheck?)'),
    ("take of nothing known", _set("take", "of", "xyz"), 'take.of: "xyz" is unknown (one of: soundcheck, line-check, show)'),
    ("from after to", _set("take", "to", 60), "take.from: 4:30 is not before to, 1:00 (from < to)"),
    ("from is to", _set("take", "to", 270), "take.from: 4:30 is not before to, 4:30 (from < to)"),
    ("time of a kind", _set("take", "from", "4.30 h"), 'take.from: "4.30 h" is not a time (seconds, or written "4:30" or "1:02:05")'),
    ("61 seconds", _set("take", "from", "4:61"), 'take.from: "4:61" is not a time (minutes and seconds go up to 59)'),
    ("time before the take", _set("take", "from", -1), "take.from: -1 is out of range (0 to 360000 seconds)"),
    ("time not a number", _set("take", "from", math.nan), 'take.from: nan is not a time (seconds, or written "4:30" or "1:02:05")'),
    ("file on no slot", _set("take", "tracks", {"k 1.wav": 33}), 'take.tracks."k 1.wav": 33 is beyond the link (main has slots 1 to 32)'),
    ("file on another link", _set("take", "tracks", {"k.wav": "mian 3"}), 'take.tracks."k.wav": "mian" is unknown (did you mean main?)'),
    ("file on a word", _set("take", "tracks", {"k": "first"}), 'take.tracks.k: "first" is not a slot (a number, 1 to 32)'),
    ("show peak above full scale", _set("headroom", "show_peak", 3), "headroom.show_peak: 3 is out of range (-60 to 0)"),
    ("show peak infinite", _set("headroom", "show_peak", -math.inf), "headroom.show_peak: -inf is not a number (-60 to 0)"),
    ("unknown kind", _set("kind", {"vocals": {"rise": 9}}), "kind.vocals: is an unknown key (did you mean vocal?)"),
    ("rise is text", _set("kind", "vocal", "rise", "9"), 'kind.vocal.rise: "9" is not a number (-20 to 40)'),
    ("trim backwards", _set("desk", "trim", "min", 30), "desk.trim: min 30 is not below max 20 (min < max)"),
    ("trim without 0", _set("desk", "trim", "min", 10), "desk.trim: 10 to 20 leaves out 0 (a channel without trim is at 0)"),
    ("trim without step", _drop("desk", "trim", "step"), "desk.trim.step: is missing (a range is written { min = 0, max = 60, step = 1 })"),
    ("step of nothing", _set("box", 0, "gain", {"min": 0, "max": 60, "step": 0}), "box[1].gain.step: 0 is out of range (0.001 to 100)"),
    ("step wider than range", _set("box", 0, "gain", {"min": 28, "max": 30, "step": 5}), "box[1].gain: step 5 is wider than the range (at most 2)"),
    ("gain is no range", _set("box", 0, "gain", 60), "box[1].gain: 60 is not a range (a range is written { min = 0, max = 60, step = 1 })"),
    ("no boxes", _set("box", []), "box: is missing (a [[box]] for each stage box, and for the desk's local inputs)"),
    ("box is one table", _set("box", {"name": "deck"}), "box: a table is not a list of tables (write [[box]] for each)"),
    ("no links", _drop("link"), "link: is missing (a [[link]] for each connection to the recorder)"),
    ("no feeds", _drop("feed"), "feed: is missing (a [[feed]] says which sockets are recorded on which slots)"),
    ("box without name", _drop("box", 1, "name"), "box[2].name: is missing (the box's name as the input list has it)"),
    ("box without sockets", _drop("box", 1, "sockets"), "box[2].sockets: is missing (how many inputs it has)"),
    ("box of none", _set("box", 1, "sockets", 0), "box[2].sockets: 0 is out of range (1 to 1024)"),
    ("half a socket", _set("box", 1, "sockets", 16.5), "box[2].sockets: 16.5 is not a whole number (1 to 1024)"),
    ("two boxes of a name", _set("box", 1, "name", "Deck"), 'box[2].name: "Deck" is already the name of a box (every name once)'),
    ("pad that adds", _set("box", 0, "pad", -20), "box[1].pad: -20 is out of range (1 to 60)"),
    ("gains of others", _set("box", 0, "gains", "monitor"), 'box[1].gains: "monitor" is unknown (did you mean monitors?)'),
    ("compensated as text", _set("box", 0, "compensated", "yes"), 'box[1].compensated: "yes" is neither true nor false (without quotes)'),
    ("two links of a name", _set("link", [{"name": "main", "slots": 32}, {"name": "main", "slots": 8}]), 'link[2].name: "main" is already the name of a link (every name once)'),
    ("link without slots", _drop("link", 0, "slots"), 'link[1].slots: is missing (the number of slots, or standard = "AES10-64")'),
    ("slots beside standard", _set("link", 0, "standard", "AES10-64"), "link[1].standard: stands beside slots (one of the two)"),
    ("unknown standard", _set("link", 0, {"name": "main", "standard": "AES10"}), 'link[1].standard: "AES10" is unknown (did you mean AES10-64?)'),
    ("tracks overlap", _overlap, 'link[2].first_track: tracks 32-39 are partly those of link "main" (tracks 1-32 are taken)'),
    ("feed from an unknown box", _set("feed", 1, "box", "risr"), 'feed[2].box: there is no box "risr" (did you mean riser?)'),
    ("feed to an unknown link", _set("feed", 1, "link", "backup"), 'feed[2].link: there is no link "backup" (one of: main)'),
    ("feed without a box", _drop("feed", 1, "box"), "feed[2].box: is missing (the name of a box, or channels for a feed of desk channels)"),
    ("feed without sockets", _drop("feed", 1, "sockets"), 'feed[2].sockets: is missing (the sockets that it carries: "1-24")'),
    ("feed without slots", _drop("feed", 1, "slots"), 'feed[2].slots: is missing (the slots that it lands on: "1-24")'),
    ("feed of both", _set("feed", 1, "channels", "1-8"), "feed[2].channels: stands beside box or sockets (a feed of desk channels has channels only)"),
    ("feed beyond its box", _set("feed", 1, "sockets", "10-17"), 'feed[2].sockets: socket 17 is beyond box "riser" (it has sockets 1 to 16)'),
    ("feed longer than the link", _set("feed", 1, {"box": "riser", "sockets": "1-16", "link": "main", "slots": "25-40"}), 'feed[2].slots: slots 33-40 are beyond link "main" (it has slots 1 to 32)'),
    ("more sockets than slots", _set("feed", 1, "sockets", "1-9"), "feed[2].slots: 9 sockets cannot go onto 8 slots (as many slots as sockets)"),
    ("slots fed twice", _set("feed", 1, "slots", "23-30"), 'feed[2].slots: slots 23-24 of link "main" are already fed by feed[1] (each slot records one source)'),
    ("a slot twice in a feed", _set("feed", 1, "slots", "25-28, 28-31"), "feed[2].slots: slot 28 stands twice (each slot records one source)"),
    ("run backwards", _set("feed", 1, "slots", "32-25"), 'feed[2].slots: "32-25" runs backwards (written "25-32")'),
    ("run without end", _set("feed", 1, "slots", "25-999999999"), 'feed[2].slots: "25-999999999" is out of range (1 to 1024)'),
    ("run of words", _set("feed", 1, "slots", "25 to 32"), 'feed[2].slots: "25 to 32" is not a run of numbers (written "1-24" or "1-8, 17-24")'),
    ("unknown point", _set("feed", 1, "point", "post-trim"), 'feed[2].point: "post-trim" is unknown (did you mean after-trim?)'),
    ("ceiling above full scale", _set("bus", "main", "ceiling", 1), "bus.main.ceiling: 1 is out of range (-60 to 0)"),
    ("bus of two words", _set("bus", "front fill", {}), 'bus."front fill": "front fill" is not one word (no spaces, colons, commas or semicolons)'),
    ("limit as text", _set("limits", "low_dbtp", "-24"), 'limits.low_dbtp: "-24" is not a number (a number)'),
    ("limit as true", _set("limits", "low_dbtp", True), "limits.low_dbtp: true is not a number (a number)"),
]  # fmt: skip


@pytest.mark.parametrize(("change", "expected"), [case[1:] for case in CASES], ids=[case[0] for case in CASES])
def test_broken_patch(tmp_path: Path, change: Change, expected: str) -> None:
    assert Show(tmp_path).broken(change) == [f"patch.toml, {expected}"]


def test_a_standard_needs_the_rate(tmp_path: Path) -> None:
    show = Show(tmp_path)
    del show.top["rate"]
    show.top["link"] = [{"name": "main", "standard": "AES10-64"}]
    expected = "patch.toml, link[1].standard: needs the sample rate (rate = 48000 at the top of the patch)"
    assert show.problems() == [expected]


def test_a_standard_that_says_nothing_at_this_rate(tmp_path: Path) -> None:
    show = Show(tmp_path)
    show.top["rate"] = 96000
    show.top["link"] = [{"name": "main", "standard": "AES67"}]
    expected = 'patch.toml, link[1].standard: "AES67" says no number of slots at 96000 Hz (slots = the number)'
    assert show.problems() == [expected]


@pytest.mark.parametrize(
    ("data", "expected"),
    [
        (b"rate = \n", 'line 1, column 8: is not valid TOML: invalid value (text and times stand in quotes: "4:30")'),
        (
            b'title = "x"\n[take]\nfrom = 4:30\n',
            "line 3, column 9: is not valid TOML: expected newline or end of document after a statement"
            ' (text and times stand in quotes: "4:30")',
        ),
        (
            b'a = 1\nb = """x\n\n',
            'line 2: is not valid TOML: unterminated string (text and times stand in quotes: "4:30")',
        ),
        (b'a = 1\r\nb = "\xe4"\r\n', "line 2, column 6: is not UTF-8 text (save the patch as UTF-8)"),
        (b"\xff\xfet\0i\0", "line 1, column 1: is not UTF-8 text (save the patch as UTF-8)"),
        (b"a = " + b"[" * 100_000, "is nested too deeply (a patch has tables in tables, no deeper)"),
        (b"x = 1\n" + b"a." * 100_000 + b"b = 1", "line 2: a key has too many parts (at most 16)"),
        (
            b"a = " + b"9" * 5000,
            "holds a number, date or time that cannot be (numbers have at most 4300 digits)",
        ),
        (b"x = 1\ny = " + b"9" * 5_000_000, "line 2: a word or number is far too long (text stands in quotes)"),
        (b"#" * 10_000_001, "is too large (a patch has at most 10 MB)"),
    ],
    ids=["value", "time", "string", "latin-1", "utf-16", "deep", "dotted", "digits", "endless", "large"],
)
def test_a_file_that_is_no_patch(tmp_path: Path, data: bytes, expected: str) -> None:
    separator = ": " if not expected.startswith("line") else ", "
    assert Show(tmp_path).problems(patch=data) == [f"patch.toml{separator}{expected}"]


def test_dots_in_text_and_comments_are_no_deep_keys(tmp_path: Path) -> None:
    show = Show(tmp_path)
    show.top["title"] = "wait" + ". " * 40
    show.write()
    file = tmp_path / "patch.toml"
    file.write_text(file.read_text() + "# see" + " ." * 40 + "\n")
    assert show.read(patch=file.read_text()).title.startswith("wait. .")


def test_a_byte_order_mark_is_no_error(tmp_path: Path) -> None:
    show = Show(tmp_path)
    show.write()
    assert len(show.read(patch=b"\xef\xbb\xbf" + (tmp_path / "patch.toml").read_bytes()).channels) == 6


def test_hostile_names_are_made_harmless(tmp_path: Path) -> None:
    show = Show(tmp_path)
    show.top["x\x1b[31m"] = 1
    show.top["title"] = 7
    show.rows[0]["kind"] = "\u202e kick"
    assert show.problems() == [
        "patch.toml, title: 7 is not text (text stands in quotes)",
        'patch.toml, "x?[31m": is an unknown key (one of: title, rate, extends, house_inputs, inputs, headroom, kind,'
        " desk, box, link, feed, take, bus, limits, line_check)",
        'inputs.csv, line 2, kind: "? kick" is unknown (did you mean kick?)',
    ]
