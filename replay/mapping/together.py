"""Declared pairs: what it costs that two sides do not rise and fall together. Pure."""

from __future__ import annotations

from collections.abc import Mapping

from replay.mapping.hypotheses import LOST
from replay.mapping.places import Places

PAIR_APART = 3.0
TOGETHER, APART = 0.85, 0.45
CLOSER, FAR_CLOSER = 0.02, 0.12
"""A pair is apart where its sides do not rise and fall together, or where another track goes with one of them as sides
do, and so much closer: in the bands on which the limits were chosen, each side goes closest with the other."""


class Pairs:
    """The declared pairs of a list, and how alike the tracks rise and fall."""

    def __init__(self, places: Places) -> None:
        self.pairs = places.pairs
        # Plain lists: thousands of hypotheses ask for single figures.
        self._together = places.together.tolist()
        self._company = [
            sorted(((alike, other) for other, alike in enumerate(row) if alike == alike), reverse=True)[:2]
            for row in self._together
        ]
        self._apart: dict[tuple[int, int], float] = {}

    def price(self, source: Mapping[int, int]) -> float:
        """What all pairs cost. `source`: place of a channel -> place of the track that holds its source, or LOST, where
        that is not its own."""
        return sum(self.of(a, b, weight, source) for a, b, weight in self.pairs)

    def by_place(self, count: int, source: Mapping[int, int]) -> list[float]:
        """What the pairs that a place belongs to cost."""
        lost = [0.0] * count
        for a, b, weight in self.pairs:
            price = self.of(a, b, weight, source)
            lost[a] += price
            lost[b] += price
        return lost

    def of(self, a: int, b: int, weight: float, source: Mapping[int, int]) -> float:
        """The price of a pair whose sides do not rise and fall together."""
        here, there = source.get(a, a), source.get(b, b)
        if LOST in (here, there):
            # Nobody knows whether it would rise and fall with the other: half the price.
            return weight * PAIR_APART / 2
        if (here, there) not in self._apart:
            self._apart[here, there] = self._how_far(here, there)
        return weight * PAIR_APART * self._apart[here, there]

    def _how_far(self, here: int, there: int) -> float:
        """How sure it is that two tracks are no sides of a pair: 0 to 1."""
        alike = self._together[here][there]
        if alike != alike:  # not told
            return 0.0
        apart = (TOGETHER - alike) / (TOGETHER - APART)
        closest = max(self._closest(here, there), self._closest(there, here))
        if closest >= TOGETHER:
            apart = max(apart, (closest - alike - CLOSER) / (FAR_CLOSER - CLOSER))
        return min(max(apart, 0.0), 1.0)

    def _closest(self, row: int, but: int) -> float:
        """How closely the track that goes closest with a row's does, `but` for one."""
        return next((alike for alike, other in self._company[row] if other != but), -1.0)
