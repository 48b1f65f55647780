"""The stage: where everybody stands, how loud they are, and what each microphone therefore hears.

A microphone hears its own source from close by and all others from across the stage, later (2.9 ms a metre) and
weaker (6 dB for each doubling of the distance, and what the microphone rejects from its sides). Lines and pickups
hear nothing but their own source.

Conventions: positions in metres, x to the right as the audience sees it, y away from the audience, the edge of the
stage at 0; levels in dB.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import NamedTuple

from replay.demo.sound import RATE
from replay.units import amplitude

DELAY = 2.914e-3
"""Seconds a metre at 20 degrees (343.2 m/s)."""

FAINTEST = -52.0
"""Bleed further than this under a track's own source is left out: the room's noise covers it."""

ROOM_NOISE = -46.0
"""RMS of the barn's own noise at every microphone, on the scale of `Player.loudness`."""


class Player(NamedTuple):
    """A source on the stage: where, and how loud at one metre (the drums are 0). The peaks of all sources are 1."""

    x: float
    y: float
    loudness: float


PLAYERS: dict[str, Player] = {
    "kick": Player(0.0, 2.9, 0),
    "snare": Player(0.35, 3.4, 0),
    "wires": Player(0.35, 3.4, -8),
    "hat": Player(0.75, 3.5, -12),
    "tom-high": Player(0.1, 3.35, -1),
    "tom-low": Player(-0.55, 3.5, -1),
    "cymbals": Player(0.1, 3.7, -4),
    "bass-amp": Player(-1.6, 2.6, -12),
    "electric": Player(1.9, 2.4, -9),
    "acoustic": Player(0.2, 0.6, -30),
    "accordion-treble": Player(-2.1, 1.6, -14),
    "accordion-bass": Player(-2.5, 1.6, -14),
    "fiddle-1": Player(-0.8, 1.0, -18),
    "fiddle-2": Player(-1.5, 0.9, -18),
    "mandolin": Player(-1.5, 0.7, -24),
    "whistle": Player(0.9, 1.0, -15),
    "trumpet": Player(2.2, 1.3, -5),
    "trombone": Player(2.8, 1.4, -5),
    "voice-1": Player(0.2, 0.5, -16),
    "voice-2": Player(-0.8, 0.5, -16),
    "backing-1": Player(-1.6, 2.0, -18),
    "backing-2": Player(-2.3, 1.1, -18),
    "caller": Player(3.4, 0.2, -14),
    "stomp": Player(-2.3, 1.0, -14),
    "dancers": Player(0.5, -6.0, -3),
}
"""Those who are heard through the air."""

SPEAKERS = ((-4.0, -0.5), (4.0, -0.5))
THROUGH_SPEAKERS: dict[str, float] = {
    "voice-1": -9, "backing-1": -12, "backing-2": -12, "caller": -9, "keys-left": -12,
    "keys-right": -12, "playback-left": -12, "playback-right": -12, "fiddle-1": -13, "whistle": -13,
}  # fmt: skip
"""What the loudspeakers of the barn add, as loudness at one metre of each."""

ROOM_REFLECTIONS = ((0.0113, -4.0), (0.0237, -7.0), (0.0391, -9.0), (0.0613, -13.0))
"""Walls and roof, heard by the room's microphones only: seconds after the direct sound, dB under it."""


class Tap(NamedTuple):
    """A source as a track gets it: `delay` in frames, `gain` linear."""

    source: str
    delay: int
    gain: float


@dataclass(frozen=True, kw_only=True)
class Track:
    """What one track of the take records.

    `peak` is where the recurring peaks of its own sources come to lie, in dBFS; above 0 they clip. `own` are those
    sources (with levels in dB among each other). `at` is where the microphone stands and `near` how far from its own
    source, in metres; no `at` means a cable. `rejects` is what it takes off sound from elsewhere. `gain` is the
    preamp's, which sets the noise beneath; None for what comes from a machine: no noise at all. `wall` marks a
    microphone that hears the walls too. `dead` microphones hear nothing. `behind` are sources that it hears from their
    other side: with inverted polarity.
    """

    name: str
    peak: float = -12.0
    own: tuple[tuple[str, float], ...] = ()
    at: tuple[float, float] | None = None
    near: float = 0.1
    above: float = 0.0
    rejects: float = 6.0
    gain: float | None = None
    wall: bool = False
    dead: bool = False
    behind: tuple[str, ...] = ()

    @property
    def noise(self) -> float:
        """RMS of the electronics in dBFS: converter, preamp (turned up by its gain), pickup or keyboard."""
        if self.gain is None:
            return -math.inf
        instrument = 10 ** (-96 / 10) if self.at is None and self.own else 0.0
        return 10 * math.log10(10 ** (-116 / 10) + 10 ** ((-134 + self.gain) / 10) + instrument)

    @property
    def room(self) -> float:
        """RMS of the barn's noise in dBFS."""
        if self.at is None or self.dead:
            return -math.inf
        return ROOM_NOISE + self.peak - self._reference()

    def _reference(self) -> float:
        """What its own source reaches at the microphone, on the scale of `Player.loudness`."""
        if not self.own:
            return -6.0  # a room microphone's: what all of the stage together reaches there, measured
        return max(PLAYERS[source].loudness + offset for source, offset in self.own) - 20 * math.log10(self.near)

    def taps(self) -> tuple[Tap, ...]:
        """All that the track hears."""
        if self.dead:
            return ()
        if self.at is None:
            return tuple(Tap(source, 0, _gain(self.peak + offset)) for source, offset in self.own)
        base = self.peak - self._reference()
        found = []
        own = dict(self.own)
        for source, player in PLAYERS.items():
            if source in own:
                distance, heard = self.near, player.loudness + own[source] - 20 * math.log10(self.near)
            else:
                distance = max(0.3, math.dist((*self.at, self.above), (player.x, player.y, 0.0)))
                heard = player.loudness - 20 * math.log10(distance) - self.rejects
            found.append((source, distance, base + heard))
        for x, y in SPEAKERS if self.wall else ():
            distance = math.dist(self.at, (x, y))
            for source, loudness in THROUGH_SPEAKERS.items():
                found.append((source, distance, base + loudness - 20 * math.log10(distance)))
        taps = []
        for source, distance, level in found:
            if level < self.peak + FAINTEST:
                continue
            delay = distance * DELAY
            sign = -1 if source in self.behind else 1
            taps.append(Tap(source, round(delay * RATE), sign * _gain(level)))
            if self.wall:
                taps += [
                    Tap(source, round((delay + later) * RATE), _gain(level + less)) for later, less in ROOM_REFLECTIONS
                ]
        return tuple(taps)


def _gain(level: float) -> float:
    return round(amplitude(level), 9)
