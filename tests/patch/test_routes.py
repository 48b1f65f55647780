"""Routes from channel to socket to slot to track and back."""

from __future__ import annotations

from pathlib import Path

import pytest

from replay.patch.model import Slot, Socket
from replay.patch.routes import Routes, routes
from tests.patch.good import Show


@pytest.fixture
def show(tmp_path: Path) -> Show:
    return Show(tmp_path)


def _routes(show: Show) -> Routes:
    return routes(show.read())


def test_a_socket_goes_to_its_slot_and_comes_back_on_its_channel(show: Show) -> None:
    ways = _routes(show)
    assert [way.slots for way in ways.routes] == [(Slot("main", n),) for n in (1, 2, 3, 4, 25, 26)]
    assert [way.playback for way in ways.routes] == [Slot("main", n) for n in (1, 2, 3, 4, 25, 26)]
    assert ways.sources[Slot("main", 24)] == Socket("deck", 24)
    assert ways.sources[Slot("main", 25)] == Socket("riser", 1)
    assert len(ways.sources) == 32
    assert ways.fed_by(Slot("main", 25)) == (5,)
    assert ways.recorded_from(Slot("main", 25)) == (5,)
    assert ways.fed_by(Slot("main", 7)) == ()


def test_a_feed_may_leave_out_and_reorder(show: Show) -> None:
    show.top["feed"] = [{"box": "deck", "sockets": "3-4, 1", "slots": "10, 9, 1"}]
    ways = _routes(show)
    assert {n: ways.of(n).slots for n in (1, 2, 3, 4)} == {
        1: (Slot("main", 1),),
        2: (),
        3: (Slot("main", 10),),
        4: (Slot("main", 9),),
    }


def test_returns_by_the_list(show: Show) -> None:
    for row, value in enumerate(["12", "main 12", "live", "none", "", ""]):
        show.rows[row]["return"] = value
    show.rows[5]["socket"] = "9"
    ways = _routes(show)
    assert [way.playback for way in ways.routes] == [
        Slot("main", 12),
        Slot("main", 12),
        "live",
        "none",
        Slot("main", 25),
        "live",
    ]
    assert ways.fed_by(Slot("main", 12)) == (1, 2)
    assert ways.recorded_from(Slot("main", 2)) == (2,)
    assert ways.of(6).slots == ()


def test_one_socket_on_several_slots_and_channels(show: Show) -> None:
    show.top["feed"][1]["sockets"] = "1-7, 1"
    show.rows[5]["socket"] = "1"
    show.rows[5]["return"] = ""
    ways = _routes(show)
    assert ways.of(5).slots == ways.of(6).slots == (Slot("main", 25), Slot("main", 32))
    assert ways.of(5).playback == ways.of(6).playback == Slot("main", 25)
    assert ways.recorded_from(Slot("main", 32)) == (5, 6)
    assert ways.fed_by(Slot("main", 32)) == ()


def test_links_count_tracks_on_from_each_other(show: Show) -> None:
    show.top["link"] = [{"name": "main", "slots": 24}, {"name": "spare", "slots": 8}, {"name": "late", "slots": 4}]
    show.top["link"][2]["first_track"] = 101
    show.top["feed"][1].update(link="spare", slots="1-8")
    show.rows[5]["return"] = "spare 2"
    ways = _routes(show)
    assert ways.of(5).slots == (Slot("spare", 1),)
    assert ways.track_of(Slot("main", 24)) == 24
    assert ways.track_of(Slot("spare", 1)) == 25
    assert ways.track_of(Slot("late", 4)) == 104
    assert ways.slot_of(32) == Slot("spare", 8)
    assert ways.slot_of(33) is None
    assert ways.slot_of(104) == Slot("late", 4)
    assert ways.slot_of(105) is None


def test_a_feed_of_desk_channels(show: Show) -> None:
    show.top["feed"] = [{"channels": "1-32", "slots": "1-32", "point": "after-trim"}]
    show.rows[0].update(box="", socket="", gain="", pad="")
    ways = _routes(show)
    assert ways.sources[Slot("main", 5)] == 5
    assert ways.of(5).slots == (Slot("main", 5),)
    assert ways.of(5).point == "after-trim"
    assert ways.of(5).socket == Socket("riser", 1)
    # Recorded though no socket feeds it: the recorder hangs on the channel.
    assert (ways.of(1).socket, ways.of(1).slots) == (None, (Slot("main", 1),))


def test_slots_of_both_feeds_come_in_patch_order(show: Show) -> None:
    show.top["feed"] = [
        {"channels": "5", "slots": "32", "point": "after-trim"},
        {"box": "riser", "sockets": "1", "slots": "2"},
    ]
    way = _routes(show).of(5)
    assert way.slots == (Slot("main", 32), Slot("main", 2))
    assert way.point == "after-trim"
    assert way.playback == Slot("main", 32)


