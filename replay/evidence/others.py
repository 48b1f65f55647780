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

from replay.ranks import percentiles

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

MOST_TRACKS = 128
"""The mix of a track is sought among so many, those whose levels go most nearly with its own."""

AT_ONCE = 64
"""Tracks whose mixes are sought side by side, as far as memory is concerned."""

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
    least = max(LEAST_HOPS, HOPS_A_TRACK * min(tracks, MOST_TRACKS))
    if tracks < 3 or hops < least:
        return {}
    power = np.where(np.isfinite(levels), 10 ** (np.where(np.isfinite(levels), levels, -200.0) / 10), 0.0)
    chosen = np.unique(np.linspace(0, hops - 1, max(MOST_HOPS, 2 * least)).astype(int))
    asked = []
    for row in range(tracks):
        there = np.isfinite(levels[row])
        if there.sum() < least:
            continue
        loud = float(np.sort(levels[row, there])[-LOUD_RANK])
        if loud < LEAST_LEVEL_DB or loud - percentiles(levels[row, there], QUIET_PERCENTILE)[0] < LEAST_RANGE_DB:
            continue
        at, top = chosen[there[chosen]], there & (levels[row] >= loud - WITHIN_DB)
        if at.size >= LEAST_HOPS and top.sum() >= 2 * HEARD_HOPS:
            asked.append((row, at, top))
    found = {}
    for first in range(0, len(asked), AT_ONCE):
        together = asked[first : first + AT_ONCE]
        sought = [_sought(row, power, at) for row, at, _ in together]
        weights = _not_negative(np.stack([one.products for one in sought]), np.stack([one.target for one in sought]))
        for (row, _, top), one, own in zip(together, sought, weights, strict=True):
            found[numbers[row]] = _held(numbers, power, one, own / one.scale, top)
    return found


@dataclass(frozen=True)
class _Sought:
    """What the mix of one track is sought of: the tracks in the rows `of`, the one in question among them at `own`,
    where its `floor` stands for it. Each one's power over that track's, divided by its mean `scale`, gives the
    `products` with each other, and in all (`target`)."""

    of: np.ndarray
    own: int
    floor: float
    scale: np.ndarray
    products: np.ndarray
    target: np.ndarray


def _sought(row: int, power: np.ndarray, at: np.ndarray) -> _Sought:
    """For one row, in the hops `at`."""
    of = _nearest(row, power, at)
    place = int(np.flatnonzero(of == row)[0])
    parts = power[np.ix_(of, at)]
    own = parts[place].copy()
    floor = float(percentiles(own, QUIET_PERCENTILE)[0])
    parts[place] = floor
    parts /= own
    scale = parts.mean(axis=1)
    scale[scale == 0] = 1.0
    parts /= scale[:, None]
    return _Sought(of, place, floor, scale, np.einsum("ij,kj->ik", parts, parts), parts.sum(axis=1))


def _nearest(row: int, power: np.ndarray, at: np.ndarray) -> np.ndarray:
    """The MOST_TRACKS rows whose levels go most nearly with this row's, itself among them, in their order."""
    if len(power) <= MOST_TRACKS:
        return np.arange(len(power))
    levels = np.log(np.maximum(power[:, at], 1e-20))
    levels -= levels.mean(axis=1, keepdims=True)
    spread = np.sqrt((levels**2).sum(axis=1))
    alike = np.einsum("ij,j->i", levels, levels[row]) / np.where(spread > 0, spread, np.inf)
    alike[row] = np.inf
    return np.sort(np.argsort(-alike, kind="stable")[:MOST_TRACKS])


def _held(numbers: tuple[int, ...], power: np.ndarray, sought: _Sought, weights: np.ndarray, top: np.ndarray) -> Mix:
    """The mix of these weights held against the hops where `top` is true."""
    held = power[np.ix_(sought.of, np.flatnonzero(top))]
    others = weights.copy()
    others[sought.own] = 0.0
    mixed = np.einsum("i,ij->j", others, held) + weights[sought.own] * sought.floor
    off = 10 * np.log10(held[sought.own] / np.maximum(mixed, 1e-20))
    shares = others * held.sum(axis=1)
    shares /= max(float(shares.sum()), 1e-30)
    told = [(numbers[of], float(share)) for of, share in zip(sought.of, shares, strict=True) if share >= LEAST_SHARE]
    return Mix(float(off.std()), float(np.sort(off)[-HEARD_HOPS]), tuple(sorted(told, key=lambda one: -one[1])))


def _not_negative(products: np.ndarray, target: np.ndarray) -> np.ndarray:
    """Many times at once: the weights, none below zero, whose mix of parts comes nearest to 1 in the mean square.

    `products` (times, parts, parts) are the sums of products of the parts with each other, `target` (times, parts)
    their own sums. By multiplicative steps, which keep what is positive positive (Lee and Seung 2001, with the target
    held fixed). What is nothing but zeros gets no weight.
    """
    alive = target > 0
    weights = alive / alive.sum(axis=1, keepdims=True)
    for _ in range(STEPS):
        weights *= target / np.maximum(np.einsum("rij,rj->ri", products, weights), 1e-30)
    return weights
