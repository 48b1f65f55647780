"""Boxes, links and feeds of the patch file: what can be plugged where, and which slot records what."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TypeVar

from replay.patch.feeds import numbered, settled
from replay.patch.fields import choice, flag, number, one_of, runs, text, whole
from replay.patch.model import GAINS, POINTS, Box, Feed, Link, Slot
from replay.patch.problems import Unfit, nearest, shown, span
from replay.patch.tables import Table
from replay.text import harmless

MOST_SOCKETS = 1024
"""Sockets of one box and slots of one link: as many as a patch may have channels."""

MOST_TABLES = 256
"""Boxes, links, feeds or buses of one patch."""

MOST_TRACKS = 100_000

STANDARDS: Mapping[str, tuple[int | None, int | None, int | None]] = {
    "AES10-56": (56, 28, 14),
    "AES10-64": (64, 32, 16),
    "AES3": (2, 2, 2),
    "lightpipe": (8, 4, 2),
    "AES67": (8, None, None),
}
"""Channels of a link by standard at single (44.1/48 kHz), double (88.2/96) and quad rate (176.4/192).

AES10-2003 and -2008, 56- and 64-channel frames; AES3 (IEC 60958-4); the optical lightpipe as the trade's glossaries
have it; AES67 as in practice at 48 kHz: up to 8 channels a stream (not stated for higher rates).
"""

Named = TypeVar("Named", Box, Link)


@dataclass(frozen=True, kw_only=True)
class Wiring:
    """Boxes and links in order, and the feeds between them.

    `all_boxes` and `all_links` are false where a name could not be read: an unknown name may then be that one. `told`
    are remarks on feeds of a house patch that gave way.
    """

    boxes: tuple[Box, ...]
    links: tuple[Link, ...]
    feeds: tuple[Feed, ...]
    all_boxes: bool = True
    all_links: bool = True
    told: tuple[str, ...] = ()


def read_wiring(top: Table, rate: int | None, *, whole_chain: bool = True) -> Wiring:
    """The wiring of a patch. Parts with problems are filled with what fits, so that the rest can be checked.

    `whole_chain` is false where a patch that this one extends could not be read: what is missing may stand there.
    """
    boxes, all_boxes = _boxes(top, whole_chain)
    links, all_links = _links(top, rate, whole_chain)
    read: list[tuple[Table, Feed]] = []
    for table in _some(top, "feed", "a [[feed]] says which sockets are recorded on which slots", whole_chain)[0]:
        feed = _feed(table, boxes, links, all_boxes, all_links)
        if feed is not None:
            read.append((table, feed))
    feeds, told = settled(read)
    return Wiring(
        boxes=boxes, links=links, feeds=tuple(feeds), all_boxes=all_boxes, all_links=all_links, told=tuple(told)
    )


def slot_parser(links: tuple[Link, ...]) -> Callable[[object], Slot]:
    """A parser of one slot: its number, or its link's name and number (`main 12`) where there are several links."""

    def parse(value: object) -> Slot:
        if isinstance(value, bool) or not isinstance(value, str | int):
            raise Unfit(f"{shown(value)} is not a slot", _how_slots_are_written(links))
        if isinstance(value, int):
            name, number_text = "", str(whole(1, MOST_SOCKETS)(value))
        else:
            name, _, number_text = " ".join(value.split()).rpartition(" ")
        if not (number_text.isascii() and number_text.isdigit() and len(number_text) < 10):
            raise Unfit(f"{shown(value)} is not a slot", _how_slots_are_written(links))
        if not name and len(links) != 1:
            raise Unfit(f"{shown(value)} does not say which link", _how_slots_are_written(links))
        link = _by_name(name, links) if name else links[0]
        slot = Slot(link.name, int(number_text))
        if not 1 <= slot.number <= link.slots:
            raise Unfit(f"{shown(value)} is beyond the link", f"{link.name} has slots {span(1, link.slots)}")
        return slot

    return parse


def _how_slots_are_written(links: tuple[Link, ...]) -> str:
    if len(links) == 1:
        return f"a number, {span(1, links[0].slots)}"
    return "a link and a number: " + ", ".join(f"{harmless(link.name)} 1" for link in links[:10])


