"""One socket feeds several channels, or is recorded on several slots.

What it is
    A split in the patch: two channels on one source (one for the house, one for monitors, say), or one source on two
    tracks.

Why it matters before a show
    Whoever turns that preamp moves all of these channels. A second one that is there by mistake hides a source.

How it is told
    From the patch alone. A note, certain, one a socket.

What can fool it
    Nothing; whether it is meant, only you know.

What to do
    Nothing, if it is meant. When the preamp is turned, set the trim of every channel that it feeds.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from replay.checks.shared import words
from replay.checks.shared.limit import Limit
from replay.checks.shared.place import Spot, slot_name
from replay.desk.model import Show
from replay.findings.finding import Finding
from replay.patch.model import Slot, Socket
from replay.text import harmless, ranges

CODE = "shared-socket"
TITLE = "one socket on several channels or slots"
LIMITS: Mapping[str, Limit] = {}


def check(show: Show) -> Iterator[Finding]:
    channels: dict[Socket, list[int]] = {}
    for view in show.channels:
        if view.channel.socket is not None:
            channels.setdefault(view.channel.socket, []).append(view.channel.number)
    slots: dict[Socket, list[Slot]] = {}
    for slot, source in show.routes.sources.items():
        if isinstance(source, Socket):
            slots.setdefault(source, []).append(slot)
    for socket in dict.fromkeys([*channels, *slots]):
        fed, recorded = channels.get(socket, []), slots.get(socket, [])
        if len(fed) < 2 and len(recorded) < 2:
            continue
        parts = []
        if len(fed) > 1:
            parts.append(f"feeds channels {ranges(fed)}")
        if len(recorded) > 1:
            parts.append("is recorded on " + words.listed([slot_name(show, slot) for slot in recorded]))
        yield Finding(
            code=CODE,
            severity="note",
            confidence="certain",
            message=f"{harmless(str(socket), 60)} {' and '.join(parts)}.",
            action="Nothing, if it is meant; a turn of its preamp moves them all, so set every trim.",
            key=words.slug(str(socket)),
            **Spot(
                channels=tuple(fed),
                tracks=tuple(show.routes.track_of(slot) for slot in recorded),
                slots=tuple(recorded),
                sockets=(socket,),
            ),
        )
