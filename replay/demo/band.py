"""The input list of Mill Yard, a barn-dance evening that does not exist: what is plugged where, and who plays it.

A channel's `track` says what the recorder gets from it; channels whose socket no feed carries have none. What is wrong
on purpose is marked PLANTED.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from replay.demo.stage import Track


@dataclass(frozen=True, kw_only=True)
class Line:
    """A line of the input list, with the columns' names."""

    name: str
    kind: str
    box: str
    socket: int
    use: str = "must"
    input: str = "mic"
    mic: str = ""
    gain: int | None = None
    phantom: str = "no"
    trim: float = 0.0
    polarity: str = ""
    pair: int | None = None
    pairing: str = ""
    bus: str = ""
    note: str = ""
    track: Track | None = None


_ON_TRACK = ("at", "near", "above", "rejects", "wall", "dead", "behind")
"""Keys of `Track`; the others that follow a line are keys of `Line`."""

Own = str | tuple[tuple[str, float], ...]


def _line(where: str, name: str, kind: str, gain: int | None, peak: float, own: Own, **more: Any) -> Line:
    """A recorded line: box and socket, what it is, its preamp's gain, where its peaks lie, and whom it hears."""
    box, socket = where.split()
    sources = ((own, 0.0),) if isinstance(own, str) else own
    heard = {key: more.pop(key) for key in _ON_TRACK if key in more}
    noisy = None if more.pop("machine", False) else (gain or 0)
    track = Track(name=name, peak=peak, own=sources, gain=noisy, **heard)
    return Line(name=name, box=box, socket=int(socket), kind=kind, gain=gain, track=track, **more)


def _pair(partner: int, pairing: str) -> dict[str, Any]:
    return {"pair": partner, "pairing": pairing}


DYNAMIC: dict[str, Any] = {"mic": "moving coil", "rejects": 9}
CAPACITOR: dict[str, Any] = {"mic": "small capacitor", "phantom": "yes", "rejects": 9}
CLIP_ON: dict[str, Any] = {"mic": "clip-on capacitor", "phantom": "yes", "rejects": 9}
VOICE: dict[str, Any] = {**DYNAMIC, "near": 0.04}
HEADSET: dict[str, Any] = {"mic": "headset", "input": "rf", "near": 0.04, "rejects": 9, "at": (3.4, 0.15)}
HANGING: dict[str, Any] = {**CAPACITOR, "near": 1.0, "above": 0.9, "rejects": 1}
ROOM: dict[str, Any] = {**CAPACITOR, "rejects": 0, "wall": True}
ACTIVE_DI: dict[str, Any] = {"input": "di", "phantom": "yes"}
PASSIVE_DI: dict[str, Any] = {"input": "di"}
MACHINE: dict[str, Any] = {"input": "line", "machine": True}