def _by_name(name: str, named: Iterable[Named]) -> Named:
    items = {item.name: item for item in named}
    return items[one_of(name, items)]


def _some(
    top: Table, name: str, hint: str, whole_chain: bool, *, same: str = "", either: Sequence[str] = ()
) -> tuple[list[Table], bool]:
    """The tables of a list that no patch can do without, and whether these are all."""
    before = top.problems.count
    tables = top.tables(name, MOST_TABLES, same=same, either=either)
    complete = whole_chain and top.problems.count == before
    if not tables and complete:
        top.problem(name, "is missing", hint)
    return tables, complete


def _boxes(top: Table, whole_chain: bool) -> tuple[tuple[Box, ...], bool]:
    """The boxes, and whether these are all."""
    boxes: list[Box] = []
    hint = "a [[box]] for each stage box, and for the desk's local inputs"
    tables, complete = _some(top, "box", hint, whole_chain, same="name")
    for table in tables:
        how_many = _or_a_name("how many inputs it has", table, tables) if whole_chain else ""
        name = table.read("name", text(40), None, required="the box's name as the input list has it")
        pad_given = "pad" in table.raw
        box = Box(
            name=name or "",
            sockets=table.read("sockets", whole(1, MOST_SOCKETS), MOST_SOCKETS, required=how_many),
            gain=table.range("gain", None),
            # An unreadable pad is a pad: the list's pads are not to be told as well.
            pad=table.read("pad", number(1, 60), 20.0 if pad_given else None),
            gains=table.read("gains", choice(GAINS), GAINS[0]),
            compensated=table.read("compensated", flag, False),
            full_scale_dbu=table.read("full_scale_dbu", number(-60, 60), None),
        )
        table.done()
        if name is not None and _is_new(table, name, boxes, "box"):
            boxes.append(box)
    return tuple(boxes), complete and bool(boxes) and len(boxes) == len(tables)


def _or_a_name(hint: str, table: Table, tables: Sequence[Table]) -> str:
    """A hint, and a house's name that may have been meant: to change what the house has takes its very name."""
    if table.rank == max(one.rank for one in tables) or not isinstance(table.raw.get("name"), str):
        return hint
    farther = [str(one.raw.get("name")) for one in tables if one.rank > table.rank or len(one.layers) > 1]
    near = nearest(table.raw["name"], farther)
    return f"{hint}; or {near}" if near.startswith("did you mean") else hint


def _links(top: Table, rate: int | None, whole_chain: bool) -> tuple[tuple[Link, ...], bool]:
    """The links, and whether these are all."""
    links: list[Link] = []
    next_track = 1
    taken: list[tuple[int, int, str]] = []
    hint = "a [[link]] for each connection to the recorder"
    tables, complete = _some(top, "link", hint, whole_chain, same="name", either=("slots", "standard"))
    for table in tables:
        before = table.problems.count
        name = table.read("name", text(40), None, required="the link's name")
        slots = _slot_count(table, rate, whole_chain)
        first = table.read("first_track", whole(1, MOST_TRACKS), next_track)
        table.done()
        next_track = first + slots
        for other_first, other_last, other in taken:
            if first <= other_last and other_first < next_track and table.problems.count == before:
                message = f"tracks {first}-{next_track - 1} are partly those of link {shown(other)}"
                table.problem("first_track", message, f"tracks {other_first}-{other_last} are taken")
        if name is not None and _is_new(table, name, links, "link"):
            links.append(Link(name=name, slots=slots, first_track=first))
            if table.problems.count == before:
                taken.append((first, next_track - 1, name))
    return tuple(links), complete and bool(links) and len(links) == len(tables)


def _is_new(table: Table, name: str, named: Iterable[Box] | Iterable[Link], what: str) -> bool:
    if any(other.name.casefold() == name.casefold() for other in named):
        table.problem("name", f"{shown(name)} is already the name of a {what}", "every name once")
        return False
    if what == "link" and name.casefold() in ("live", "none"):
        table.problem("name", f"{shown(name)} is a word of the return column", "another name")
        return False
    return True


