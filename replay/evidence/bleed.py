"""What a track hears of all others while its own source rests. Read from the histories of 100 ms alone.

An open microphone is never quiet while the stage is loud: what it hears of the others stands above the quiet room, and
rises and falls with them. A DI box, a line or a digital input hears nothing: where its source rests it lies at its own
noise however loud the stage is. So two figures tell a microphone from a direct line whatever plays into them.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from replay.ranks import median, percentiles

SOUNDING_DB = -25.0
"""A track within this of its own loud level plays."""

LOUD_SHARE = 0.4
LEAST_PLAYING = 3
"""The stage is loud where so many of the others (a share of them, and at least so many) play."""

LEAST_LOUD_HOPS, LEAST_QUIET_HOPS, LEAST_RESTING_HOPS = 50, 10, 20
RESTING_PERCENTILE = 2
LOWER_PERCENTILE = 30
"""Where a track's own source rests: its lowest moments while the stage is loud."""

LOUDEST = 3
DEEPEST_DB = -100.0
"""Below, no microphone lies: what a gate or a playback machine leaves of it is no room."""

LEAST_SPREAD_DB = 0.3


@dataclass(frozen=True)
class Bleed:
    """What a track hears at rest: `floor_db`, how far it stays above its level in a quiet room while the stage is loud;
    `follows`, how its lowest moments there rise and fall with the three tracks that they follow most (correlation of
    steps, -1 to 1; None where it lies still)."""

    floor_db: float
    follows: float | None


def at_rest(levels: np.ndarray, loud: np.ndarray) -> dict[int, Bleed]:
    """By row: what a track hears of the others. Rows that hold nothing, and takes without a quiet moment, are left out.

    Parameters
    ----------
    levels : float64 (tracks, hops) in dB re full scale squared; -inf for silence, NaN where the track is missing
    loud : float64 (tracks,), each track's loud level; -inf for tracks that hold nothing that could speak
    """
    rows = np.flatnonzero(np.isfinite(loud))
    if rows.size <= LEAST_PLAYING:
        return {}
    there = np.isfinite(levels[rows]) | np.isneginf(levels[rows])
    here = np.maximum(np.where(there, levels[rows], DEEPEST_DB), DEEPEST_DB)
    plays = here >= loud[rows, None] + SOUNDING_DB
    playing = plays.sum(axis=0)
    quiet = playing == 0
    if quiet.sum() < LEAST_QUIET_HOPS:
        return {}
    steps = np.diff(here, axis=1)
    needed = max(LEAST_PLAYING, (rows.size - 1) * LOUD_SHARE)
    found = {}
    for place, row in enumerate(rows):
        stage = (playing - plays[place] >= needed) & there[place]
        room = quiet & there[place]
        if stage.sum() < LEAST_LOUD_HOPS or room.sum() < LEAST_QUIET_HOPS:
            continue
        lowest, lower = percentiles(here[place, stage], RESTING_PERCENTILE, LOWER_PERCENTILE)
        resting = stage & (here[place] <= lower)
        floor = float(lowest - median(here[place, room]))
        found[int(row)] = Bleed(floor, _follows(steps, place, resting[1:] & resting[:-1]))
    return found


def _follows(steps: np.ndarray, place: int, at: np.ndarray) -> float | None:
    """The mean correlation of a row's steps with those of the rows that it follows most."""
    if at.sum() < LEAST_RESTING_HOPS:
        return None
    part = steps[:, at]
    part = part - part.mean(axis=1, keepdims=True)
    spread = np.sqrt(np.einsum("ij,ij->i", part, part))
    still = spread < LEAST_SPREAD_DB * np.sqrt(part.shape[1])
    if still[place]:
        return None
    products = np.einsum("ij,j->i", part, part[place])
    others = ~still
    others[place] = False
    if not others.any():
        return None
    return float(np.sort(products[others] / (spread[others] * spread[place]))[-LOUDEST:].mean())
