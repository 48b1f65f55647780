"""Who hears a sound first: a microphone close to its source, or one that stands off and hears the whole stage. Pure.

In a closely miked group every source is loudest and earliest on its own track; the overheads of a drum kit hear it
later by their distance. Where a channel of the first kind has the later track and one of the second the earlier, they
may have been exchanged.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from replay.evidence.model import Likeness
from replay.patch.model import Channel

CLOSE = ("kick", "snare", "tom", "hi-hat")
OPEN = ("overhead",)
"""One group, the drum kit: a tambourine on the other side of the stage does hear the kit after the overheads."""

SURE_S = 0.0005
"""Half a millisecond is 17 cm: less says nothing about who stands nearer."""

AGREEING, LEAST_HEIGHT = 0.5, 0.2
"""Of the moments compared, so many must agree on the delay, and at so high a correlation."""

PRICE, MOST = 2.0, 4.0
"""What one pair of tracks in the wrong order costs, and all together: they are not independent of each other."""


def stands(channel: Channel | None) -> str:
    """`close` or `open` for a microphone that must be used and stands at its source or off it, else ``""``."""
    if channel is None or channel.input != "mic" or channel.use != "must":
        return ""
    return "open" if channel.kind in OPEN else "close" if channel.kind in CLOSE else ""


def firsts(likeness: Mapping[tuple[int, int], Likeness], row_of: Mapping[int, int]) -> tuple[tuple[int, int], ...]:
    """(row that hears first, row that hears later) of the pairs of tracks of which that is sure."""
    found = []
    for one in likeness.values():
        if one.a not in row_of or one.b not in row_of or abs(one.lag_s) < SURE_S:
            continue
        if one.moments < AGREEING * one.asked or one.height < LEAST_HEIGHT:
            continue
        a, b = row_of[one.a], row_of[one.b]
        found.append((a, b) if one.lag_s > 0 else (b, a))
    return tuple(found)


def price(pairs: Sequence[tuple[int, int]], standing: Sequence[str], source: Mapping[int, int]) -> float:
    """What it costs that open microphones hear before close ones. `source`: place of a channel -> place of the track
    that holds its source, where that is not its own."""
    holds = {track: channel for channel, track in source.items()}
    wrong = 0
    for first, later in pairs:
        here = holds.get(first, None if first in source else first)
        there = holds.get(later, None if later in source else later)
        wrong += here is not None and there is not None and standing[here] == "open" and standing[there] == "close"
    return min(PRICE * wrong, MOST)