def test_an_unfed_channel_stays_live(show: Show) -> None:
    show.rows[0].update(box="", socket="", gain="", pad="")
    way = _routes(show).of(1)
    assert (way.socket, way.slots, way.point, way.playback) == (None, (), "preamp", "live")


def test_files_of_the_take_on_slots(show: Show) -> None:
    show.top["take"]["tracks"] = {"a b.wav": 3, "c.wav": "main 4", "d.wav": "5"}
    tracks = show.read().take.tracks
    assert dict(tracks) == {"a b.wav": Slot("main", 3), "c.wav": Slot("main", 4), "d.wav": Slot("main", 5)}


@pytest.mark.parametrize(
    ("standard", "counts"),
    [
        # REFERENCE: AES10-2003/2008 frames of 56 and 64 channels, halved at double rate, quartered at quad rate.
        ("AES10-56", (56, 56, 28, 28, 14, 14)),
        ("AES10-64", (64, 64, 32, 32, 16, 16)),
        # AES3 carries two channels; the optical lightpipe 8, 4, 2.
        ("AES3", (2, 2, 2, 2, 2, 2)),
        ("lightpipe", (8, 8, 4, 4, 2, 2)),
    ],
)
def test_slots_of_standards(show: Show, standard: str, counts: tuple[int, ...]) -> None:
    show.top["link"] = [{"name": "main", "standard": standard}]
    show.top["feed"] = [{"box": "deck", "sockets": "1-2", "slots": "1-2"}]
    show.rows[5]["return"] = ""
    found = []
    for rate in (44100, 48000, 88200, 96000, 176400, 192000):
        show.top["rate"] = rate
        found.append(show.read().links[0].slots)
    assert tuple(found) == counts


# Facts of the trade: common practice, no source.


def _two_boxes(show: Show, second: str) -> None:
    """Two boxes of 32 sockets on a link of 56: all of the first, and some of the second."""
    show.top["box"] = [{"name": "left", "sockets": 32}, {"name": "right", "sockets": 32}]
    show.top["link"] = [{"name": "main", "standard": "AES10-56"}]
    show.top["feed"] = [
        {"box": "left", "sockets": "1-32", "slots": "1-32"},
        {"box": "right", "sockets": second, "slots": "33-56"},
    ]
    show.rows = [
        {
            "channel": str(n),
            "name": f"Input {n}",
            "box": "left" if n <= 32 else "right",
            "socket": str((n - 1) % 32 + 1),
        }
        for n in range(1, 65)
    ]


def test_two_boxes_of_32_make_64_inputs(show: Show) -> None:
    """Common practice: a stage box of 32 sockets, numbered straight through; two make 64 inputs."""
    _two_boxes(show, "1-24")
    assert len(show.read().channels) == 64
    show.rows[32]["socket"] = "33"
    assert show.problems() == ['inputs.csv, line 34, socket: 33 is beyond box "right" (it has sockets 1 to 32)']


def test_two_boxes_onto_a_link_of_56(show: Show) -> None:
    """Common practice: the last 8 sockets of the second box are not recorded; their channels stay live."""
    _two_boxes(show, "1-24")
    ways = _routes(show)
    lost = [way for way in ways.routes if not way.slots]
    assert [way.channel for way in lost] == list(range(57, 65))
    assert [way.socket for way in lost] == [Socket("right", n) for n in range(25, 33)]
    assert {way.playback for way in lost} == {"live"}
    # Common practice: on playback every channel fed from the stage takes its own slot.
    assert all(way.playback == way.slots[0] == Slot("main", way.channel) for way in ways.routes[:56])


def test_a_feed_may_start_and_end_inside_an_eight(show: Show) -> None:
    """Common practice: sockets come in eights, but nothing holds a feed to them."""
    _two_boxes(show, "4-27")
    ways = _routes(show)
    assert ways.of(36).slots == (Slot("main", 33),)
    assert ways.of(59).slots == (Slot("main", 56),)
    assert [way.channel for way in ways.routes if not way.slots] == [33, 34, 35, 60, 61, 62, 63, 64]


def test_local_inputs_keep_their_live_source(show: Show) -> None:
    """Common practice: the desk's local inputs are a box that no feed carries."""
    show.top["box"].append({"name": "desk", "sockets": 8})
    show.rows.append({"channel": "48", "name": "TB", "box": "desk", "socket": "1"})
    way = _routes(show).of(48)
    assert (way.slots, way.playback) == ((), "live")
