"""Routes: from channel to socket to slot to track, and back. Pure."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from replay.patch.model import POINTS, Patch, Slot, Socket


@dataclass(frozen=True, kw_only=True)
class Route:
    """The way of one channel.

    `slots` are the slots that its socket (or the channel itself, on a feed of desk channels) is recorded on, in patch
    order; usually one. `point` is where the first of them is taken. `playback` is the slot that feeds the channel on
    playback, or "live" or "none"; it is the first recorded slot unless the patch says otherwise, and "live" where
    nothing is recorded and the patch says nothing.
    """

    channel: int
    socket: Socket | None
    slots: tuple[Slot, ...]
    point: str
    playback: Slot | str


@dataclass(frozen=True, kw_only=True)
class Routes:
    """All ways of a patch. `sources[slot]` is what the slot records (a Socket, or a channel number for desk feeds)."""

    routes: tuple[Route, ...]
    sources: Mapping[Slot, Socket | int]
    first_tracks: Mapping[str, int]
    slot_counts: Mapping[str, int]
    by_channel: Mapping[int, Route] = field(default_factory=dict)

    def of(self, channel: int) -> Route:
        """The route of a channel; KeyError if there is none."""
        return self.by_channel[channel]

    def fed_by(self, slot: Slot) -> tuple[int, ...]:
        """The channels that the slot feeds on playback, in patch order."""
        return tuple(route.channel for route in self.routes if route.playback == slot)

    def recorded_from(self, slot: Slot) -> tuple[int, ...]:
        """The channels whose source the slot records, in patch order."""
        return tuple(route.channel for route in self.routes if slot in route.slots)

    def track_of(self, slot: Slot) -> int:
        """The take's track number that the slot is recorded on."""
        return self.first_tracks[slot.link] + slot.number - 1

    def slot_of(self, track: int) -> Slot | None:
        """The slot of a track number; None where no link has it."""
        for link, first in self.first_tracks.items():
            if first <= track < first + self.slot_counts[link]:
                return Slot(link, track - first + 1)
        return None


def routes(patch: Patch) -> Routes:
    """Work out every channel's way through boxes, feeds and links."""
    sources: dict[Slot, Socket | int] = {}
    # Where each socket, and each channel of a feed of desk channels, is recorded, in patch order.
    carried: dict[Socket | int, list[tuple[Slot, str]]] = {}
    for feed in patch.feeds:
        for source_number, slot_number in zip(feed.sources, feed.slots, strict=True):
            source = source_number if feed.box is None else Socket(feed.box, source_number)
            slot = Slot(feed.link, slot_number)
            sources[slot] = source
            carried.setdefault(source, []).append((slot, feed.point))
    order = {slot: i for i, slot in enumerate(sources)}
    ways = []
    for channel in patch.channels:
        found = carried.get(channel.number, []) + (carried.get(channel.socket, []) if channel.socket else [])
        found.sort(key=lambda item: order[item[0]])
        playback = channel.playback
        if playback is None:
            playback = found[0][0] if found else "live"
        ways.append(
            Route(
                channel=channel.number,
                socket=channel.socket,
                slots=tuple(slot for slot, _ in found),
                point=found[0][1] if found else POINTS[0],
                playback=playback,
            )
        )
    return Routes(
        routes=tuple(ways),
        sources=sources,
        first_tracks={link.name: link.first_track for link in patch.links},
        slot_counts={link.name: link.slots for link in patch.links},
        by_channel={way.channel: way for way in ways},
    )
