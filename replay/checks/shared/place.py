"""Where a finding belongs: the channels, tracks, slots and sockets that one of them leads to."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TypedDict

from replay.checks.shared import words
from replay.desk.model import ChannelView, Show, TrackView
from replay.patch.model import Slot, Socket
from replay.text import harmless


class Spot(TypedDict):
    """The fields of a finding that say where it belongs; `Finding(..., **spot)`."""

    channels: tuple[int, ...]
    tracks: tuple[int, ...]
    slots: tuple[Slot, ...]
    sockets: tuple[Socket, ...]


def of_channels(show: Show, numbers: Iterable[int]) -> Spot:
    """The spot of some channels: the slots that feed them on playback (else those that record them), the tracks of
    these (also where the take lacks them), and the sockets."""
    channels = tuple(numbers)
    views = [show.view(number) for number in channels]
    slots = tuple(slot for view in views if (slot := _slot(view)) is not None)
    tracks = tuple(view.track.track.number if view.track else _track(show, _slot(view)) for view in views)
    return Spot(
        channels=channels,
        tracks=_once(track for track in tracks if track is not None),
        slots=_once(slots),
        sockets=_once(view.channel.socket for view in views if view.channel.socket is not None),
    )


def of_tracks(show: Show, numbers: Iterable[int]) -> Spot:
    """The spot of some tracks (which the take need not have): their slots, what these record, the channels they feed
    (where they feed none: the channels whose source they hold)."""
    tracks = tuple(numbers)
    slots = [slot for track in tracks if (slot := show.routes.slot_of(track)) is not None]
    channels = [number for slot in slots for number in channels_of(show, slot)]
    sockets: list[Socket] = []
    for slot in slots:
        source = show.routes.sources.get(slot)
        if isinstance(source, Socket):
            sockets.append(source)
        elif (view := _view(show, source)) is not None and view.channel.socket is not None:
            sockets.append(view.channel.socket)
    return Spot(channels=_once(sorted(channels)), tracks=tracks, slots=_once(slots), sockets=_once(sockets))


def channels_of(show: Show, slot: Slot | None) -> tuple[int, ...]:
    """The channels that a slot feeds on playback; where it feeds none, those whose source it records."""
    if slot is None:
        return ()
    return show.routes.fed_by(slot) or show.routes.recorded_from(slot)


def views_of(show: Show, track: TrackView) -> tuple[ChannelView, ...]:
    """The channels that a track belongs to (see `channels_of`)."""
    numbers = track.channels or channels_of(show, track.slot)
    return tuple(show.view(number) for number in numbers)


def nowhere() -> Spot:
    """The spot of what concerns the take as a whole."""
    return Spot(channels=(), tracks=(), slots=(), sockets=())


def slot_name(show: Show, slot: Slot) -> str:
    """`slot 14`, or `slot stage 14` where the show has several links."""
    return words.slot_name(slot, len(show.patch.links))


def source_name(view: ChannelView) -> str:
    """What one turns or walks to: the socket, or the channel where no socket is known."""
    if view.channel.socket is not None:
        return harmless(str(view.channel.socket))
    return f"channel {view.channel.number}"


def channel_name(view: ChannelView) -> str:
    """A channel's number and name, for sentences about another channel."""
    return f"{view.channel.number} {harmless(view.channel.name, 40)}".rstrip()


def _slot(view: ChannelView) -> Slot | None:
    return view.playback if view.playback is not None else view.slot


def _track(show: Show, slot: Slot | None) -> int | None:
    if slot is None or slot.link not in show.routes.first_tracks:
        return None
    return show.routes.track_of(slot)


def _view(show: Show, number: object) -> ChannelView | None:
    return next((view for view in show.channels if view.channel.number == number), None)


def _once(items: Iterable) -> tuple:
    return tuple(dict.fromkeys(items))
