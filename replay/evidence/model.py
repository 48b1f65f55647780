"""All evidence of one take, as frozen records by track number. Knows no patch."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from replay.evidence.bleed import Bleed
from replay.evidence.click_track import ClickTrack
from replay.evidence.others import Mix
from replay.evidence.sound import Sound
from replay.evidence.speaking import LineCheck


@dataclass(frozen=True)
class Likeness:
    """Two tracks held against each other, in the moments when both sound.

    `lag_s` is how much later `b` hears what both hear, `gain_db` how much louder `b` has it, `inverted` whether its
    polarity is the other one, `height` the peak of their normalised correlation (0 to 1), `residual_db` what is left
    of `b` after the best gain and lag are taken off (None where that was not asked), `moments` how many agreed on lag
    and polarity out of how many that were `asked`.
    """

    a: int
    b: int
    lag_s: float
    gain_db: float
    inverted: bool
    height: float
    residual_db: float | None
    moments: int
    asked: int


@dataclass(frozen=True)
class Evidence:
    """What was seen. `together[(a, b)]`, a < b, is how alike the rise and fall of two tracks is (-1 to 1), for pairs
    that sound; `silent` are tracks that hold nothing that could speak; `bleed` is what a track hears of the others;
    `mixes` how near each track comes to a fixed mix of the others; `clicks` are tracks that hold a click."""

    tracks: tuple[int, ...]
    line_check: LineCheck | None
    sounds: Mapping[int, Sound]
    together: Mapping[tuple[int, int], float] = field(default_factory=dict)
    likeness: Mapping[tuple[int, int], Likeness] = field(default_factory=dict)
    silent: frozenset[int] = frozenset()
    bleed: Mapping[int, Bleed] = field(default_factory=dict)
    mixes: Mapping[int, Mix] = field(default_factory=dict)
    clicks: Mapping[int, ClickTrack] = field(default_factory=dict)

    def alike(self, a: int, b: int) -> float | None:
        """How alike the rise and fall of two tracks is; None where one of them does not sound."""
        return self.together.get((min(a, b), max(a, b)))


NOTHING = Evidence((), None, {})
