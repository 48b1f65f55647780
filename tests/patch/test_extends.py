"""A patch that extends another: what comes from where, what overrides what, and every way in which it can go wrong."""

from __future__ import annotations

import os
import re
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from replay.errors import PatchError
from replay.patch.from_toml import read_patch
from replay.patch.model import Patch, Range, Slot, Socket
from replay.patch.routes import routes
from replay.report.as_routes import text as as_routes
from tests.patch.good import GAIN, csv_text, toml
from tests.patch.test_whole import DOCS, FUZZ, _damaged, _ends

HOUSE: dict[str, Any] = {
    "title": "Barn stage",
    "rate": 48000,
    "take": {"folder": "house audio", "of": "line-check", "from": "1:00", "to": "2:00", "tracks": {"a.wav": 3}},
    "headroom": {"show_peak": -9},
    "kind": {"vocal": {"rise": 6}, "tom": {"rise": 3}},
    "desk": {"trim": {"min": -20, "max": 20, "step": 0.5}},
    "box": [
        {"name": "deck", "sockets": 24, "gain": GAIN, "pad": 20, "gains": "monitors"},
        {"name": "desk", "sockets": 8},
    ],
    "link": [{"name": "main", "slots": 32}],
    "feed": [{"box": "deck", "sockets": "1-24", "link": "main", "slots": "1-24"}],
    "bus": {"wedge1": {"ceiling": -6}},
    "limits": {"low_below": -30},
    "line_check": {"from": "0:30"},
}
OWN = [
    {"channel": "1", "name": "Fiddle", "box": "deck", "socket": "1", "gain": "30"},
    {"channel": "2", "name": "Caller", "box": "deck", "socket": "2"},
]
SPARES = [
    {"channel": "31", "name": "Spare", "use": "may", "box": "deck", "socket": "24"},
    {"channel": "32", "name": "Talkback", "use": "may", "box": "desk", "socket": "1", "return": "live"},
]


