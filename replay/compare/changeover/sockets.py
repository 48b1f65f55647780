"""What changes between two patches at a changeover, socket by socket, and in which order it is done. Pure.

The order of work at a stage box is common practice and has no source: mute; phantom power off before anything is
unplugged, and on only after all is plugged; a gain that falls is turned before the new source comes, a gain that rises
after it; pads while nothing is heard.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from replay.compare.changeover import desk
from replay.compare.changeover.desk import ChannelChange, TrackChange
from replay.patch.model import Box, Channel, Patch, Slot, Socket
from replay.patch.routes import Routes, routes


@dataclass(frozen=True, kw_only=True)
class Recorded:
    """A slot and the take's track that it becomes."""

    slot: Slot
    track: int


@dataclass(frozen=True, kw_only=True)
class Plugged:
    """What one patch has at a socket. `names` are its channels' names, `gain` None where the patch does not state it.
    `returns[i]` feeds `channels[i]` on playback."""

    channels: tuple[int, ...]
    names: tuple[str, ...]
    input: str
    mic: str
    phantom: str
    pad: bool
    gain: float | None
    gains: str
    recorded: tuple[Recorded, ...]
    returns: tuple[Slot | str, ...]

    @property
    def name(self) -> str:
        return " / ".join(dict.fromkeys(self.names))

    @property
    def source(self) -> str:
        """The microphone, DI or line in words."""
        return " ".join(part for part in (self.input, self.mic) if part)


@dataclass(frozen=True, kw_only=True)
class SocketChange:
    """One socket in use before or after. `changes` are the words of CHANGES that apply, none where all stays.

    `is_replugged` says that another source comes, or the only one goes; `may_stay` that the patches name the same kind
    of microphone for both, so that it need not be unplugged where it stands right.
    """

    socket: Socket
    before: Plugged | None
    after: Plugged | None
    changes: tuple[str, ...]
    is_replugged: bool
    may_stay: bool

    @property
    def stays(self) -> bool:
        return not self.changes


CHANGES = ("source", "mic", "phantom", "pad", "gain", "whose", "recorded", "channel", "return")
"""Source: another name is plugged in; mic: another microphone or kind of input; whose: whose the preamp is; recorded:
link, slot or track; channel: the desk's; return: what feeds the channel on playback."""

STEPS = ("phantom-off", "gain-first", "unplug", "pad", "plug", "phantom-on", "gain-last", "gain-unknown")
"""The order of work at a box. gain-first: falls, or is not known to rise; gain-last: rises."""


@dataclass(frozen=True, kw_only=True)
class BoxChange:
    """One stage box: its sockets in use in order, and by step the sockets that are touched. `before` or `after` is None
    where the box comes or goes. `mute` are the channels, of both patches, that hear a hand at work."""

    name: str
    before: Box | None
    after: Box | None
    sockets: tuple[SocketChange, ...]
    steps: tuple[tuple[str, tuple[SocketChange, ...]], ...]
    mute: tuple[int, ...]


@dataclass(frozen=True, kw_only=True)
class Changeover:
    """All that changes from one patch to the other."""

    before: Patch
    after: Patch
    boxes: tuple[BoxChange, ...]
    channels: tuple[ChannelChange, ...]
    tracks: tuple[TrackChange, ...]

    @property
    def sockets(self) -> tuple[SocketChange, ...]:
        return tuple(change for box in self.boxes for change in box.sockets)

    @property
    def is_none(self) -> bool:
        """Whether there is nothing to do."""
        return all(change.stays for change in self.sockets) and not self.channels and not self.tracks


def changeover(before: Patch, after: Patch) -> Changeover:
    """Compare two patches. Boxes, links and sockets are the same where their names and numbers are."""
    ways = routes(before), routes(after)
    plugged = _plugged(before, ways[0]), _plugged(after, ways[1])
    names = list(dict.fromkeys(box.name for patch in (before, after) for box in patch.boxes))
    boxes = []
    for name in names:
        sockets = sorted({socket for side in plugged for socket in side if socket.box == name})
        changes = tuple(_socket(socket, plugged[0].get(socket), plugged[1].get(socket)) for socket in sockets)
        if changes:
            boxes.append(_box(name, _named(before, name), _named(after, name), changes))
    return Changeover(
        before=before,
        after=after,
        boxes=tuple(boxes),
        channels=desk.channels(before, after, ways),
        tracks=desk.tracks(before, after, ways),
    )


