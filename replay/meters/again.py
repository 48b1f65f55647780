"""Hops read again, to know their true peaks exactly.

The pass interpolates only what can matter for the whole take. A question about a part of it may need a few hops more.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from replay.grid import hop_start, hops_of
from replay.meters.true_peak import played
from replay.take.model import Track

AT_ONCE = 32


def reader(track: Track, rate: int) -> Callable[[Sequence[int]], np.ndarray]:
    """A function from hops to their true peaks (linear), reading the track's files."""

    def true_peaks(hops: Sequence[int]) -> np.ndarray:
        from replay.meters import peak, true_peak
        from replay.take.block import Block
        from replay.take.stream import Reader

        found = np.zeros(len(hops))
        out = {name: np.zeros(8) for name in ("high", "low", "true_peak", "true_peak_limit")}
        for place in np.argsort(hops):
            hop = int(hops[place])
            # Hops lie far apart: each is read with the one before it, on which its first interpolations rest.
            with Reader([track], rate, apart=2) as source:
                group, block = source.group([0]), Block(rate)
                if hop > 0:
                    group.fill(block, hop - 1)
                group.fill(block, hop)
            assert block.start == hop_start(hop, rate)
            peak.Meter(rate).feed(block, out)
            meter = true_peak.Meter(rate)
            meter.feed(block, out)
            if hop == hops_of(track.stop, rate) - 1:
                meter.end(block, out, np.ones(8, bool))
            found[place] = out["true_peak"][0]
        return found

    return true_peaks


def resolve(
    least: np.ndarray,
    most: np.ndarray,
    read_again: Callable[[Sequence[int]], np.ndarray],
    left_out: np.ndarray | None = None,
) -> np.ndarray:
    """Hop peaks from which the greatest and the played peak of a stretch can be read exactly.

    `least` and `most` (linear, one a hop) bound each hop's true peak. Hops whose upper bound exceeds the played peak
    found so far are read again, the highest first, until none does. `left_out` (bool, one a hop) are hops that the
    played peak does not count.
    """
    least, most = np.array(least), np.array(most)
    while True:
        floor = played(least if left_out is None else np.where(left_out, 0.0, least)) or 0.0
        open_hops = np.flatnonzero((most > least) & (most > floor))
        if len(open_hops) == 0:
            return least
        chosen = open_hops[np.argsort(-most[open_hops], kind="stable")[:AT_ONCE]]
        least[chosen] = np.maximum(least[chosen], read_again([int(hop) for hop in chosen]))
        most[chosen] = least[chosen]
