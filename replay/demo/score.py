"""The score: events in time, dice that fall alike everywhere, chords and scales.

Conventions: times in seconds on the take's clock; scale steps count from 0 at the key's note, seven to the octave.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple, TypeVar

import numpy as np

from replay.demo.sound import RATE, key

T = TypeVar("T")

MAJOR = (0, 2, 4, 5, 7, 9, 11)


class Event(NamedTuple):
    """`make(*args)` sounds at frame `start` on `source`, `level` times as loud as it is made."""

    start: int
    source: str
    make: Callable[..., np.ndarray]
    args: tuple
    level: float


class Dice:
    """Chance from a seed. Only `random()` is used, whose sequence Python promises to keep."""

    def __init__(self, *seed: object) -> None:
        self._random = random.Random(key(*seed))

    def between(self, low: float, high: float) -> float:
        """A number from `low` to `high`."""
        return low + (high - low) * self._random.random()

    def pick(self, things: Sequence[T]) -> T:
        """One of the things."""
        return things[int(self._random.random() * len(things))]

    def happens(self, chance: float) -> bool:
        """True with this probability."""
        return self._random.random() < chance


@dataclass
class Score:
    """Events as they are written down; players are a few milliseconds early or late and not always equally loud."""

    dice: Dice
    events: list[Event] = field(default_factory=list)

    def play(
        self,
        source: str,
        at: float,
        make: Callable[..., np.ndarray],
        *args: object,
        level: float = 1.0,
        loose: float = 0.004,
    ) -> None:
        """Write down one sound, at most `loose` seconds early or late."""
        at += self.dice.between(-loose, loose)
        level = round(level * (self.dice.between(0.82, 1.0) if loose else 1.0), 6)
        self.events.append(Event(max(0, round(at * RATE)), source, make, args, level))

    def exact(self, source: str, at: float, make: Callable[..., np.ndarray], *args: object, level: float = 1.0) -> None:
        """Write down one sound of a machine."""
        self.events.append(Event(max(0, round(at * RATE)), source, make, args, round(level, 6)))


def frames(seconds: float) -> int:
    """Seconds in whole frames."""
    return round(seconds * RATE)


def step(tonic: int, degree: int) -> int:
    """The note number of a scale step above `tonic`."""
    return tonic + 12 * (degree // 7) + MAJOR[degree % 7]


def into(note: int, lowest: int) -> int:
    """The same note in the octave that starts at `lowest`."""
    return lowest + (note - lowest) % 12


def chord(tonic: int, degree: int, lowest: int) -> tuple[int, ...]:
    """The three notes of the chord on a scale step, in the octave that starts at `lowest`, lowest first."""
    return tuple(sorted(into(step(tonic, degree + third), lowest) for third in (0, 2, 4)))


def melody(dice: Dice, chords: Sequence[int], per_bar: int, strong: int) -> list[int]:
    """A tune: a scale step for each of `per_bar` places a bar, a chord's tone at every `strong`-th of them."""
    here = chords[0] % 7
    line = []
    for degree in chords:
        for place in range(per_bar):
            if place % strong == 0:
                tones = [degree % 7 + third + octave for third in (0, 2, 4) for octave in (-7, 0, 7)]
                near = sorted((tone for tone in tones if -2 <= tone <= 9), key=lambda tone: (abs(tone - here), tone))
                here = near[1] if dice.happens(0.35) else near[0]
            else:
                here = min(9, max(-2, here + dice.pick((-1, 1, -1, 1, 2, -2))))
            line.append(here)
    return line