def _named(patch: Patch, name: str) -> Box | None:
    return next((box for box in patch.boxes if box.name == name), None)


def _plugged(patch: Patch, ways: Routes) -> dict[Socket, Plugged]:
    """What is plugged where."""
    by_socket: dict[Socket, list[Channel]] = {}
    for channel in patch.channels:
        if channel.socket is not None:
            by_socket.setdefault(channel.socket, []).append(channel)
    found = {}
    for socket, channels in by_socket.items():
        first = channels[0]
        slots = dict.fromkeys(slot for channel in channels for slot in ways.of(channel.number).slots)
        found[socket] = Plugged(
            channels=tuple(channel.number for channel in channels),
            names=tuple(channel.name for channel in channels),
            input=first.input,
            mic=first.mic,
            phantom=first.phantom,
            pad=first.pad,
            gain=first.gain,
            gains=patch.box(socket.box).gains,
            recorded=tuple(Recorded(slot=slot, track=ways.track_of(slot)) for slot in slots),
            returns=tuple(ways.of(channel.number).playback for channel in channels),
        )
    return found


def _socket(socket: Socket, before: Plugged | None, after: Plugged | None) -> SocketChange:
    if before is None or after is None:
        return SocketChange(
            socket=socket, before=before, after=after, changes=("source",), is_replugged=True, may_stay=False
        )
    differs = {
        "source": _folded(before.names) != _folded(after.names),
        "mic": (before.input, before.mic.casefold()) != (after.input, after.mic.casefold()),
        "phantom": before.phantom != after.phantom,
        "pad": before.pad != after.pad,
        "gain": before.gain != after.gain,
        "whose": before.gains != after.gains,
        "recorded": before.recorded != after.recorded,
        "channel": before.channels != after.channels,
        "return": before.returns != after.returns,
    }
    return SocketChange(
        socket=socket,
        before=before,
        after=after,
        changes=tuple(word for word in CHANGES if differs[word]),
        is_replugged=differs["source"] or differs["mic"],
        may_stay=differs["source"] and not differs["mic"] and bool(before.mic),
    )


def _folded(names: Sequence[str]) -> set[str]:
    return {name.casefold() for name in names}


def _box(name: str, before: Box | None, after: Box | None, changes: tuple[SocketChange, ...]) -> BoxChange:
    steps = []
    for step in STEPS:
        sockets = tuple(change for change in changes if step in _steps(change))
        if sockets:
            steps.append((step, sockets))
    touched = dict.fromkeys(change for _, sockets in steps for change in sockets)
    mute = {number for change in touched for side in (change.before, change.after) if side for number in side.channels}
    return BoxChange(
        name=name, before=before, after=after, sockets=changes, steps=tuple(steps), mute=tuple(sorted(mute))
    )


def _steps(change: SocketChange) -> set[str]:
    """What is done at a socket."""
    before, after = change.before, change.after
    found = set()
    powered = before is not None and before.phantom != "no"
    wanted = after is not None and after.phantom != "no"
    switched = (before.phantom if before else "no") != (after.phantom if after else "no")
    if powered and (change.is_replugged or switched):
        found.add("phantom-off")
    if wanted and (change.is_replugged or switched):
        found.add("phantom-on")
    if change.is_replugged:
        found |= {"unplug"} if before is not None else set()
        found |= {"plug"} if after is not None else set()
    if after is not None:
        # Nobody knows how a pad stands at a socket that was not in use.
        if after.pad if before is None else before.pad != after.pad:
            found.add("pad")
        was = before.gain if before is not None else None
        if after.gain is None:
            # A digital source has no preamp.
            found |= {"gain-unknown"} if change.is_replugged and after.input != "digital" else set()
        elif was is None or after.gain < was:
            found.add("gain-first")
        elif after.gain > was:
            found.add("gain-last")
    return found