def evening() -> tuple[Line, ...]:
    """The nine-piece band, the caller, the playback: channels 1 to 35 in order."""
    top, under = (("snare", 0.0), ("wires", 0.0)), (("wires", 6.0), ("snare", -8.0))
    left, right = "accordion-treble", "accordion-bass"
    return (
        _line("deck 1", "Kick", "kick", 24, -10, "kick", at=(0.0, 2.8), near=0.08, bus="main:-3",
              **DYNAMIC | {"mic": "large moving coil"}),
        # PLANTED: the preamp is 15 dB too hot, so the drum clips.
        _line("deck 2", "Snare top", "snare", 41, 5, top, at=(0.35, 3.3), near=0.06, polarity="normal", bus="main:-5",
              **DYNAMIC | {"rejects": 6}, **_pair(3, "one-source")),
        _line("deck 3", "Snare bottom", "snare", 28, -12.5, under, at=(0.35, 3.5), near=0.07, behind=("snare",),
              polarity="inverted", bus="main:-11", **CAPACITOR | {"rejects": 6}, **_pair(2, "one-source")),
        _line("deck 4", "Hi-hat", "hi-hat", 32, -11, "hat", at=(0.95, 3.5), near=0.1, bus="main:-11", **CAPACITOR),
        _line("deck 5", "Tom high", "tom", 26, -10, "tom-high", at=(0.1, 3.3), near=0.06, bus="main:-5", **DYNAMIC),
        _line("deck 6", "Tom low", "tom", 25, -10, "tom-low", at=(-0.6, 3.45), near=0.06, bus="main:-5", **DYNAMIC),
        _line("deck 7", "Overhead L", "overhead", 34, -17, "cymbals", at=(-0.5, 3.7), bus="main:-9", **HANGING,
              **_pair(8, "stereo")),
        _line("deck 8", "Overhead R", "overhead", 34, -17, "cymbals", at=(0.6, 3.8), bus="main:-9",
              **HANGING | {"near": 1.05}, **_pair(7, "stereo")),
        _line("deck 9", "Bass DI", "bass", 18, -10, "bass", bus="main:-1", **ACTIVE_DI, **_pair(10, "one-source")),
        _line("deck 10", "Bass mic", "bass", 27, -11, "bass-amp", at=(-1.6, 2.4), near=0.15, bus="main:-7",
              **DYNAMIC | {"rejects": 6}, **_pair(9, "one-source")),
        _line("deck 11", "Acoustic guitar", "acoustic", 20, -13, "acoustic", bus="main:-3 wedge1:-14", **ACTIVE_DI),
        # PLANTED: hot. It does not clip yet, but it will in the show.
        _line("deck 12", "Electric guitar", "guitar", 38, -2, "electric", at=(1.9, 2.2), near=0.08, bus="main:-9",
              **DYNAMIC),
        _line("deck 13", "Accordion L", "keys", 36, -14, left, at=(-2.1, 1.5), near=0.06, bus="main:-2",
              note="right hand", **CLIP_ON, **_pair(14, "spaced")),
        _line("deck 14", "Accordion R", "keys", 36, -14, right, at=(-2.5, 1.5), near=0.06, bus="main:-3",
              note="left hand", **CLIP_ON, **_pair(13, "spaced")),
        _line("deck 15", "Fiddle 1", "strings", 38, -14, "fiddle-1", at=(-0.8, 0.95), near=0.04, trim=2,
              bus="main:-1 wedge1:-12", **CLIP_ON),
        # PLANTED: low. The preamp was never turned up.
        _line("deck 16", "Fiddle 2", "strings", 8, -45, "fiddle-2", at=(-1.5, 0.85), near=0.04, bus="main:-1",
              **CLIP_ON),
        _line("deck 17", "Whistle", "woodwind", 36, -14, "whistle", at=(0.9, 0.9), near=0.06, bus="main:-2", **DYNAMIC),
        _line("deck 18", "Trumpet", "brass", 24, -15, "trumpet", at=(2.2, 1.0), near=0.25, bus="main:-3",
              **DYNAMIC | {"rejects": 6}),
        _line("deck 19", "Trombone", "brass", 25, -15, "trombone", at=(2.8, 1.1), near=0.25, bus="main:-3",
              **DYNAMIC | {"rejects": 6}),
        _line("deck 20", "Lead vocal 1", "vocal", 38, -15, "voice-1", at=(0.2, 0.45), bus="main:3 wedge1:-8",
              note="sings and plays the guitars", **VOICE),
        # PLANTED: dead. The preamp is alive, the microphone or its cable is not.
        _line("deck 21", "Lead vocal 2", "vocal", 40, -15, "voice-2", at=(-0.8, 0.45), dead=True, bus="main:3",
              note="sings and plays fiddle 1", **VOICE),
        _line("deck 22", "Backing 1", "backing", 37, -14, "backing-1", at=(-1.6, 1.95), bus="main:-1",
              note="plays the bass", **VOICE),
        # Rightly silent: nothing is plugged in.
        _line("deck 23", "Spare", "other", 0, -12, (), use="may"),
        # Rightly silent: a receiver that is switched off sends digital zeros.
        _line("deck 24", "Guest radio", "vocal", None, -12, (), use="may", input="digital", machine=True),
        _line("riser 1", "Keys L", "keys", 14, -14, "keys-left", bus="main:-5", **PASSIVE_DI, **_pair(26, "stereo")),
        _line("riser 2", "Keys R", "keys", 14, -14, "keys-right", bus="main:-5", **PASSIVE_DI, **_pair(25, "stereo")),
        _line("riser 3", "Caller", "speech", 10, -15, "caller", bus="main:3", note="calls the dances", **HEADSET),
        _line("riser 4", "Playback L", "playback", 6, -9.5, "playback-left", bus="main:-11", **MACHINE,
              **_pair(29, "stereo")),
        _line("riser 5", "Playback R", "playback", 6, -9.5, "playback-right", bus="main:-11", **MACHINE,
              **_pair(28, "stereo")),
        _line("riser 6", "Click", "click", 6, -8.5, "click", note="to the drummer's ears only", **MACHINE),
        _line("riser 7", "Room L", "ambience", 30, -21.5, (), at=(-3.5, -4.5), **ROOM, **_pair(32, "spaced")),
        _line("riser 8", "Room R", "ambience", 30, -21.5, (), at=(3.5, -4.5), **ROOM, **_pair(31, "spaced")),
        # PLANTED: plugged into sockets that no feed carries.
        Line(name="Mandolin", kind="acoustic", box="riser", socket=9, gain=20, input="di", phantom="yes", bus="main:-3",
             note="plays fiddle 2"),
        Line(name="Backing 2", kind="backing", box="riser", socket=10, gain=37, mic="moving coil", bus="main:-1",
             note="plays the accordion and keys"),
        Line(name="Talkback", kind="talkback", box="riser", socket=11, gain=30, mic="moving coil", use="may"),
    )  # fmt: skip


