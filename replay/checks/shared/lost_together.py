"""What many tracks lost at the same instant: the recorder's or the link's, also on tracks that may rest by themselves.

One gap of a player, of a gated drum or of a digital source may be a rest of its own. Where tracks of three sources or
more stop hard at the same samples, for equally long, and go on as they were, none of them rests.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from replay.checks.shared.instants import LEAST_SOURCES, sources, together
from replay.checks.shared.lost import Lost, rests
from replay.desk.model import Show

TOGETHER = 64
"""Frames by which the beginnings may lie apart and be one event: links lose whole packets. The lengths of gaps that
count only together may differ by as much."""


def lost_together(show: Show, lost: Mapping[int, list[Lost]]) -> list[dict[int, Lost]]:
    """For each instant, in order of time, what each track lost there, by track number. `lost`: what each track tells by
    itself."""
    source = sources(show)
    resting = {track.track.number: rests(show, track, lost[track.track.number]) for track in show.tracks}
    broken = {number: found for number, (found, _) in resting.items()}
    every = {number: found for number, (_, found) in resting.items()}
    groups = _groups(lost, source, show.take.frames)
    known = [min(one.start for one in group.values()) for group in groups]
    both = {number: [*lost[number], *broken[number]] for number in lost}
    for group in _groups(both, source, show.take.frames):
        start = min(one.start for one in group.values())
        if any(abs(start - other) <= TOGETHER for other in known):
            continue
        middle = float(np.median([one.length for one in group.values()]))
        alike = {number: one for number, one in group.items() if abs(one.length - middle) <= TOGETHER}
        if len({source[number] for number in alike}) >= LEAST_SOURCES:
            groups.append(alike)
    for group in groups:
        _join(group, every)
    return sorted(groups, key=lambda group: min(one.start for one in group.values()))


def _groups(lost: Mapping[int, list[Lost]], source: Mapping[int, object], frames: int) -> list[dict[int, Lost]]:
    starts = {number: np.array([one.start for one in found], np.int64) for number, found in lost.items() if found}
    return [
        {
            number: next(one for one in lost[number] if 0 <= one.start - instant.frame <= TOGETHER)
            for number in instant.tracks
        }
        for instant in together(starts, source, TOGETHER, frames)
    ]


def _join(group: dict[int, Lost], every: Mapping[int, list[Lost]]) -> None:
    """Other tracks that stand still at the same time for as long as one of the group."""
    first = min(one.start for one in group.values())
    lengths = [one.length for one in group.values() if one.what != "repeat"]
    for number, found in every.items():
        for one in found:
            near = abs(one.start - first) <= TOGETHER
            if number not in group and near and any(abs(one.length - length) <= TOGETHER for length in lengths):
                group[number] = one
