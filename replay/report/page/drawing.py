"""The way of the signal as a drawing: sockets by box, slots by link, tracks, channels, and a line for each way.

Places across are percent of the width, so that the drawing fits a phone and a wide screen alike; places down are
pixels. What is wrong has a mark and a word where it happens, and a line of its own kind (broken, dotted, doubled):
colour only repeats it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from replay.patch.model import Slot, Socket
from replay.report import phrases
from replay.report.page.channels import Row

if TYPE_CHECKING:
    from replay.desk.model import ChannelView
    from replay.findings.result import Report

SOCKET, SLOT, TRACK, CHANNEL = 14.0, 34.0, 50.0, 66.0
ROW = 22
HEAD = 14

EXCHANGED_CODES = {
    "swapped": "exchanged",
    "shifted": "shifted",
    "moved-block": "moved",
    "return-mismatch": "exchanged",
    "wrong-return": "exchanged",
    "wrong-by-ear": "wrong by ear",
}
LEGEND = (
    ("plain", "recorded, and comes back", ""),
    ("broken", "broken: no track in this take", "✕"),
    ("exchanged", "exchanged or shifted: comes back from elsewhere", "⇄"),
    ("unrecorded", "not recorded: stays with the stage", "○"),
)


@dataclass(frozen=True)
class Stop:
    """A station: `text` beside it, `kind` its shape (socket, slot, track, missing)."""

    x: float
    y: int
    text: str
    kind: str
    used: bool = True


@dataclass(frozen=True)
class Line:
    x1: float
    y1: int
    x2: float
    y2: int
    kind: str


@dataclass(frozen=True)
class Sign:
    """A mark on a line, where something happens to it."""

    x: float
    y: int
    text: str


@dataclass(frozen=True, kw_only=True)
class Way:
    """One channel's way: lines and signs, and its end with name and state. `trouble` is one word, "" if all is well."""

    row: Row
    y: int
    kind: str
    lines: tuple[Line, ...]
    signs: tuple[Sign, ...]
    trouble: str


@dataclass(frozen=True, kw_only=True)
class Drawing:
    """All of it. `heads` are the names of boxes and links, `height` in pixels."""

    heads: tuple[Stop, ...]
    stops: tuple[Stop, ...]
    ways: tuple[Way, ...]
    height: int


