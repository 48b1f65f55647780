"""Gain moves: the whole of a track, its floor included, steps by whole decibels at one instant.

A preamp that is turned lifts everything behind it: source, bleed, room and its own noise, in every octave alike. Music
does not: what starts or stops changes some octaves and not others, and leaves the floor. Levels of nine octaves are
compared over 12 s before and behind every hop: the quiet ones (10th percentile over 100 ms) of at least seven of nine
octaves step alike within 0.7 dB, the loud ones (90th) by about as much, by 2.5 dB or more, and nothing steps in most
other tracks at that moment. Where the source never rests, or where less than 6 s lie on one side, no move is seen.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from replay.meters.model import Measurement

BANDS = range(1, 10)
WINDOW = 120
LEAST_WINDOW = 60
STRIDE = 10
LEAST_DB = 2.5
ALIKE_DB = 0.7
LOUD_ALIKE_DB = 4.0
LEAST_BANDS = 7
FLOOR_DB = -130.0
APART = 130
PLACE = 60
MOST_LOOKS = 1000

TOGETHER_S = 1.5
MANY = 4
MANY_SHARE = 0.4
QUIET, LOUD = 10, 90


@dataclass(frozen=True)
class GainMove:
    """The gain of a track stepped by `db` (whole decibels) at about `at_s` on the take's clock."""

    track: int
    at_s: float
    db: float


def gain_moves(measurement: Measurement) -> tuple[GainMove, ...]:
    """The moves of one track, in order of time; none where it is digital silence or the bands were not measured."""
    try:
        bands = np.stack([measurement.column(f"band_{band}").astype(np.float64) for band in BANDS])
    except KeyError:
        return ()
    hops = measurement.hops
    if hops < 2 * LEAST_WINDOW or not bands.any():
        return ()
    usable = measurement.whole_hops() & (bands.sum(axis=0) > 0)
    levels = 10 * np.log10(np.maximum(bands / (measurement.rate / 10), 10 ** (FLOOR_DB / 10)))
    candidates = []
    for at in _worth_a_look(levels):
        step = _step(levels, usable, at, 3)
        if step is not None:
            candidates.append((at, *step))
    found: list[GainMove] = []
    while candidates:
        # The clearest first: the one where the octaves agree best, at its exact place; its neighbours go.
        at, db, _ = min(candidates, key=lambda one: one[2] - 0.02 * abs(one[1]))
        place = _place(levels, usable, at, db)
        if abs(db) >= LEAST_DB:
            found.append(GainMove(measurement.track, place / 10, float(round(db))))
        candidates = [one for one in candidates if abs(one[0] - at) > APART]
    return tuple(sorted(found, key=lambda move: move.at_s))


def together(moves: Mapping[int, tuple[GainMove, ...]], move: GainMove) -> list[int]:
    """The tracks whose gain steps at about the same time, whichever way."""
    return [number for number, own in moves.items() if any(abs(one.at_s - move.at_s) <= TOGETHER_S for one in own)]


def own_moves(moves: Mapping[int, tuple[GainMove, ...]], tracks: int) -> dict[int, tuple[GainMove, ...]]:
    """Moves without those that many of `tracks` tracks make at once: that is the music, or a fader for all of them."""
    most = max(2.0, min(MANY - 1, MANY_SHARE * tracks))
    left = {number: tuple(one for one in own if len(together(moves, one)) <= most) for number, own in moves.items()}
    return {number: own for number, own in left.items() if own}


def _worth_a_look(levels: np.ndarray) -> list[int]:
    """Hops, a second apart, about which the quiet levels of whole seconds seem to step in most octaves alike."""
    seconds = levels.shape[1] // STRIDE
    side = WINDOW // STRIDE
    floors = np.sort(levels[:, : seconds * STRIDE].reshape(len(levels), seconds, STRIDE), axis=2)[:, :, 1]
    padded = np.pad(floors, ((0, 0), (side, side)), constant_values=np.nan)
    middles = _lower_quartiles(np.lib.stride_tricks.sliding_window_view(padded, side, axis=1))
    steps = middles[:, side:] - middles[:, :-side]
    middle = np.median(steps, axis=0)
    near = (np.abs(steps - middle) <= 2 * ALIKE_DB).sum(axis=0) >= LEAST_BANDS
    chosen = np.flatnonzero(near & (np.abs(middle) >= LEAST_DB - 0.5)) * STRIDE
    inside = chosen[(chosen >= LEAST_WINDOW) & (chosen <= levels.shape[1] - LEAST_WINDOW)]
    return [int(at) for at in inside[:MOST_LOOKS]]


def _lower_quartiles(windows: np.ndarray) -> np.ndarray:
    """The 25th percentile along the last axis of what is a number there; not a number where nothing is.

    As numpy's nanpercentile, which goes window by window in Python.
    """
    ordered = np.sort(windows, axis=-1)
    counts = (~np.isnan(ordered)).sum(axis=-1)
    place = 0.25 * np.maximum(counts - 1, 0)
    low = place.astype(np.int64)
    high = np.minimum(low + 1, np.maximum(counts - 1, 0))
    below = np.take_along_axis(ordered, low[..., None], axis=-1)[..., 0]
    above = np.take_along_axis(ordered, high[..., None], axis=-1)[..., 0]
    return below + (above - below) * (place - low)


def _step(levels: np.ndarray, usable: np.ndarray, at: int, gap: int) -> tuple[float, float] | None:
    """The step at a hop and how far the octaves differ about it; None where they do not agree that there is one."""
    left = slice(max(0, at - WINDOW), max(0, at - gap))
    right = slice(at + gap, at + WINDOW)
    before, after = levels[:, left][:, usable[left]], levels[:, right][:, usable[right]]
    if before.shape[1] < LEAST_WINDOW - gap - 1 or after.shape[1] < LEAST_WINDOW - gap - 1:
        return None
    quiet = np.percentile(after, QUIET, axis=1) - np.percentile(before, QUIET, axis=1)
    middle = float(np.median(quiet))
    if abs(middle) < LEAST_DB:
        return None
    near = np.abs(quiet - middle) <= ALIKE_DB
    if near.sum() < LEAST_BANDS:
        return None
    loud = np.percentile(after, LOUD, axis=1) - np.percentile(before, LOUD, axis=1)
    if abs(float(np.median(loud)) - middle) > LOUD_ALIKE_DB:
        return None
    return float(quiet[near].mean()), float(np.std(quiet[near]))


def _place(levels: np.ndarray, usable: np.ndarray, at: int, db: float) -> int:
    """The hop near `at` at which the move shows first (down), or behind which its absence shows last (up).

    While the source plays a step of the floor cannot be seen, so the true place may lie some hops before (down) or
    behind it (up).
    """
    left, right = slice(max(0, at - WINDOW), max(1, at - 3)), slice(at + 3, at + WINDOW)
    lower = levels[:, right][:, usable[right]] if db < 0 else levels[:, left][:, usable[left]]
    threshold = np.percentile(lower, QUIET, axis=1) + abs(db) / 2
    first, last = max(0, at - PLACE), min(levels.shape[1], at + PLACE)
    under = (levels[:, first:last] < threshold[:, None]).sum(axis=0) >= LEAST_BANDS
    under &= usable[first:last]
    hops = np.flatnonzero(under)
    if not len(hops):
        return at
    return first + int(hops[0]) if db < 0 else first + int(hops[-1]) + 1
