"""A track sounds like nothing that its channel's kind could be.

What it is
    In the moments when the track stands out most, it sounds like another kind of source than the input list has.

Why it matters before a show
    Something may be plugged into the wrong socket, or the list may have the wrong kind.

How it is told
    Band energies, crest, attack, steadiness and pitch in eight moments outside the line check, against what a kind
    usually sounds like. Click tracks are recognised as such, by copies of short bursts of one or two pitches at a rate
    that stays; timecode by its sync words. Only gross contradictions are told, as a note, and only where no exchange
    explains them and you have not confirmed the channel by ear. A warning, likely, where a timecode channel's track
    holds none and another channel's does.

What can fool it
    Unusual instruments, effects, and a source that hardly played while its neighbours were loud. A click track on a
    channel of percussion, drums by line or samples is not told: a pad that a sequencer plays sounds alike.

What to do
    Listen to the track.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from replay.checks.shared import words
from replay.checks.shared.heard import has_source
from replay.checks.shared.limit import Limit
from replay.checks.shared.machines import may_be_pad
from replay.checks.shared.place import channel_name, of_channels
from replay.desk.model import ChannelView, Show
from replay.ear import RIGHT
from replay.findings.finding import Finding
from replay.mapping.content import FAMILIES

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
        if family == FAMILIES["click"] and may_be_pad(view):
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
        if not _holds_timecode(show, view) or view.mapping.status == "contradicted":
            continue
        if channel.kind == "timecode" or channel.use == "off" or show.ear.says(channel.number) == RIGHT:
            continue
        if without := _without_their_timecode(show):
            yield _exchanged(show, view, without)
            continue
        if channel.kind in MAY_HOLD_TIMECODE:
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


def _holds_timecode(show: Show, view: ChannelView) -> bool:
    return view.track is not None and view.track.track.number in show.timecode


def _without_their_timecode(show: Show) -> list[ChannelView]:
    """Timecode channels whose track sounds and holds none."""
    return [
        view
        for view in show.channels
        if view.channel.kind == "timecode"
        and view.channel.use == "must"
        and view.track is not None
        and has_source(show, view.track)
        and not _holds_timecode(show, view)
        and show.ear.says(view.channel.number) != RIGHT
    ]


def _exchanged(show: Show, view: ChannelView, without: Sequence[ChannelView]) -> Finding:
    assert view.track is not None
    names = words.listed([channel_name(one) for one in without])
    return Finding(
        code=CODE,
        severity="warning",
        confidence="likely",
        message=f"Track {view.track.track.number} holds timecode, and {names} another source: perhaps exchanged.",
        action=f"Keep {channel_name(view)} out of the loudspeakers; look where the timecode is plugged in.",
        key="timecode",
        **of_channels(show, [view.channel.number, *(one.channel.number for one in without)]),
    )