def opening_trio() -> tuple[Line, ...]:
    """The three who open the evening, and the caller: the pocket show's channels in order."""
    left, right = "accordion-treble", "accordion-bass"
    return (
        # PLANTED: the preamp is too hot, so the fiddle clips.
        _line("deck 1", "Fiddle", "strings", 50, 1.2, "fiddle-1", at=(-0.8, 0.95), near=0.04, **CLIP_ON),
        _line("deck 2", "Accordion L", "keys", 36, -14, left, at=(-2.1, 1.5), near=0.06, note="right hand", **CLIP_ON,
              **_pair(3, "spaced")),
        _line("deck 3", "Accordion R", "keys", 36, -14, right, at=(-2.5, 1.5), near=0.06, note="left hand", **CLIP_ON,
              **_pair(2, "spaced")),
        _line("deck 4", "Bass DI", "bass", 18, -10, "bass", **ACTIVE_DI, **_pair(5, "one-source")),
        _line("deck 5", "Bass mic", "bass", 27, -11, "bass-amp", at=(-1.6, 2.4), near=0.15, **DYNAMIC,
              **_pair(4, "one-source")),
        _line("deck 6", "Fiddle vocal", "vocal", 38, -15, "voice-1", at=(-0.8, 0.45),
              note="sings and plays the fiddle", **VOICE),
        # PLANTED: dead. The preamp is alive, the microphone or its cable is not.
        _line("deck 7", "Accordion vocal", "backing", 38, -14, "backing-1", at=(-2.3, 1.05), dead=True, **VOICE),
        _line("deck 8", "Caller", "speech", 10, -15, "caller", note="calls the dances", **HEADSET),
        # PLANTED: hot.
        _line("deck 9", "Stomp board", "percussion", 34, -1, "stomp", at=(-2.3, 0.95), near=0.05,
              note="the accordionist's left foot", **CAPACITOR),
        # Rightly silent: nothing is plugged in.
        _line("deck 10", "Spare", "other", 0, -12, (), use="may"),
        # PLANTED: plugged into a socket that no feed carries.
        Line(name="Raffle mic", kind="speech", box="deck", socket=12, gain=32, mic="moving coil",
             note="for the interval"),
    )  # fmt: skip
