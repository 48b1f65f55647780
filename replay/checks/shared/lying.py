"""Whose source lies on a track, where sources are told to lie on each other's."""

from __future__ import annotations

from collections.abc import Iterator

from replay.desk.model import ChannelView, Show
from replay.mapping.by_ear import voices
from replay.mapping.model import Misplacement


def believed(show: Show) -> Iterator[Misplacement]:
    """What is told to lie elsewhere, and not denied by the engineer's ears."""
    fed_by = show.tracks_of_channels()
    return (one for one in show.mapping.misplaced if not voices(one, show.ear.answers, fed_by).denied)


def lying(show: Show) -> dict[int, tuple[ChannelView, ...]]:
    """By track, the channels whose sources are told to lie there; what the engineer's ears deny is left as patched."""
    lie: dict[int, tuple[ChannelView, ...]] = {}
    for one in believed(show):
        for number, track in one.sources.items():
            if track is not None:
                lie[track] = (*lie.get(track, ()), show.view(number))
    return lie
