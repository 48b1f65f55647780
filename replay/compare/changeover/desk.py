"""What changes at the desk and at the recorder from one patch to the other. Pure."""

from __future__ import annotations

from dataclasses import dataclass

from replay.patch.model import Channel, Patch, Slot, Socket
from replay.patch.routes import Routes


@dataclass(frozen=True, kw_only=True)
class ChannelChange:
    """One channel of the desk that differs: what, and how it was and is (in words)."""

    number: int
    before: Channel | None
    after: Channel | None
    differs: tuple[tuple[str, str, str], ...]


@dataclass(frozen=True, kw_only=True)
class TrackChange:
    """One slot that records another socket, or another source, or is another track, than before. A source is None
    where the slot records nothing."""

    slot: Slot
    track_before: int | None
    track_after: int | None
    source_before: Socket | int | None
    source_after: Socket | int | None
    name_before: str
    name_after: str


def channels(before: Patch, after: Patch, ways: tuple[Routes, Routes]) -> tuple[ChannelChange, ...]:
    """The channels that come, go or are set anew, by number."""
    old = {channel.number: channel for channel in before.channels}
    new = {channel.number: channel for channel in after.channels}
    found = []
    for number in sorted(old.keys() | new.keys()):
        one, other = old.get(number), new.get(number)
        if one is None or other is None:
            found.append(ChannelChange(number=number, before=one, after=other, differs=()))
            continue
        was, now = _settings(one, before, ways[0]), _settings(other, after, ways[1])
        differs = tuple((word, was[word], now[word]) for word in was if was[word] != now[word])
        if differs:
            found.append(ChannelChange(number=number, before=one, after=other, differs=differs))
    return tuple(found)


def _settings(channel: Channel, patch: Patch, ways: Routes) -> dict[str, str]:
    """How a channel is set, in words that can be compared and printed."""
    playback = ways.of(channel.number).playback
    return {
        "name": channel.name,
        "socket": str(channel.socket) if channel.socket else "none",
        "trim": f"{channel.trim:+g}" if channel.trim else "0",
        "polarity": "inverted" if channel.inverted else "normal",
        "pair": f"{channel.pair} ({channel.pairing})" if channel.pair else "none",
        "return": playback if isinstance(playback, str) else slot_words(playback, patch),
        "buses": " ".join(sorted(f"{send.bus}:{send.level:g}" for send in channel.sends)) or "none",
    }


def slot_words(slot: Slot, patch: Patch) -> str:
    """A slot's number, with its link's name where the patch has several links."""
    return f"{slot.link} {slot.number}" if len(patch.links) > 1 else str(slot.number)


def tracks(before: Patch, after: Patch, ways: tuple[Routes, Routes]) -> tuple[TrackChange, ...]:
    """The slots that record something else, link by link."""
    found = []
    sides = ((before, ways[0]), (after, ways[1]))
    links = {link.name: place for patch in (after, before) for place, link in enumerate(patch.links)}
    slots = sorted(ways[0].sources.keys() | ways[1].sources.keys(), key=lambda slot: (links[slot.link], slot))
    for slot in slots:
        (track_before, source_before, name_before), (track_after, source_after, name_after) = (
            _track(slot, patch, way) for patch, way in sides
        )
        if not name_before and not name_after:
            continue  # nothing that anybody uses
        same = (track_before, source_before, name_before.casefold()) == (
            track_after,
            source_after,
            name_after.casefold(),
        )
        if not same:
            found.append(
                TrackChange(
                    slot=slot,
                    track_before=track_before,
                    track_after=track_after,
                    source_before=source_before,
                    source_after=source_after,
                    name_before=name_before,
                    name_after=name_after,
                )
            )
    return tuple(found)


def _track(slot: Slot, patch: Patch, ways: Routes) -> tuple[int | None, Socket | int | None, str]:
    """A slot's track, what it records, and the names of the channels whose source that is."""
    source = ways.sources.get(slot)
    if source is None:
        return None, None, ""
    names = dict.fromkeys(patch.channel(number).name for number in ways.recorded_from(slot))
    return ways.track_of(slot), source, " / ".join(names)
