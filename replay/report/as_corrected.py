"""The input list with every source where it was heard: to review, never over the original.

A channel whose source was heard on another track gets the socket that this track records, with what belongs to the
socket: gain, pad and phantom. A source that was found on no track keeps its line without a socket. Each changed line
says in its note what stood there before; the rest is the patch's list as it was understood, as CSV. What the sound says
and the engineer's ears deny is left as it was.
"""

from __future__ import annotations

import csv
import io
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from replay.ear import rings
from replay.mapping.by_ear import corrections
from replay.patch.from_table import COLUMNS
from replay.patch.model import Channel, Slot, Socket
from replay.report import whole
from replay.text import harmless

if TYPE_CHECKING:
    from replay.desk.model import Show
    from replay.findings.result import Report

OPTION = "--corrected"
METAVAR = "FILE"
HELP = "Also write an input list with the sources where they were heard to FILE, to review."
FOLDER = False
STANDARD_OUTPUT = None


def write(report: Report, target: str) -> None:
    """Write the list to a file. OutputError where that is impossible, or where it would replace a file of the show."""
    path = Path(target)
    whole.protect(report, path)
    whole.write({path: text(report).encode("utf-8")})


def text(report: Report) -> str:
    """The list as CSV with a line for every channel."""
    show = report.show
    moved = corrections(show.mapping, show.ear.answers, show.tracks_of_channels())
    crossed = _crossed(show)
    out = io.StringIO()
    writer = csv.DictWriter(out, COLUMNS, restval="", lineterminator="\n")
    writer.writeheader()
    for channel in show.patch.channels:
        settled = channel
        note = channel.note
        if channel.number in moved:
            settled, was = _moved(show, channel, moved[channel.number])
            note = f"{note}; {was}" if note else was
        elif channel.number in crossed:
            was = f"returned from {_return(show, crossed[channel.number])}, another channel's by ear"
            settled = replace(channel, playback=show.routes.of(channel.number).slots[0])
            note = f"{note}; {was}" if note else was
        writer.writerow(_row(show, settled, note))
    return out.getvalue()


def _moved(show: Show, channel: Channel, track: int | None) -> tuple[Channel, str]:
    """The channel at the socket that its source was heard from, and what its line said before."""
    before = f"was {channel.socket}" if channel.socket else "had no socket"
    slot = show.routes.slot_of(track) if track is not None else None
    socket = show.routes.sources.get(slot) if slot is not None else None
    if not isinstance(socket, Socket):
        return replace(channel, socket=None, gain=None, pad=False), f"{before}, heard on no track"
    owner = next((other for other in show.patch.channels if other.socket == socket), None)
    if owner is None:
        return replace(channel, socket=socket, gain=None, pad=False), f"{before}, heard on track {track}"
    return (
        replace(channel, socket=socket, gain=owner.gain, pad=owner.pad, phantom=owner.phantom, input=channel.input),
        f"{before}, heard on track {track}",
    )


def _crossed(show: Show) -> dict[int, Slot]:
    """Channels that were said to be each other and that the patch itself has come back from each other's slots, with
    the slots that they come back from: their plugs are right, and their returns are not."""
    found = {}
    for ring in rings(show.ear.answers):
        for number in ring:
            route = show.routes.of(number)
            if route.slots and isinstance(route.playback, Slot) and route.playback not in route.slots:
                found[number] = route.playback
    return found


def _row(show: Show, channel: Channel, note: str) -> dict[str, object]:
    playback = channel.playback
    return {
        "channel": channel.number,
        "name": harmless(channel.name),
        "kind": channel.kind,
        "use": channel.use,
        "input": channel.input,
        "mic": harmless(channel.mic),
        "box": harmless(channel.socket.box) if channel.socket else "",
        "socket": channel.socket.number if channel.socket else "",
        "gain": "" if channel.gain is None else f"{channel.gain:g}",
        "pad": "yes" if channel.pad else "",
        "phantom": channel.phantom,
        "trim": f"{channel.trim:g}" if channel.trim else "",
        "polarity": ("inverted" if channel.inverted else "normal") if channel.polarity_stated else "",
        "pair": channel.pair or "",
        "pairing": channel.pairing or "",
        "return": _return(show, playback),
        "bus": " ".join(f"{send.bus}:{send.level:g}" for send in channel.sends),
        "note": harmless(note, 1000),
    }


def _return(show: Show, playback: Slot | str | None) -> str:
    if isinstance(playback, Slot):
        return f"{playback.link} {playback.number}" if len(show.patch.links) > 1 else str(playback.number)
    return playback or ""