def drawing(report: Report, rows: list[Row]) -> Drawing:
    """Lay out the whole patch with what this take has of it."""
    show = report.show
    heads: list[Stop] = []
    stops: list[Stop] = []
    sockets = _sockets(report, heads, stops)
    slots = _slots(report, heads, stops)
    tracks = _tracks(report, stops)
    down = HEAD
    ways = []
    for view, row in zip(show.channels, rows, strict=True):
        down += ROW
        ways.append(_way(report, view, row, down, sockets, slots, tracks))
    heads += [Stop(TRACK, ROW // 2 + 4, "tracks", "head"), Stop(CHANNEL, ROW // 2 + 4, "channels", "head")]
    lowest = max([down, *(stop.y for stop in stops)])
    return Drawing(heads=tuple(heads), stops=tuple(stops), ways=tuple(ways), height=lowest + ROW)


def _sockets(report: Report, heads: list[Stop], stops: list[Stop]) -> dict[Socket, int]:
    used = {view.channel.socket for view in report.show.channels if view.channel.socket is not None}
    found: dict[Socket, int] = {}
    down = 0
    for box in report.show.patch.boxes:
        mine = sorted(socket for socket in used if socket.box == box.name)
        if not mine:
            continue
        heads.append(Stop(SOCKET, down + ROW // 2 + 4, box.name, "box"))
        down += HEAD
        for socket in mine:
            down += ROW
            found[socket] = down
            stops.append(Stop(SOCKET, down, str(socket.number), "socket"))
        down += ROW // 2
    return found


def _slots(report: Report, heads: list[Stop], stops: list[Stop]) -> dict[Slot, int]:
    ways = report.show.routes
    used = {slot for route in ways.routes for slot in route.slots}
    used |= {route.playback for route in ways.routes if isinstance(route.playback, Slot)}
    used |= {track.slot for track in report.show.tracks if track.slot is not None}
    found: dict[Slot, int] = {}
    down = 0
    several = len(report.show.patch.links) > 1
    for link in report.show.patch.links:
        mine = sorted(slot for slot in used if slot.link == link.name)
        if not mine:
            continue
        heads.append(Stop(SLOT, down + ROW // 2 + 4, link.name if several else "slots", "head"))
        down += HEAD
        for slot in mine:
            down += ROW
            found[slot] = down
            stops.append(Stop(SLOT, down, str(slot.number), "slot", bool(ways.recorded_from(slot))))
        down += ROW // 2
    return found


def _tracks(report: Report, stops: list[Stop]) -> dict[int, int]:
    """Every track of the take, and those that the patch expects and that are not there."""
    ways = report.show.routes
    there = {track.track.number: bool(track.channels) for track in report.show.tracks}
    expected = {ways.track_of(route.playback) for route in ways.routes if isinstance(route.playback, Slot)}
    found = {}
    down = HEAD
    for number in sorted(there.keys() | expected):
        down += ROW
        found[number] = down
        kind = "track" if number in there else "missing"
        stops.append(Stop(TRACK, down, str(number), kind, there.get(number, True)))
    return found


def _way(
    report: Report,
    view: ChannelView,
    row: Row,
    y: int,
    sockets: dict[Socket, int],
    slots: dict[Slot, int],
    tracks: dict[int, int],
) -> Way:
    ways = report.show.routes
    route = ways.of(view.channel.number)
    start = sockets.get(view.channel.socket) if view.channel.socket is not None else None
    lines: list[Line] = []
    signs: list[Sign] = []
    kind = "plain"
    if start is not None:
        lines += [Line(SOCKET, start, SLOT, slots[slot], "plain") for slot in route.slots]
    lines += [_to_track(ways, slot, slots, tracks, "plain") for slot in route.slots if ways.track_of(slot) in tracks]
    exchanged = next((EXCHANGED_CODES[f.code] for f in row.findings if f.code in EXCHANGED_CODES), "")
    if isinstance(route.playback, Slot):
        number = ways.track_of(route.playback)
        if view.track is None:
            kind = "broken"
            signs.append(Sign((TRACK + CHANNEL) / 2, (tracks[number] + y) // 2, "✕"))
        elif exchanged or route.playback not in route.slots:
            kind = "exchanged"
            signs.append(Sign((TRACK + CHANNEL) / 2, (tracks[number] + y) // 2, "⇄"))
        if route.playback not in route.slots:
            lines.append(_to_track(ways, route.playback, slots, tracks, kind))
        lines.append(Line(TRACK, tracks[number], CHANNEL, y, kind))
        found_on = row.mapping.found_on if row.mapping else None
        if found_on in tracks and found_on != number:
            lines.append(Line(TRACK, tracks[found_on], CHANNEL, y, "found"))
    elif start is not None and not route.slots:
        kind = "unrecorded"
        lines.append(Line(SOCKET, start, CHANNEL, y, kind))
        signs.append(Sign(SOCKET + 6, start + round((y - start) * 6 / (CHANNEL - SOCKET)), "○"))
    return Way(
        row=row,
        y=y,
        kind=kind,
        lines=tuple(lines),
        signs=tuple(signs),
        trouble=_trouble(row, kind, exchanged, phrases.why_no_level(view)),
    )


def _to_track(ways, slot: Slot, slots: dict[Slot, int], tracks: dict[int, int], kind: str) -> Line:
    return Line(SLOT, slots[slot], TRACK, tracks[ways.track_of(slot)], kind)


def _trouble(row: Row, kind: str, exchanged: str, why: str) -> str:
    """One word or two beside the channel's name."""
    if kind == "broken":
        return "no track"
    if kind == "unrecorded":
        return "not recorded"
    if kind == "exchanged":
        return exchanged or "exchanged"
    worst = next((finding.code for finding in row.findings if finding.severity != "note"), "")
    return worst or why
