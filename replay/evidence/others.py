"""Whether all that a track holds is what it hears of the others. Read from the histories of 100 ms alone.

What an open microphone hears of the stage is a fixed mix of the sources: as long as nobody moves it, its power over
time is a sum of the other tracks' powers, each at a weight that stays, and its own floor. A source of its own is in no
other track at such a weight: in its moments the track lies far above any such mix. So the mix that comes nearest is
sought (no weight below zero, by the relative error of each moment), and what is kept is how far it misses.

A second microphone on one source, a pair, and whatever hears the whole stage are mixes of the others by nature: `of`
says of which.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

LEAST_LEVEL_DB = -85.0
LEAST_RANGE_DB = 8.0
"""A track that is never louder, or whose loud moments hardly rise above its quiet ones, holds nothing to explain."""

QUIET_PERCENTILE = 10
LOUD_RANK = 5
WITHIN_DB = 20.0
"""Of a track's moments, those within this of its loud ones are held against the mix."""

LEAST_HOPS = 80
MOST_HOPS = 400
"""The mix is sought in so many moments, evenly over the take, and then held against all of them."""
HOPS_A_TRACK = 8
"""With fewer moments to every track, chance alone makes a mix of the others that fits."""

STEPS = 200
LEAST_SHARE = 0.05
HEARD_HOPS = 20
"""A source that was heard for two seconds in all was there."""


@dataclass(frozen=True)
class Mix:
    """How far a track's loud moments lie from the nearest mix of the others: `spread_db` their standard deviation
    about it, `upper_db` how far they lie above it for two seconds in all. `of` are the tracks in it that hold 5 % or
    more of its power, as (track number, share), the largest first."""

    spread_db: float
    upper_db: float
    of: tuple[tuple[int, float], ...]


def mixes(numbers: tuple[int, ...], levels: np.ndarray) -> dict[int, Mix]:
    """By track number: the nearest mix of the others, for tracks that hold something.

    Parameters
    ----------
    numbers : track numbers, one a row of `levels`
    levels : float64 (tracks, hops) in dB re full scale squared; -inf for silence, NaN where the track is missing
    """
    tracks, hops = levels.shape
    least = max(LEAST_HOPS, HOPS_A_TRACK * tracks)
    if tracks < 3 or hops < least:
        return {}
    power = np.where(np.isfinite(levels), 10 ** (np.where(np.isfinite(levels), levels, -200.0) / 10), 0.0)
    chosen = np.unique(np.linspace(0, hops - 1, max(MOST_HOPS, 2 * least)).astype(int))
    found = {}
    for row in range(tracks):
        there = np.isfinite(levels[row])
        if there.sum() < least:
            continue
        loud = float(np.sort(levels[row, there])[-LOUD_RANK])
        if loud < LEAST_LEVEL_DB or loud - np.percentile(levels[row, there], QUIET_PERCENTILE) < LEAST_RANGE_DB:
            continue
        one = _nearest(numbers, row, power, chosen[there[chosen]], there & (levels[row] >= loud - WITHIN_DB))
        if one is not None:
            found[numbers[row]] = one
    return found


def _nearest(numbers: tuple[int, ...], row: int, power: np.ndarray, at: np.ndarray, top: np.ndarray) -> Mix | None:
    """The mix for one row, sought in the hops `at` and held against the hops where `top` is true."""
    if at.size < LEAST_HOPS or top.sum() < 2 * HEARD_HOPS:
        return None
    own = power[row]
    others = np.delete(np.arange(len(power)), row)
    floor = np.percentile(own[at], QUIET_PERCENTILE)
    parts = np.concatenate((power[np.ix_(others, at)], np.full((1, at.size), floor))) / own[at]
    scale = parts.mean(axis=1)
    alive = np.flatnonzero(scale > 0)
    weights = np.zeros(len(parts))
    weights[alive] = _not_negative(parts[alive] / scale[alive, None]) / scale[alive]
    held = power[np.ix_(others, np.flatnonzero(top))]
    mixed = np.einsum("i,ij->j", weights[:-1], held) + weights[-1] * floor
    off = 10 * np.log10(own[top] / np.maximum(mixed, 1e-20))
    shares = weights[:-1] * held.sum(axis=1)
    shares /= max(float(shares.sum()), 1e-30)
    of = [(numbers[int(other)], float(share)) for other, share in zip(others, shares, strict=True)]
    told = sorted((one for one in of if one[1] >= LEAST_SHARE), key=lambda one: -one[1])
    return Mix(float(off.std()), float(np.sort(off)[-HEARD_HOPS]), tuple(told))


def _not_negative(parts: np.ndarray) -> np.ndarray:
    """The weights, none below zero, whose mix of the rows of `parts` comes nearest to 1 in the mean square.

    By multiplicative steps, which keep what is positive positive (Lee and Seung 2001, with the target held fixed).
    """
    products = np.einsum("ij,kj->ik", parts, parts)
    target = parts.sum(axis=1)
    weights = np.full(len(parts), 1.0 / len(parts))
    for _ in range(STEPS):
        weights *= target / np.maximum(np.einsum("ij,j->i", products, weights), 1e-30)
    return weights
