"""Which tracks are copies of each other, and whether that is meant: what `duplicate` tells, and advice has to know."""

from __future__ import annotations

from collections.abc import Iterator

from replay.checks.shared.lying import lying
from replay.checks.shared.place import views_of
from replay.desk.model import ChannelView, Show
from replay.evidence.model import Likeness

LEAST_MOMENTS = 4
"""A tom that is hit in a few bars only has no more; every one of them has to be a copy."""

ANYTHING = ("playback", "timecode", "click", "ambience")


def copies(show: Show) -> Iterator[tuple[Likeness, tuple[ChannelView, ...], tuple[ChannelView, ...]]]:
    """Two tracks that hold one signal, and the channels that each of them feeds."""
    tracks = {view.track.number: view for view in show.tracks}
    for one in show.evidence.likeness.values():
        if one.residual_db is None or one.residual_db > show.limit("duplicate_residual") or one.moments < one.asked:
            continue
        if one.a not in tracks or one.b not in tracks or one.asked < LEAST_MOMENTS:
            continue
        here, there = (views_of(show, tracks[number]) for number in (one.a, one.b))
        yield one, here, there


def natural(show: Show, one: Likeness, here: tuple[ChannelView, ...], there: tuple[ChannelView, ...]) -> bool:
    """Whether nothing is missing for it: an extra track, a pair that was mono, what need not be two signals. Where
    sources lie on each other's tracks, a mono pair is one wherever it was heard."""
    if not here or not there:
        return True
    lie = lying(show)
    return any(_belong(a, b) for a in lie.get(one.a, here) for b in lie.get(one.b, there))


def _belong(a: ChannelView, b: ChannelView) -> bool:
    """Declared pairs, one socket on two slots, and what need not be two signals."""
    if a.channel.pair == b.channel.number or b.channel.pair == a.channel.number:
        return True
    if a.channel.socket is not None and a.channel.socket == b.channel.socket:
        return True
    return a.channel.kind == b.channel.kind and a.channel.kind in ANYTHING
