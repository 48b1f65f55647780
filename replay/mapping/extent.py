"""How far a shift reaches: the channels that moved in any case, and those that may have moved too. Pure.

Where a shift begins in a row of like sources, nothing says; nor where it ends, if what lies behind a spare may hold
anything. Of beginnings and ends that explain nearly the same, what moves under all of them is told, and the channels
before and behind it are named as those that may have moved too.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from replay.mapping.hypotheses import LOST, Hypothesis
from replay.mapping.places import Places

NEARLY = 2.0
"""Odds of 7 to 1: hypotheses within that of the best explain nearly the same."""


@dataclass(frozen=True)
class Weighed:
    """A hypothesis with what it explains better than 'as patched', by kind of evidence, and the margin left after its
    price."""

    hypothesis: Hypothesis
    gains: Mapping[str, float]
    margin: float


@dataclass(frozen=True)
class Extent:
    """The places of a misplacement: `first` to `last` belong to it in any case; those from `begins` and up to `ends`
    may as well."""

    first: int
    last: int
    begins: int
    ends: int

    @property
    def open_before(self) -> bool:
        return self.begins < self.first

    @property
    def open_behind(self) -> bool:
        return self.ends > self.last

    def moved(self, hypothesis: Hypothesis) -> tuple[int, int]:
        """The first and the last place whose channel is told: what falls off an open end is not."""
        size = abs(hypothesis.by) if hypothesis.shape == "shift" else 0
        lost_before = size if hypothesis.by < 0 and self.open_before else 0
        lost_behind = size if hypothesis.by > 0 and self.open_behind else 0
        return self.first + lost_before, self.last - lost_behind


def reach(able: Sequence[Weighed], best: Weighed, places: Places) -> tuple[Weighed, Extent]:
    """What is told where `best` explains most of all that are `able`: of shifts, what moves in any case, but half of
    the best one at least."""
    hypothesis = best.hypothesis
    extent = Extent(first := min(hypothesis.places), last := max(hypothesis.places), first, last)
    if hypothesis.shape != "shift":
        return best, extent
    same = [
        one
        for one in able
        if (one.hypothesis.shape, one.hypothesis.by) == ("shift", hypothesis.by) and one.margin >= best.margin - NEARLY
    ]
    least, always = best, hypothesis.moved_along
    for one in sorted(same, key=lambda one: -one.margin):
        common = always & one.hypothesis.moved_along
        if 2 * len(common) < len(hypothesis.moved_along):
            continue
        always = common
        if len(one.hypothesis.source) < len(least.hypothesis.source):
            least = one
        here = one.hypothesis.places
        extent = Extent(
            max(extent.first, min(here)),
            min(extent.last, max(here)),
            min(extent.begins, min(here)),
            max(extent.ends, max(here)),
        )
    if not any(_holds_something(place, places) for place in range(extent.last + 1, extent.ends + 1)):
        extent = replace(extent, last=last, ends=last)
    return least, extent


def _holds_something(place: int, places: Places) -> bool:
    """Whether a place's channel has a source that could have moved; a spare has none."""
    return places.definite[place] or places.lost[place] < 0.0


def sources(hypothesis: Hypothesis, extent: Extent, places: Places) -> dict[int, int | None]:
    """Channel -> the track that holds its source (None: on none), as far as that is told."""
    first, last = extent.moved(hypothesis)
    open_ended = extent.open_before or extent.open_behind
    found: dict[int, int | None] = {}
    for channel, track in hypothesis.source.items():
        number = places.channels[channel]
        if number is None or track == channel or not first <= channel <= last:
            continue
        # What falls off comes round to the other end, or not: that depends on where that one is.
        nowhere = track == LOST or (open_ended and track != channel + hypothesis.by)
        found[number] = None if nowhere else places.tracks[track]
    return found


def perhaps(hypothesis: Hypothesis, extent: Extent, places: Places) -> tuple[tuple[int, ...], tuple[int, ...]]:
    """Channels before and behind those told that may have moved too."""
    first, last = extent.moved(hypothesis)
    before = tuple(number for number in places.channels[extent.begins : first] if number is not None)
    behind = tuple(
        number
        for place, number in enumerate(places.channels)
        if last < place <= extent.ends and number is not None and _holds_something(place, places)
    )
    return before, behind