class Festival:
    """A house patch and an act's, to be changed and written."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.house: dict[str, Any] = {**HOUSE}
        self.act: dict[str, Any] = {"extends": "../house/patch.toml"}
        self.rows = [dict(row) for row in OWN]
        self.spares: list[dict[str, str]] | None = None

    def write(self) -> Path:
        for name in ("house", "trio"):
            (self.folder / name).mkdir(exist_ok=True)
        house = dict(self.house)
        if self.spares is not None:
            house["house_inputs"] = "spares.csv"
            (self.folder / "house" / "spares.csv").write_text(csv_text(self.spares))
        (self.folder / "house" / "patch.toml").write_text(toml(house))
        (self.folder / "trio" / "patch.toml").write_text(toml(self.act))
        (self.folder / "trio" / "inputs.csv").write_text(csv_text(self.rows))
        return self.folder / "trio"

    def read(self) -> Patch:
        return read_patch(self.write())

    def problems(self) -> list[str]:
        return told(self.write())


def told(show: Path) -> list[str]:
    with pytest.raises(PatchError) as caught:
        read_patch(show)
    return [str(problem) for problem in caught.value.problems]


@pytest.fixture
def festival(tmp_path: Path) -> Festival:
    return Festival(tmp_path)


def test_an_act_that_says_nothing_has_the_house(festival: Festival) -> None:
    patch = festival.read()
    assert (patch.rate, patch.headroom.show_peak, patch.kinds["vocal"].rise) == (48000, -9, 6)
    assert patch.desk.trim == Range(min=-20, max=20, step=0.5)
    assert [(box.name, box.sockets, box.pad, box.gains) for box in patch.boxes] == [
        ("deck", 24, 20, "monitors"),
        ("desk", 8, None, "ours"),
    ]
    assert [(bus.name, bus.ceiling) for bus in patch.buses] == [("wedge1", -6)]
    assert dict(patch.limits) == {"low_below": -30}
    assert routes(patch).of(2).slots == (Slot("main", 2),)
    assert [channel.name for channel in patch.channels] == ["Fiddle", "Caller"]
    assert patch.told == ()


def test_what_one_show_alone_can_say_stays_with_the_house(festival: Festival) -> None:
    patch = festival.read()
    assert (patch.title, patch.folder.name, patch.line_check) == ("trio", "trio", None)
    assert (patch.take.folder, patch.take.from_s, patch.take.to_s) == (None, None, None)
    # How the recorder names its files, and what the day's recordings are, is the house's to say.
    assert (patch.take.of, dict(patch.take.tracks)) == ("line-check", {"a.wav": Slot("main", 3)})


def test_single_keys_are_overridden_and_the_rest_stays(festival: Festival) -> None:
    festival.act |= {
        "rate": 96000,
        "take": {"of": "show", "tracks": {"b.wav": 4}},
        "kind": {"vocal": {"rise": 5}},
        "desk": {"trim": {"min": -10, "max": 10, "step": 1}},
        "box": [{"name": "Deck", "pad": 15}, {"name": "riser", "sockets": 8}],
        "bus": {"wedge2": {}},
        "limits": {"hot_above": -2},
    }
    patch = festival.read()
    assert (patch.rate, patch.headroom.show_peak) == (96000, -9)
    assert (patch.take.of, dict(patch.take.tracks)) == ("show", {"a.wav": Slot("main", 3), "b.wav": Slot("main", 4)})
    assert (patch.kinds["vocal"].rise, patch.kinds["tom"].rise) == (5, 3)
    # A range is one value.
    assert patch.desk.trim == Range(min=-10, max=10, step=1)
    assert [(box.name, box.sockets, box.pad, box.gains) for box in patch.boxes] == [
        ("Deck", 24, 15, "monitors"),
        ("desk", 8, None, "ours"),
        ("riser", 8, None, "ours"),
    ]
    assert [bus.name for bus in patch.buses] == ["wedge1", "wedge2"]
    assert dict(patch.limits) == {"low_below": -30, "hot_above": -2}


def test_a_range_of_the_house_is_replaced_whole(festival: Festival) -> None:
    festival.act["box"] = [{"name": "deck", "gain": {"max": 50}}]
    hint = "(a range is written { min = 0, max = 60, step = 1 })"
    assert festival.problems() == [
        f"patch.toml, box[1].gain.min: is missing {hint}",
        f"patch.toml, box[1].gain.step: is missing {hint}",
    ]


def test_an_act_feeds_slots_from_its_own_box(festival: Festival) -> None:
    festival.act["box"] = [{"name": "riser", "sockets": 8}]
    festival.act["feed"] = [{"box": "riser", "sockets": "1-4", "link": "main", "slots": "21-24"}]
    festival.rows[1] |= {"box": "riser", "socket": "1"}
    patch = festival.read()
    ways = routes(patch)
    assert ways.of(2).slots == (Slot("main", 21),)
    assert ways.sources[Slot("main", 20)] == Socket("deck", 20)
    assert ways.sources[Slot("main", 24)] == Socket("riser", 4)
    assert Socket("deck", 21) not in ways.sources.values()
    assert patch.told == (
        "../house/patch.toml, feed[1]: slots 21-24 of link main are fed by patch.toml, feed[1] instead.",
    )


def test_a_feed_of_the_house_that_gives_way_altogether_is_gone(festival: Festival) -> None:
    festival.act["feed"] = [{"box": "deck", "sockets": "1-24", "slots": "1-24", "point": "after-trim"}]
    patch = festival.read()
    assert [feed.point for feed in patch.feeds] == ["after-trim"]


def test_two_feeds_of_one_file_on_one_slot_are_still_a_mistake(festival: Festival) -> None:
    feed = {"box": "deck", "sockets": "1-4", "slots": "25-28"}
    festival.act["feed"] = [feed, feed]
    assert festival.problems() == [
        'patch.toml, feed[2].slots: slots 25-28 of link "main" are already fed by feed[1] '
        "(each slot records one source)"
    ]


def test_slots_in_place_of_a_standard(festival: Festival) -> None:
    festival.house["link"] = [{"name": "main", "standard": "AES10-64"}]
    festival.act["link"] = [{"name": "main", "slots": 40}, {"name": "spare", "slots": 8}]
    festival.act["take"] = {"tracks": {"a.wav": "main 3"}}
    patch = festival.read()
    assert [(link.name, link.slots, link.first_track) for link in patch.links] == [("main", 40, 1), ("spare", 8, 41)]


def test_the_house_has_channels_of_its_own(festival: Festival) -> None:
    festival.spares = SPARES
    patch = festival.read()
    assert [(c.number, c.name, c.use) for c in patch.channels] == [
        (1, "Fiddle", "must"),
        (2, "Caller", "must"),
        (31, "Spare", "may"),
        (32, "Talkback", "may"),
    ]
    assert (patch.told, routes(patch).of(32).playback) == ((), "live")


def test_the_list_of_the_show_that_is_extended_is_not_read(festival: Festival) -> None:
    festival.house["inputs"] = "inputs.csv"
    folder = festival.write()
    (folder.parent / "house" / "inputs.csv").write_text("nonsense")
    assert len(read_patch(folder).channels) == 2


def test_a_house_that_is_a_show_has_its_channels_too(festival: Festival) -> None:
    festival.spares = SPARES
    festival.write()
    (festival.folder / "house" / "inputs.csv").write_text(csv_text(OWN))
    assert [channel.number for channel in read_patch(festival.folder / "house").channels] == [1, 2, 31, 32]


@pytest.mark.parametrize(
    ("value", "expected"),
    [
        (7, "../house/patch.toml, house_inputs: 7 is not text (text stands in quotes)"),
        ("gone.csv", "../house/gone.csv: does not exist (an input list is looked for as {folder}/../house/gone.csv)"),
    ],
)
def test_no_list_of_the_house(festival: Festival, value: object, expected: str) -> None:
    festival.house["house_inputs"] = value
    assert festival.problems() == [expected.format(folder=festival.folder / "trio")]


def test_channels_of_the_house_give_way(festival: Festival) -> None:
    festival.spares = [*SPARES, {"channel": "33", "name": "MC", "box": "deck", "socket": "23", "pair": "32"}]
    festival.rows += [
        {"channel": "3", "name": "Bodhran", "box": "deck", "socket": "24"},
        {"channel": "32", "name": "Guest", "box": "deck", "socket": "23"},
    ]
    patch = festival.read()
    # A spare makes room for what is plugged into its socket; a channel that must be there shares it.
    assert [(c.number, c.name, c.pair) for c in patch.channels] == [
        (1, "Fiddle", None),
        (2, "Caller", None),
        (3, "Bodhran", None),
        (32, "Guest", None),
        (33, "MC", None),
    ]
    assert patch.told == (
        "../house/spares.csv: channel 32 replaced by inputs.csv.",
        "../house/spares.csv: channel 31 Spare left out, as inputs.csv plugs something else into deck 24.",
    )


def test_channels_of_two_lists_on_one_socket_differ(festival: Festival) -> None:
    festival.spares = [{"channel": "30", "name": "MC", "box": "deck", "socket": "1", "gain": "20"}]
    assert festival.problems() == [
        '../house/spares.csv, line 2, gain: 20 differs from inputs.csv, line 2 on the same socket, "deck 1" '
        "(one preamp: 30 on both)"
    ]


def test_a_house_on_a_house(festival: Festival) -> None:
    folder = festival.write()
    (festival.folder / "rack").mkdir()
    (festival.folder / "rack" / "rig.toml").write_text(
        'house_inputs = "rig.csv"\n[[box]]\nname = "attic"\nsockets = 4\n[[box]]\nname = "deck"\nfull_scale_dbu = 18\n'
    )
    (festival.folder / "rack" / "rig.csv").write_text("channel,name,box,socket\n40,Tape,attic,1\n")
    festival.house["extends"] = "../rack/rig.toml"
    patch = festival.read()
    assert [box.name for box in patch.boxes] == ["attic", "deck", "desk"]
    assert (patch.box("deck").full_scale_dbu, patch.box("deck").pad) == (18, 20)
    assert [house.called for house in patch.houses] == ["../house/patch.toml", "../house/../rack/rig.toml"]
    assert [channel.number for channel in patch.channels] == [1, 2, 40]
    assert [os.path.realpath(path) for path in patch.files] == [
        os.path.realpath(path)
        for path in (
            folder / "patch.toml",
            folder / "inputs.csv",
            festival.folder / "house" / "patch.toml",
            festival.folder / "rack" / "rig.toml",
            festival.folder / "rack" / "rig.csv",
        )
    ]


def test_a_house_by_its_folder(festival: Festival) -> None:
    festival.act["extends"] = "../house"
    assert festival.read().houses[0].called == "../house/patch.toml"


def test_a_house_behind_a_link_says_where_it_is(festival: Festival) -> None:
    folder = festival.write()
    elsewhere = festival.folder / "elsewhere"
    (festival.folder / "house").rename(elsewhere)
    (festival.folder / "house").symlink_to(elsewhere)
    patch = read_patch(folder)
    said = " ".join(as_routes(patch, routes(patch), medium=None, cells=4000).split())
    assert f"Extends ../house/patch.toml ({os.path.realpath(elsewhere)}/patch.toml)." in said


def test_all_that_is_wrong_is_told_at_once_where_it_stands(festival: Festival) -> None:
    festival.house["box"] = [{**HOUSE["box"][0], "sockets": 0}, {"name": "desk"}]
    festival.house["link"] = [{"name": "main", "slts": 32}]
    festival.act |= {"box": [{"name": "deckk", "padd": 3}], "headroom": {"show_peak": 7}}
    festival.spares = [{"channel": "x", "name": "Spare", "box": "deck", "socket": "24"}]
    festival.rows[0]["kind"] = "vilon"
    assert festival.problems() == [
        "patch.toml, headroom.show_peak: 7 is out of range (-60 to 0)",
        "../house/patch.toml, box[1].sockets: 0 is out of range (1 to 1024)",
        "../house/patch.toml, box[2].sockets: is missing (how many inputs it has)",
        "patch.toml, box[1].sockets: is missing (how many inputs it has; or did you mean deck?)",
        "patch.toml, box[1].padd: is an unknown key (did you mean pad?)",
        '../house/patch.toml, link[1].slots: is missing (the number of slots, or standard = "AES10-64")',
        "../house/patch.toml, link[1].slts: is an unknown key (did you mean slots?)",
        'inputs.csv, line 2, kind: "vilon" is unknown (one of: kick, snare, tom, hi-hat, overhead, percussion, bass, '
        "guitar, acoustic, keys, strings, brass, woodwind, vocal, backing, speech, choir, playback, click, timecode, "
        "talkback, ambience, other)",
        '../house/spares.csv, line 2, channel: "x" is not a whole number (1 to 1024)',
    ]


def test_a_house_that_is_not_there(festival: Festival) -> None:
    """What the act says by itself is judged; what the house might say is not."""
    festival.act |= {"extends": "../hose/patch.toml", "box": [{"name": "deck", "pad": 90}], "bus": {"a b": {}}}
    festival.rows[0] |= {"gain": "loud", "bus": "wedge1:-3"}
    place = os.path.realpath(festival.folder)
    assert festival.problems() == [
        f"patch.toml, extends: ../hose/patch.toml does not exist (a patch is looked for as {place}/hose/patch.toml)",
        "patch.toml, box[1].pad: 90 is out of range (1 to 60)",
        'patch.toml, bus."a b": "a b" is not one word (no spaces, colons, commas or semicolons)',
        'inputs.csv, line 2, gain: "loud" is not a number',
    ]


@pytest.mark.parametrize(
    ("content", "expected"),
    [
        (
            b"rate = 48000\nbox = [1 2]\n",
            "../house/patch.toml, line 2, column 10: is not valid TOML: unclosed array "
            '(text and times stand in quotes: "4:30")',
        ),
        (b"a = '\xe4'", "../house/patch.toml, line 1, column 6: is not UTF-8 text (save the patch as UTF-8)"),
        (b"#" * 10_000_001, "patch.toml, extends: ../house/patch.toml is too large (a patch has at most 10 MB)"),
    ],
    ids=["syntax", "encoding", "size"],
)  # fmt: skip
def test_a_house_that_is_no_patch(festival: Festival, content: bytes, expected: str) -> None:
    folder = festival.write()
    (festival.folder / "house" / "patch.toml").write_bytes(content)
    assert told(folder) == [expected]


@pytest.mark.parametrize(
    ("value", "expected"),
    [
        (7, "patch.toml, extends: 7 is not text (text stands in quotes)"),
        ("", "patch.toml, extends: is empty (1 to 1000 characters)"),
        ("a\0b", "patch.toml, extends: a?b is not a file name (no zero bytes in names)"),
        (["../house"], "patch.toml, extends: a list is not text (text stands in quotes)"),
        (
            "patch.toml",
            "patch.toml, extends: leads round in a circle: patch.toml > patch.toml "
            "(a house patch extends none of its acts)",
        ),
    ],
)
def test_no_house(festival: Festival, value: object, expected: str) -> None:
    festival.act["extends"] = value
    assert festival.problems() == [expected]


def test_a_circle(festival: Festival) -> None:
    festival.house["extends"] = "../trio"
    assert festival.problems() == [
        "../house/patch.toml, extends: leads round in a circle: patch.toml > ../house/patch.toml > patch.toml "
        "(a house patch extends none of its acts)"
    ]


def test_a_chain_without_end(tmp_path: Path) -> None:
    for number in range(12):
        (tmp_path / f"{number}.toml").write_text(f'extends = "{number + 1}.toml"\n')
    (tmp_path / "inputs.csv").write_text(csv_text(OWN))
    assert told(tmp_path / "0.toml") == [
        "8.toml, extends: is one patch too many behind each other (at most 8)",
    ]


def test_a_limit_is_told_where_it_stands(festival: Festival) -> None:
    festival.act["limits"] = {"hot_above": -2}
    patch = festival.read()
    assert patch.limits_in == {"low_below": "../house/patch.toml", "hot_above": "patch.toml"}


def test_the_example_of_the_documentation(tmp_path: Path) -> None:
    section = DOCS.read_text().split("## Acts on a house patch")[1]
    files = re.findall(r"`([\w/]+\.\w+)`:\n\n```(?:toml|csv)\n(.*?)```", section, re.DOTALL)
    assert [name for name, _ in files] == ["house/patch.toml", "house/spares.csv", "trio/patch.toml", "trio/inputs.csv"]
    for name, content in files:
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_text(content)
    patch = read_patch(tmp_path / "trio")
    assert [(channel.number, str(channel.socket)) for channel in patch.channels] == [
        (1, "deck 1"),
        (2, "deck 2"),
        (3, "riser 1"),
        (32, "desk 1"),
    ]
    assert (patch.box("deck").gains, patch.box("deck").pad, patch.headroom.show_peak) == ("monitors", 20, -9)
    assert patch.told == (
        "../house/patch.toml, feed[1]: slots 13-16 of link main are fed by patch.toml, feed[1] instead.",
        "../house/spares.csv: channel 31 Spare left out, as inputs.csv plugs something else into deck 2.",
    )


@FUZZ
@given(data=_damaged(toml(HOUSE).encode()) | st.binary(max_size=200))
def test_any_bytes_as_a_house(tmp_path: Path, data: bytes) -> None:
    (tmp_path / "house.toml").write_bytes(data)
    act = toml({"extends": "house.toml", "box": [{"name": "deck", "pad": 10}], "link": [{"name": "main", "slots": 9}]})
    _ends(tmp_path, act.encode(), csv_text(OWN).encode())


@FUZZ
@given(data=_damaged(toml({"extends": "house.toml", **HOUSE}).encode()))
def test_a_damaged_act(tmp_path: Path, data: bytes) -> None:
    (tmp_path / "house.toml").write_text(toml({**HOUSE, "house_inputs": "spares.csv"}))
    (tmp_path / "spares.csv").write_text(csv_text(SPARES))
    _ends(tmp_path, data, csv_text(OWN).encode())
