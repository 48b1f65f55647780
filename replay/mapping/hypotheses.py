"""What can have gone wrong with the wiring: structured hypotheses only, each with its price.

A hypothesis says for every place of the list (a recorded slot, in order of track numbers) on which place's track the
source of its channel lies. Two plugs exchanged, everything from one socket on moved by one or two, two blocks of a box
exchanged, two pairs exchanged, three plugs in a ring: that is how people mispatch, and a list of single mismatches is
not. Pure.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations, pairwise

LOST = -1
"""The source was not recorded at all."""

PRICES = {"exchange": 2.0, "pairs": 2.0, "shift": 2.5, "block": 2.5, "cycle": 5.0}
"""Natural logarithms of odds that a hypothesis must overcome; common practice, no source: a ring of three is rarer."""

SHIFTS = (1, -1, 2, -2)
LEAST_SHIFTED = 3
MOST_SHIFTED = 128
"""What moves along together has gone through one box and one link: with a thousand tracks, all runs of all lengths are
too many to be weighed."""

BLOCKS = (4, 8, 16)


@dataclass(frozen=True)
class Hypothesis:
    """`source[c]` is the place whose track holds the source of place c's channel, or LOST; for all other places the
    source is on the place's own track. `empty` are places whose tracks then hold no channel's source."""

    shape: str
    source: dict[int, int]
    empty: tuple[int, ...] = ()
    by: int = 0

    @property
    def price(self) -> float:
        return PRICES[self.shape]

    @property
    def moved_along(self) -> frozenset[int]:
        """The places whose sources a shift moves along."""
        return frozenset(channel for channel, track in self.source.items() if track == channel + self.by)

    @property
    def places(self) -> frozenset[int]:
        return frozenset(self.source) | frozenset(self.empty)


def all_hypotheses(
    count: int, ends: Sequence[int], starts: Sequence[int], pairs: Sequence[tuple[int, int]]
) -> Iterator[Hypothesis]:
    """Every hypothesis but cycles.

    Parameters
    ----------
    count : places
    ends : places at which a shift may end: the last of a feed or box, and spares, which swallow it
    starts : places at which a feed begins: blocks are counted from there
    pairs : places of declared pairs
    """
    for i, j in combinations(range(count), 2):
        yield Hypothesis("exchange", {i: j, j: i})
    yield from _pairs(pairs)
    for by in SHIFTS:
        for first in range(count):
            for last in sorted(set(ends)):
                if LEAST_SHIFTED + abs(by) - 1 <= last - first + 1 <= MOST_SHIFTED and last < count:
                    yield from _shift(first, last, by)
    yield from _blocks(count, starts)


def cycles(places: Sequence[int]) -> Iterator[Hypothesis]:
    """Rings of three among some places, both ways round."""
    for i, j, k in combinations(places, 3):
        yield Hypothesis("cycle", {i: j, j: k, k: i})
        yield Hypothesis("cycle", {i: k, k: j, j: i})


def _pairs(pairs: Sequence[tuple[int, int]]) -> Iterator[Hypothesis]:
    for (a, b), (c, d) in combinations(pairs, 2):
        if len({a, b, c, d}) == 4:
            yield Hypothesis("pairs", {a: c, c: a, b: d, d: b})


def _shift(first: int, last: int, by: int) -> Iterator[Hypothesis]:
    """Sources of places first..last lie `by` places further on: what falls off is lost, or fills the gap."""
    size = abs(by)
    if by > 0:
        moved = {place: place + by for place in range(first, last - by + 1)}
        lost = list(range(last - by + 1, last + 1))
        empty = tuple(range(first, first + by))
    else:
        moved = {place: place + by for place in range(first + size, last + 1)}
        lost = list(range(first, first + size))
        empty = tuple(range(last - size + 1, last + 1))
    yield Hypothesis("shift", {**moved, **dict.fromkeys(lost, LOST)}, empty, by)
    yield Hypothesis("shift", {**moved, **dict(zip(lost, empty, strict=True))}, (), by)


def _blocks(count: int, starts: Sequence[int]) -> Iterator[Hypothesis]:
    """Two runs of four, eight or sixteen exchanged, counted from where a feed starts."""
    bounds = [*sorted(set(starts)), count]
    for size in BLOCKS:
        blocks = [place for low, high in pairwise(bounds) for place in range(low, high - size + 1, size)]
        for a, b in combinations(blocks, 2):
            if b - a >= size:
                source = {a + k: b + k for k in range(size)} | {b + k: a + k for k in range(size)}
                yield Hypothesis("block", source, by=size)
    # Two whole feeds in the other order, also where one is longer.
    for a, b, c in zip(bounds[:-2], bounds[1:-1], bounds[2:], strict=True):
        if min(b - a, c - b) >= 2 and b - a != c - b:
            source = {a + k: c - (b - a) + k for k in range(b - a)} | {b + k: a + k for k in range(c - b)}
            yield Hypothesis("block", source, by=b - a)
