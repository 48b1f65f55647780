"""A track sounds like nothing that its channel's kind could be.

What it is
    In the moments when the track stands out most, it sounds like another kind of source than the input list has.

Why it matters before a show
    Something may be plugged into the wrong socket, or the list may have the wrong kind.

How it is told
    Band energies, crest, attack, steadiness and pitch in eight moments outside the line check, against what a kind
    usually sounds like. Click tracks are recognised as such, by copies of short bursts of one or two pitches at a rate
    that stays; timecode by its sync words. Only gross contradictions are told, as a note, and only where no exchange
    explains them and you have not confirmed the channel by ear.

What can fool it
    Unusual instruments, effects, and a source that hardly played while its neighbours were loud.

What to do
    Listen to the track.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from replay.checks.finding import Finding
from replay.checks.limit import Limit
from replay.checks.place import of_channels
from replay.desk.model import Show
from replay.ear import RIGHT

CODE = "unlikely-source"
TITLE = "sounds like another kind of source"
LIMITS: Mapping[str, Limit] = {}


MAY_HOLD_TIMECODE = ("timecode", "playback", "other")


def check(show: Show) -> Iterator[Finding]:
    yield from _timecode(show)
    for number, family in show.mapping.unlikely.items():
        view = show.view(number)
        if view.channel.use == "off" or show.ear.says(number) == RIGHT:
            continue
        yield Finding(
            code=CODE,
            severity="note",
            confidence="possible",
            message=f"Hardly sounds like {view.channel.kind}; it sounds more like {family}.",
            action="Listen to the track.",
            **of_channels(show, [number]),
        )


def _timecode(show: Show) -> Iterator[Finding]:
    """Timecode on a channel that is to be something else: mapping hears nothing on it, since it never rests."""
    for view in show.channels:
        channel = view.channel
        if view.track is None or view.track.track.number not in show.timecode or view.mapping.status == "contradicted":
            continue
        if channel.kind in MAY_HOLD_TIMECODE or channel.use == "off" or show.ear.says(channel.number) == RIGHT:
            continue
        yield Finding(
            code=CODE,
            severity="note",
            confidence="likely",
            message=f"The track holds timecode, and no {channel.kind}.",
            action="See which track the timecode is to be on, and keep this one out of the loudspeakers.",
            key="timecode",
            **of_channels(show, [channel.number]),
        )
