"""What the whole take says about a moment: was the stage playing, and do its microphones hear one another?

Looked at track by track, so that memory does not grow with their number.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from replay.checks.shared.history import ZERO_DB, hop_levels
from replay.desk.model import TrackView
from replay.ranks import percentiles

LOUD_WITHIN = 20.0
"""A track plays where it is within this of its own loud moments (98th percentile of 100 ms levels), in dB."""

RANGE = 25.0
"""A track whose loud and quiet moments lie closer together tells nothing about when the stage plays, in dB."""

SMOOTH_HOPS = 11
"""Gaps between notes and hits are shorter than a second."""

SHARE_PLAYING = 1 / 3
LEAST_VOTES = 2

FLOOR_WITHIN = 3.0
FLOOR_SHARE = 0.15
"""A microphone that spends more than this share of the time, while the stage plays, within FLOOR_WITHIN dB of its
lowest level hears nothing of the others: bleed moves up and down by far more."""


@dataclass(frozen=True)
class Stage:
    """Votes of the tracks on when the stage plays: `votes[hop]` of `voters` tracks play there."""

    votes: np.ndarray
    voters: int

    def plays_without(self, own: np.ndarray | None) -> np.ndarray:
        """bool (hops,): whether the others play; `own` is the asking track's own vote, None where it has none."""
        votes, voters = self.votes, self.voters
        if own is not None:
            votes = votes.copy()
            votes[: own.size] -= own
            voters -= 1
        return (votes >= LEAST_VOTES) & (votes >= SHARE_PLAYING * voters)


def stage_of(tracks: Iterable[TrackView], hops: int) -> Stage:
    """Ask every track when it plays."""
    votes = np.zeros(hops, np.int32)
    voters = 0
    for track in tracks:
        own = vote(hop_levels(track.measurement, keep_zeros=True))
        if own is not None:
            votes[: own.size] += own
            voters += 1
    return Stage(votes, voters)


def vote(levels: np.ndarray) -> np.ndarray | None:
    """bool (hops,): where a track plays, gaps under half a second to either side bridged; None: it cannot tell."""
    sounding = levels[levels > ZERO_DB]
    if sounding.size < 100:
        return None
    quiet, loud = percentiles(sounding, 2, 98)
    if loud - quiet < RANGE:
        return None
    playing = np.nan_to_num(levels, nan=ZERO_DB) >= loud - LOUD_WITHIN
    return np.convolve(playing, np.ones(SMOOTH_HOPS, np.int32), "same") > 0


def hears_nothing(levels: np.ndarray, plays: np.ndarray) -> bool:
    """True where a track falls back to its own steady floor while the stage plays: no bleed reaches it."""
    there = levels[plays[: levels.size] & np.isfinite(levels)]
    if there.size < 100:
        return False
    floor = np.percentile(there, 2)
    return bool(np.mean(there <= floor + FLOOR_WITHIN) >= FLOOR_SHARE)
