"""The patch definition as frozen records: what is connected to what, and how the desk is set.

Conventions: sockets, slots and channels count from 1; gains, trims, pads and levels are in dB; times in seconds.
Nothing here reads a file or knows about audio.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import NamedTuple

USES = ("must", "may", "off")
INPUTS = ("mic", "di", "line", "rf", "digital")
PHANTOMS = ("yes", "no", "elsewhere", "unknown")
PAIRINGS = ("stereo", "one-source", "spaced")
OF = ("soundcheck", "line-check", "show")
GAINS = ("ours", "monitors", "shared")
POINTS = ("preamp", "after-trim")


class Slot(NamedTuple):
    """One channel of a link. Unnamed links do not exist; the link's name is printed only where there are several."""

    link: str
    number: int


class Socket(NamedTuple):
    """One input of a box."""

    box: str
    number: int

    def __str__(self) -> str:
        return f"{self.box} {self.number}"


@dataclass(frozen=True, kw_only=True)
class Range:
    """A range of settings in dB: `min`, `max` and the `step` between settings."""

    min: float
    max: float
    step: float


@dataclass(frozen=True, kw_only=True)
class Box:
    """A stage box, or the desk's local inputs (a box that no feed carries).

    `gains` says whose the preamps are: `ours`, `monitors` (ask them) or `shared`. `compensated` is true where the
    system keeps each desk's level by itself when a preamp is turned. `pad` is its attenuation in dB (positive), None
    where it has none. `full_scale_dbu` is the input level that reaches 0 dBFS at minimum gain, where known.
    """

    name: str
    sockets: int
    gain: Range | None = None
    pad: float | None = None
    gains: str = "ours"
    compensated: bool = False
    full_scale_dbu: float | None = None


@dataclass(frozen=True, kw_only=True)
class Link:
    """A multichannel connection to a recorder. `slots` counts its channels at the patch's rate.

    `first_track` is the take's track number recorded from slot 1 (links count on from each other by default).
    """

    name: str
    slots: int
    first_track: int


@dataclass(frozen=True, kw_only=True)
class Feed:
    """The recording feed of a run of sockets of one box, or of desk channels (`box` None), onto slots of a link.

    `sources[i]` (a socket or channel number) goes to `slots[i]`. `point` is where the signal is taken: `preamp` or
    `after-trim`.
    """

    box: str | None
    link: str
    sources: tuple[int, ...]
    slots: tuple[int, ...]
    point: str = "preamp"


@dataclass(frozen=True, kw_only=True)
class Bus:
    """A sum of channels whose headroom is checked against `ceiling` (dBTP)."""

    name: str
    ceiling: float = -3.0


@dataclass(frozen=True, kw_only=True)
class Kind:
    """What a kind of source implies: the expected `rise` from soundcheck to show in dB (common practice, no source),
    whether a low level is told (`judges_low`), whether raising may be advised (`may_raise`). `most_rise` is the rise
    that a raise must leave room for, where it is more than `rise`: what the source is, nobody said."""

    name: str
    rise: float
    judges_low: bool = True
    may_raise: bool = True
    most_rise: float | None = None


@dataclass(frozen=True, kw_only=True)
class Send:
    """A channel's contribution to a bus at `level` dB."""

    bus: str
    level: float


@dataclass(frozen=True, kw_only=True)
class Channel:
    """One modeled input channel of the desk.

    `playback` is the slot that feeds the channel on playback (the `return` column), or "live" or "none"; None where
    the list leaves it out (then it is the recorded slot). `pair` is the partner's channel number. `gain` None: not
    stated. `line` is the line of the input list that made this channel.
    """

    number: int
    name: str
    kind: str = "other"
    use: str = "must"
    input: str = "mic"
    mic: str = ""
    socket: Socket | None = None
    gain: float | None = None
    pad: bool = False
    phantom: str = "no"
    trim: float = 0.0
    inverted: bool = False
    polarity_stated: bool = False
    pair: int | None = None
    pairing: str | None = None
    playback: Slot | str | None = None
    sends: tuple[Send, ...] = ()
    note: str = ""
    line: int = 0


@dataclass(frozen=True, kw_only=True)
class TakeChoice:
    """Which take the patch means and how it is judged.

    `tracks` places files on slots by name where track numbers cannot be told: file name -> slot.
    """

    folder: str | None = None
    of: str = "soundcheck"
    from_s: float | None = None
    to_s: float | None = None
    tracks: Mapping[str, Slot] = field(default_factory=dict)


@dataclass(frozen=True, kw_only=True)
class LineCheckPlan:
    """When the line check was, in seconds, and the channels in the order in which it went (the list's where empty)."""

    from_s: float | None = None
    to_s: float | None = None
    order: tuple[int, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Headroom:
    """Targets in dBTP; common practice, no source. `show_peak` is what a channel should reach in the show."""

    show_peak: float = -6.0


@dataclass(frozen=True, kw_only=True)
class Desk:
    """The modeled desk: the range of its digital trim, in dB."""

    trim: Range = Range(min=-40.0, max=20.0, step=0.1)


@dataclass(frozen=True, kw_only=True)
class House:
    """A patch that another extends: its file, and how that is shown (as the patches name it, one after the other)."""

    path: Path
    called: str


@dataclass(frozen=True, kw_only=True)
class Patch:
    """A whole patch definition, valid as a record: every name it mentions exists, every number is in range.

    `limits` holds what the `[limits]` table says, as written; the checks own the names and validate them.
    `limits_in` says in which file (as it is shown) each of them stands.
    `told` are remarks that do not prevent use (shown by `routes`). `houses` are the patches that this one extends, the
    nearest first, `house_inputs` the lists of channels that every act of a house has.
    """

    title: str
    path: Path
    folder: Path
    rate: int | None
    inputs_path: Path
    take: TakeChoice
    headroom: Headroom
    desk: Desk
    kinds: Mapping[str, Kind]
    boxes: tuple[Box, ...]
    links: tuple[Link, ...]
    feeds: tuple[Feed, ...]
    buses: tuple[Bus, ...]
    channels: tuple[Channel, ...]
    limits: Mapping[str, float] = field(default_factory=dict)
    told: tuple[str, ...] = ()
    line_check: LineCheckPlan | None = None
    houses: tuple[House, ...] = ()
    house_inputs: tuple[Path, ...] = ()
    limits_in: Mapping[str, str] = field(default_factory=dict)

    @property
    def files(self) -> tuple[Path, ...]:
        """Every file that the definition was read from."""
        return (self.path, self.inputs_path, *(house.path for house in self.houses), *self.house_inputs)

    def box(self, name: str) -> Box:
        """The box of that name; KeyError if there is none."""
        return next((box for box in self.boxes if box.name == name), None) or _missing(name)

    def channel(self, number: int) -> Channel:
        """The channel of that number; KeyError if there is none."""
        return next((channel for channel in self.channels if channel.number == number), None) or _missing(number)


def _missing(name: object):
    raise KeyError(name)