def _slot_count(table: Table, rate: int | None, whole_chain: bool) -> int:
    standard = table.read("standard", choice(tuple(STANDARDS)), None)
    slots = table.read("slots", whole(1, MOST_SOCKETS), None)
    if "slots" in table.raw and "standard" in table.raw:
        table.problem("standard", "stands beside slots", "one of the two")
    elif "slots" not in table.raw and "standard" not in table.raw and whole_chain:
        table.problem("slots", "is missing", 'the number of slots, or standard = "AES10-64"')
    if slots is not None or standard is None:
        return slots or MOST_SOCKETS
    if rate is None:
        table.problem("standard", "needs the sample rate", "rate = 48000 at the top of the patch")
        return MOST_SOCKETS
    count = STANDARDS[standard][0 if rate <= 48000 else 1 if rate <= 96000 else 2]
    if count is None:
        table.problem("standard", f"{shown(standard)} says no number of slots at {rate} Hz", "slots = the number")
        return MOST_SOCKETS
    return count


def _feed(
    table: Table, boxes: tuple[Box, ...], links: tuple[Link, ...], all_boxes: bool, all_links: bool
) -> Feed | None:
    """One feed; None where it has a problem."""
    before = table.problems.count
    box = _named(table, "box", boxes, all_boxes)
    sockets = table.read("sockets", runs(MOST_SOCKETS), None)
    channels = table.read("channels", runs(MOST_SOCKETS), None)
    # The only link there is need not be named.
    only = links[0] if len(links) == 1 and all_links else None
    if "link" not in table.raw and only is None:
        table.problem("link", "is missing", "the name of a link")
    link = _named(table, "link", links, all_links) or only
    slots = table.read("slots", runs(MOST_SOCKETS), None, required='the slots that it lands on: "1-24"')
    point = table.read("point", choice(POINTS), POINTS[0])
    table.done()
    desk_feed = "channels" in table.raw
    if desk_feed and ("box" in table.raw or "sockets" in table.raw):
        table.problem("channels", "stands beside box or sockets", "a feed of desk channels has channels only")
    elif not desk_feed:
        if "box" not in table.raw:
            table.problem("box", "is missing", "the name of a box, or channels for a feed of desk channels")
        if "sockets" not in table.raw:
            table.problem("sockets", "is missing", 'the sockets that it carries: "1-24"')
    what, sources = ("channel", channels) if desk_feed else ("socket", sockets)
    if box is not None and sockets is not None:
        _within(table, "sockets", sockets, box.sockets, "box", box.name)
    if link is not None and slots is not None:
        _within(table, "slots", slots, link.slots, "link", link.name)
    if slots is not None and len(set(slots)) < len(slots):
        repeated = [number for number, times in Counter(slots).items() if times > 1]
        stand = "stands" if len(repeated) == 1 else "stand"
        table.problem("slots", f"{numbered('slot', repeated)} {stand} twice", "each slot records one source")
    if sources is not None and slots is not None and len(sources) != len(slots):
        message = f"{_count(len(sources), what)} cannot go onto {_count(len(slots), 'slot')}"
        table.problem("slots", message, f"as many slots as {what}s")
    if table.problems.count > before or link is None or sources is None or slots is None:
        return None
    return Feed(box=box.name if box else None, link=link.name, sources=sources, slots=slots, point=point)


def _named(table: Table, key: str, named: tuple[Named, ...], complete: bool) -> Named | None:
    name = table.read(key, text(40), None)
    if name is None:
        return None
    try:
        return _by_name(name, named)
    except Unfit as unfit:
        if complete:
            table.problem(key, f"there is no {key} {shown(name)}", unfit.hint)
        return None


def _within(table: Table, key: str, numbers: tuple[int, ...], high: int, what: str, name: str) -> None:
    beyond = [number for number in numbers if number > high]
    if beyond:
        verb = "is" if len(set(beyond)) == 1 else "are"
        message = f"{numbered(key[:-1], beyond)} {verb} beyond {what} {shown(name)}"
        table.problem(key, message, f"it has {key} {span(1, high)}")


def _count(number: int, what: str) -> str:
    return f"{number} {what}" + ("s" if number != 1 else "")
