"""Whose source lies on a track, where sources are told to lie on each other's."""

from __future__ import annotations

from replay.desk.model import ChannelView, Show
from replay.mapping.by_ear import voices


def lying(show: Show) -> dict[int, tuple[ChannelView, ...]]:
    """By track, the channels whose sources are told to lie there; what the engineer's ears deny is left as patched."""
    fed_by = show.tracks_of_channels()
    lie: dict[int, tuple[ChannelView, ...]] = {}
    for one in show.mapping.misplaced:
        if voices(one, show.ear.answers, fed_by).denied:
            continue
        for number, track in one.sources.items():
            if track is not None:
                lie[track] = (*lie.get(track, ()), show.view(number))
    return lie
