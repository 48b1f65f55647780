"""The list of ways: literal page of the small show, facts of the trade, and recording time from arithmetic."""

from __future__ import annotations

from dataclasses import replace

import pytest

from replay.patch.model import Box, Channel, Feed, Link, Slot, Socket
from replay.report.as_routes import GIB, Medium, seconds_of, text
from replay.report.cells import width
from tests.report.shows import CHANNELS, patch, routes

# 100e9 bytes / (48000 x 3 x 8 slots) = 86805.6 s = 24.1 h; 2 GiB / the same = 1864.1 s; 4 GiB = 3728.3 s.
SMALL = """\
Saturday, Mill Yard barn dance: 9 channels.
Boxes: deck (24 sockets), riser (16 sockets), local (8 sockets). Links: main (32
slots).

ch  name            socket    recorded  slot  track  return
 1  Kick in         deck 1    preamp    1     1      1
 2  Snare top       deck 2    preamp    2     2      2
 3  Overhead left   deck 3    preamp    3     3      3
 4  Overhead right  deck 4    preamp    4     4      4
 5  Bass            riser 13  preamp    29    29     29
 6  Vocal caller    deck 5    preamp    5     5      5
 7  Vocal spare     deck 6    preamp    6     6      6
 8  Talkback        local 1   no                     live
 9  Fiddle          riser 14  preamp    30    30     30

NOT RECORDED
local (local inputs, no feed carries this box):
  1: channel 8 Talkback

WORTH A SECOND LOOK
- Slots 7-28, 31-32 of main record sockets that no channel uses.

FREE SOCKETS
  deck: 7-24
  riser: 1-12, 15-16
  local: 2-8

RECORDING TIME
8 slots in use at 48 kHz, 24 bit:
  24.1 hours on the disk of /media/card (100.0 GB free)
  a polyphonic file reaches 2 GiB after 31:04 and 4 GiB after 1:02:08
"""


def shown(of=None, ways=None, *, medium=None, cells=80) -> str:
    of = of or patch()
    return text(of, ways or routes(of), medium=medium, cells=cells)


def test_the_small_show():
    assert shown(medium=Medium("/media/card", 100 * 10**9)) == SMALL


@pytest.mark.parametrize(
    ("size", "rate", "slots", "seconds"),
    [
        # 32 channels of 24 bit at 48 kHz are 4 608 000 bytes a second.
        (2 * GIB, 48000, 32, 466.0),
        (4 * GIB, 48000, 32, 932.07),
        (4 * GIB, 96000, 32, 466.03),
        (4 * GIB, 48000, 1, 8.2850 * 3600),
    ],
)
def test_recording_time(size, rate, slots, seconds):
    assert seconds_of(size, rate, slots) == pytest.approx(seconds, rel=1e-4)


def test_a_rate_that_the_patch_does_not_state_is_assumed_aloud():
    assert "8 slots in use at 48 kHz (the patch states no rate), 24 bit:" in shown(replace(patch(), rate=None))


def test_without_a_medium_only_file_sizes_are_told():
    page = shown()
    assert "hours on the disk" not in page
    assert "2 GiB after 31:04" in page


def test_two_boxes_of_32_on_a_link_of_56_lose_the_last_eight_of_the_second():
    """Common practice, no source: 32 sockets of the first box and the first 24 of the second fit a link of 56."""
    channels = tuple(
        Channel(number=number, name=f"In {number}", socket=Socket("a" if number <= 32 else "b", (number - 1) % 32 + 1))
        for number in range(1, 65)
    )
    of = replace(
        patch(channels),
        boxes=(Box(name="a", sockets=32), Box(name="b", sockets=32)),
        links=(Link(name="main", slots=56, first_track=1),),
        feeds=(
            Feed(box="a", link="main", sources=tuple(range(1, 33)), slots=tuple(range(1, 33))),
            Feed(box="b", link="main", sources=tuple(range(1, 25)), slots=tuple(range(33, 57))),
        ),
    )
    page = shown(of)
    lost = page[page.index("NOT RECORDED") : page.index("FREE SOCKETS")]
    assert lost.splitlines()[:-1] == [
        "NOT RECORDED",
        "b (no feed carries these sockets):",
        *[f"  {number}: channel {number + 32} In {number + 32}" for number in range(25, 33)],
    ]


def test_what_is_allowed_and_still_worth_a_look():
    of = patch(
        (
            *CHANNELS,
            Channel(number=10, name="Kick again", socket=Socket("deck", 1)),
            Channel(number=11, name="Nothing"),
            Channel(number=12, name="Moved", socket=Socket("deck", 8), playback=Slot("main", 9)),
            Channel(number=13, name="Kept live", socket=Socket("deck", 10), playback="live"),
            Channel(number=14, name="Same return", socket=Socket("deck", 11), playback=Slot("main", 9)),
        )
    )
    page = shown(of, cells=120)
    for sentence in (
        "- Socket deck 1 feeds channels 1, 10: they share its gain.",
        "- Channel 11 has no socket.",
        "- Channel 12 is recorded on slot 8 and comes back from slot 9.",
        "- Channel 13 is recorded, but its return is live.",
        "- Return 9 feeds channels 12, 14.",
    ):
        assert sentence + "\n" in page


def test_slots_carry_their_link_s_name_where_there_are_several():
    of = replace(patch(), links=(*patch().links, Link(name="second", slots=32, first_track=33)))
    assert " 5  Bass            riser 13  preamp    main 29  29     main 29\n" in shown(of)


@pytest.mark.parametrize("cells", [60, 80, 120])
def test_hostile_and_long_names_stay_in_their_columns(cells):
    of = patch((replace(CHANNELS[0], name="\x1b[2J\u202e\n" + "太" * 60), *CHANNELS[1:]))
    page = shown(replace(of, title="\x1b[31m" + "x" * 300), medium=Medium("\x1b/x", 10**9), cells=cells)
    assert "\x1b" not in page
    assert "\u202e" not in page
    assert max(width(line) for line in page.splitlines()) <= cells
