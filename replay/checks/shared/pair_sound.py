"""Declared pairs whose sound was compared: shared by the checks on polarity and on time."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from replay.desk.model import ChannelView, Show
from replay.evidence.model import Likeness

LEAST_HEIGHT = 0.5
"""The two sides have so much in common at the best delay, or nothing can be said of them."""

LEAST_AGREEING = 0.7
LEAST_MOMENTS = 4


@dataclass(frozen=True)
class PairSound:
    """Both sides, and how `right` compares with `left`: `lag_s` later, `opposed` after the desk's polarity switches."""

    left: ChannelView
    right: ChannelView
    pairing: str
    lag_s: float
    opposed: bool
    height: float
    gain_db: float
    sure: bool


def compared(show: Show) -> Iterator[PairSound]:
    """Every declared pair whose sides can be compared."""
    moved = {number for one in show.mapping.misplaced for number in (*one.channels, *one.perhaps)}
    for pair in show.pairs:
        left, right = show.view(pair.left), show.view(pair.right)
        if left.track is None or right.track is None or moved & {pair.left, pair.right}:
            continue
        a, b = left.track.track.number, right.track.track.number
        one = show.evidence.likeness.get((min(a, b), max(a, b)))
        if one is None or a == b:
            continue
        yield PairSound(
            left=left,
            right=right,
            pairing=pair.pairing,
            lag_s=one.lag_s if a < b else -one.lag_s,
            opposed=one.inverted != (left.channel.inverted != right.channel.inverted),
            height=one.height,
            gain_db=one.gain_db if a < b else -one.gain_db,
            sure=_is_sure(one),
        )


def _is_sure(one: Likeness) -> bool:
    enough = one.moments >= max(LEAST_MOMENTS, LEAST_AGREEING * one.asked)
    return enough and one.height >= LEAST_HEIGHT
