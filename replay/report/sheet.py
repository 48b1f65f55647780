"""The sheet for whoever walks to the stage boxes, as records: one box after the other, its sockets in order.

What a sheet must say is the same as a table for a spreadsheet and as a printed page; this is both.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from replay.checks.shared.fed_wrong import GAIN_WAITS
from replay.patch.model import Slot, Socket
from replay.report import phrases
from replay.report.work import at_sockets

if TYPE_CHECKING:
    from replay.desk.model import Advice, ChannelView
    from replay.findings.result import Report
    from replay.patch.model import Box


@dataclass(frozen=True, kw_only=True)
class Line:
    """One socket in use. `source` is mic or DI in words, `pad` as it is or as it is to be (PUT IN, TAKE OUT, none).

    `change_db` is None where nothing is turned; `has_preamp` says whether anything could be; `was_db` is the gain
    as the patch states it. `at_source_db` is a change that is made at the source and not here. `tell` and `order`
    come with a change ("" for none), `beside` are the other things to do at this socket.
    """

    socket: Socket
    channels: tuple[int, ...]
    name: str
    source: str
    phantom: str
    pad: str
    has_preamp: bool
    change_db: float | None
    was_db: float | None
    set_db: float | None
    at_source_db: float | None
    trims: tuple[tuple[int, float], ...]
    tell: str
    order: str
    beside: tuple[str, ...]

    @property
    def to_know(self) -> tuple[str, ...]:
        """What goes with the turn, in the order of work, then what else is to be done here."""
        source = "" if self.at_source_db is None else f"At the source: {self.at_source_db:+g} dB."
        return tuple(sentence for sentence in (source, self.tell, self.order, *self.beside) if sentence)

    @property
    def changed(self) -> bool:
        """Whether a hand is needed on the preamp: its gain or its pad."""
        return self.change_db is not None or self.pad in ("PUT IN", "TAKE OUT")


@dataclass(frozen=True, kw_only=True)
class BoxSheet:
    """One box with the lines of its sockets in use."""

    box: Box
    lines: tuple[Line, ...]


@dataclass(frozen=True, kw_only=True)
class Returns:
    """Channels by what feeds them on playback. `playback` go over to the recording and must come back to live before
    the show; `live` stay with the stage; `none` are fed by nothing."""

    playback: tuple[int, ...]
    live: tuple[int, ...]
    none: tuple[int, ...]


def boxes(report: Report) -> tuple[BoxSheet, ...]:
    """The sheets of all boxes in use, in the patch's order."""
    by_socket: dict[Socket, list[ChannelView]] = {}
    for view in report.show.channels:
        if view.channel.socket is not None:
            by_socket.setdefault(view.channel.socket, []).append(view)
    jobs = at_sockets(report)
    found = []
    for box in report.show.patch.boxes:
        sockets = sorted(socket for socket in by_socket if socket.box == box.name)
        if sockets:
            lines = tuple(_line(box, socket, by_socket[socket], jobs.get(socket, ())) for socket in sockets)
            found.append(BoxSheet(box=box, lines=lines))
    return tuple(found)


def returns(report: Report) -> Returns:
    """Who goes to playback, and who stays."""
    ways = report.show.routes
    by_kind: dict[str, list[int]] = {"playback": [], "live": [], "none": []}
    for view in report.show.channels:
        playback = ways.of(view.channel.number).playback
        by_kind["playback" if isinstance(playback, Slot) else playback].append(view.channel.number)
    return Returns(playback=tuple(by_kind["playback"]), live=tuple(by_kind["live"]), none=tuple(by_kind["none"]))


def _line(box: Box, socket: Socket, views: list[ChannelView], beside: tuple[str, ...]) -> Line:
    first = views[0].channel
    advice = next((view.advice for view in views if view.advice is not None), None)
    turn = None if advice is None or advice.at_source else advice
    trims = ((view.channel.number, view.advice.trim_db) for view in views if view.advice is not None)
    return Line(
        socket=socket,
        channels=tuple(view.channel.number for view in views),
        name=" / ".join(dict.fromkeys(view.channel.name for view in views)),
        source=_source(first.input, first.mic),
        phantom=first.phantom,
        has_preamp=first.input != "digital",
        pad=_pad(first.pad, box.pad, turn),
        change_db=(turn.gain_db or None) if turn else None,
        was_db=turn.was_db if turn else first.gain,
        set_db=turn.new_gain_db if turn else None,
        at_source_db=advice.gain_db if advice is not None and advice.at_source else None,
        trims=tuple((number, trim) for number, trim in trims if trim is not None),
        tell=phrases.sentence(advice.ask) if advice and advice.ask else "",
        order=phrases.sentence(advice.order) if advice and advice.order else "",
        beside=(*beside, *_waits(views, beside)),
    )


def _waits(views: list[ChannelView], beside: tuple[str, ...]) -> tuple[str, ...]:
    """Why nothing is to be turned here yet, where that is not said already."""
    return (GAIN_WAITS,) if any(view.advice_waits for view in views) and GAIN_WAITS not in beside else ()


_INPUTS = {"di": "DI", "rf": "RF"}


def _source(way: str, mic: str) -> str:
    """Mic or DI in words, each once.

    >>> _source("mic", "condenser"), _source("mic", ""), _source("di", "DI"), _source("rf", "headset")
    ('condenser', 'mic', 'DI', 'RF headset')
    """
    if mic and (way == "mic" or way in mic.casefold().split()):
        return mic
    return " ".join(part for part in (_INPUTS.get(way, way), mic) if part)


def _pad(is_in: bool, pad: float | None, advice: Advice | None) -> str:
    if advice is not None and advice.pad:
        return "PUT IN" if advice.pad == "in" else "TAKE OUT"
    if pad is None:
        return "none"
    return "in" if is_in else "out"
