"""Gain moves: the whole of a track, its floor included, steps by whole decibels.

A preamp that is turned lifts everything behind it: source, bleed, room and its own noise, in every octave alike. Music
does not: what starts or stops changes some octaves and not others, and leaves the floor. So rests are looked for, half
a second or more in which five octaves stand as still as noise does, and the floors of rests are held against one
another: where seven of nine octaves step alike by 2.5 dB or more, and the loud moments do not contradict, the gain was
moved somewhere in between. Where a source never rests on one of both sides, no move is seen.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from replay.meters.model import Measurement

BANDS = range(1, 10)
WIDTHS_HZ = 46.9 * 2.0 ** np.arange(9)
HOP_S = 0.1
SPREAD_DB = 4.34 / np.sqrt(WIDTHS_HZ * HOP_S)
"""Standard deviation of 100 ms levels of noise in each octave: 10 log10(e) over the root of bandwidth times time."""

STILL = slice(4, 9)
"""The octaves that must stand still in a rest: there are enough independent values in 100 ms of them."""

REST_HOPS = 6
PIECE_HOPS = 12
STILL_SPREADS = 7.0
"""Peak to peak of six hops of noise stays within this many standard deviations; room noise is not quite white."""

AS_NOISE = (0.8, 1.25)
AS_NOISE_DOUBT = 1.2
LEAST_AS_NOISE = 7
"""What the octaves' levels may spread, against what they do in noise: a held tone spreads less, a sound that lives
more. The figures give way by so many standard errors, 1 / sqrt(2 (n - 1)) of n hops."""

ABOVE_HUM = 3
"""The octaves from here on (375 Hz) hold no strong multiple of the mains: the loudest of them must be noise."""

LEAST_LEVEL_DB = -165.0
"""Below this an octave of a 24-bit track holds nothing but rounding."""

LEAST_DB = 2.5
ALIKE_DB = 0.7
ALIKE_SPREADS = 2.5
LEAST_BANDS = 7
LOUD_ALIKE_DB = 12.0
LOOK_BACK = 40
LEAST_APART_HOPS = 60
WINDOW = 300
MOST_MOVES = 6
QUIET, LOUD = 10, 90
SOUNDS_DB = 12.0
SOUNDING_BANDS = 3
SOUNDING_HOPS = 20
"""Something sounds where so many octaves stand by SOUNDS_DB over every floor about, for two seconds in all."""

BESIDE_HOPS = 20
BESIDE_LOUD = 16
"""Of 20 hops, the fourth-loudest."""

TOGETHER_S = 1.5
MANY = 4
MANY_SHARE = 0.4
STEP_ALIKE_DB = 1.0


@dataclass(frozen=True)
class GainMove:
    """The gain of a track stepped by `db` (whole decibels), most likely at `at_s` on the take's clock; for certain
    between `first_s` and `last_s`, the rests about it. `loud_db` is by how much what sounds is louder after
    it than before; None where on one side, up to the next step or the end of the track, only the floor is heard."""

    track: int
    at_s: float
    db: float
    first_s: float
    last_s: float
    loud_db: float | None = None


@dataclass(frozen=True)
class _Rest:
    """A piece of a rest: its hops, and its mean level in every octave in dB."""

    start: int
    stop: int
    levels: np.ndarray


def gain_moves(measurement: Measurement) -> tuple[GainMove, ...]:
    """The moves of one track, in order of time; none where it is digital silence or the bands were not measured."""
    try:
        bands = np.stack([measurement.column(f"band_{band}").astype(np.float64) for band in BANDS])
    except KeyError:
        return ()
    if measurement.hops < 2 * LEAST_APART_HOPS or not bands.any():
        return ()
    usable = measurement.whole_hops() & (bands.sum(axis=0) > 0)
    levels = 10 * np.log10(np.maximum(bands / (measurement.rate * HOP_S), 1e-18))
    steps = _steps(_rests(levels, usable))
    places = [_place(levels, usable, before, after, db) for before, after, db in steps]
    edges = [0, *places, measurement.hops]
    found = []
    for place, (before, after, db) in enumerate(steps):
        left, at, right = edges[place : place + 3]
        # Between two moves it must have stood for a while; beside the track's ends the place itself may be off.
        long_before = (after.stop if left == 0 else at) - left
        long_after = right - (before.stop if right == measurement.hops else at)
        if min(long_before, long_after) >= LEAST_APART_HOPS and _believed(levels, usable, left, at, right, db):
            loud = _loud_step(levels, usable, (left, at, right), steps[max(place - 1, 0) : place + 2])
            found.append(
                GainMove(measurement.track, at / 10, float(round(db)), before.stop / 10, after.start / 10, loud)
            )
    # An expander or a gate lets its floor go to and fro; a preamp is not turned like this.
    return tuple(found) if len(steps) <= MOST_MOVES else ()


def together(moves: Mapping[int, tuple[GainMove, ...]], move: GainMove) -> list[int]:
    """The tracks whose gain steps at about the same time, whichever way."""
    return [number for number, own in moves.items() if any(abs(one.at_s - move.at_s) <= TOGETHER_S for one in own)]


def in_step(moves: Mapping[int, tuple[GainMove, ...]], move: GainMove) -> list[int]:
    """The tracks whose gain steps by the same amount, and may do so at the same moment."""
    return [
        number
        for number, own in moves.items()
        if any(
            one.first_s - TOGETHER_S <= move.last_s
            and one.last_s + TOGETHER_S >= move.first_s
            and abs(one.db - move.db) <= STEP_ALIKE_DB
            for one in own
        )
    ]


def own_moves(moves: Mapping[int, tuple[GainMove, ...]], tracks: int) -> dict[int, tuple[GainMove, ...]]:
    """Moves without those that many of `tracks` tracks make at once: that is the music, or a fader for all of them."""
    most = max(2.0, min(MANY - 1, MANY_SHARE * tracks))
    left = {
        number: tuple(one for one in own if max(len(together(moves, one)), len(in_step(moves, one))) <= most)
        for number, own in moves.items()
    }
    return {number: own for number, own in left.items() if own}


def _rests(levels: np.ndarray, usable: np.ndarray) -> list[_Rest]:
    """Where a track holds nothing but noise, in pieces of 0.6 to 1.2 s."""
    still = levels[STILL]
    if still.shape[1] < REST_HOPS:
        return []
    limits = STILL_SPREADS * SPREAD_DB[STILL]
    count = still.shape[1] - REST_HOPS + 1
    most, least = still[:, :count], still[:, :count]
    # Windows of so few are looked at faster side by side than one by one.
    for step in range(1, REST_HOPS):
        most = np.maximum(most, still[:, step : step + count])
        least = np.minimum(least, still[:, step : step + count])
    ok = np.all(most - least <= limits[:, None], axis=0)
    ok &= np.convolve(usable, np.ones(REST_HOPS, int), "valid") == REST_HOPS
    ok &= np.all(levels > LEAST_LEVEL_DB, axis=0)[: len(ok)]
    pieces = _pieces(ok)
    found = []
    for length in np.unique(pieces[:, 1] - pieces[:, 0]).tolist():
        # All pieces of one length at once: one by one they take several times as long.
        starts = pieces[pieces[:, 1] - pieces[:, 0] == length, 0]
        parts = levels[:, starts[:, None] + np.arange(length)].transpose(1, 0, 2)
        means = 10 * np.log10((10 ** (parts / 10)).mean(axis=2))
        noise = _like_noise(parts, means)
        found += [
            _Rest(start, start + length, mean) for start, mean in zip(starts[noise].tolist(), means[noise], strict=True)
        ]
    return sorted(found, key=lambda rest: rest.start)


def _pieces(ok: np.ndarray) -> np.ndarray:
    """int64 (n, 2): pieces of 0.6 to 1.2 s, first hop and end, one behind another; `ok` says of each hop whether a
    piece of REST_HOPS can begin there."""
    found = []
    at = 0
    for start in np.flatnonzero(ok).tolist():
        if start < at:
            continue
        stop = start + REST_HOPS
        while stop - start < PIECE_HOPS and stop - REST_HOPS + 1 < len(ok) and ok[stop - REST_HOPS + 1]:
            stop += 1
        at = stop
        found.append((start, stop))
    return np.array(found, np.int64).reshape(-1, 2)


def _like_noise(pieces: np.ndarray, means: np.ndarray) -> np.ndarray:
    """bool (pieces,): whether the octaves spread over time as noise does, among them the loudest. `pieces` are levels
    (pieces, octaves, hops), `means` (pieces, octaves) their means."""
    hops = pieces.shape[2]
    doubt = AS_NOISE_DOUBT / np.sqrt(2 * (hops - 1))
    off = pieces - pieces.sum(axis=2, keepdims=True) / hops
    spread = np.sqrt((off * off).sum(axis=2) / (hops - 1)) / SPREAD_DB
    fits = (spread >= AS_NOISE[0] - doubt) & (spread <= AS_NOISE[1] + doubt)
    loudest = ABOVE_HUM + np.argmax(means[:, ABOVE_HUM:], axis=1)
    return np.asarray((fits.sum(axis=1) >= LEAST_AS_NOISE) & fits[np.arange(len(fits)), loudest])


def _steps(rests: list[_Rest]) -> list[tuple[_Rest, _Rest, float]]:
    """Neighbouring rests of one floor between which it steps, and by how many decibels."""
    if not rests:
        return []
    levels = np.array([rest.levels for rest in rests])
    shares = 1 / np.array([rest.stop - rest.start for rest in rests])
    found = []
    # Every rest is held against the one before it; where these are not of one floor, against the one before that.
    left = np.arange(1, len(rests))
    for back in range(1, LOOK_BACK + 1):
        left = left[left >= back]
        if not left.size:
            break
        alike, steps = _alike(levels[left - back], levels[left], shares[left - back] + shares[left])
        moved = alike & (np.abs(steps) >= LEAST_DB)
        found += [(at, at - back, step) for at, step in zip(left[moved].tolist(), steps[moved].tolist(), strict=True)]
        left = left[~alike]
    return [(rests[before], rests[after], step) for after, before, step in sorted(found)]


def _alike(before: np.ndarray, after: np.ndarray, shares: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """bool (pairs,): whether all octaves step alike, else two rests are not one floor at two gains; and by how much.

    `before` and `after` are levels (pairs, octaves), `shares` (pairs,) the sum of one over the hops of either rest.
    """
    steps = after - before
    upper = np.sort(steps[:, 3:], axis=1)
    middle = (upper[:, 2] + upper[:, 3]) / 2
    spread = SPREAD_DB * np.sqrt(shares)[:, None]
    near = np.abs(steps - middle[:, None]) <= ALIKE_DB + ALIKE_SPREADS * spread
    weights = near / spread**2
    # Where no octave is near, nothing is asked of the step.
    step = (steps * weights).sum(axis=1) / np.maximum(weights.sum(axis=1), 1e-30)
    return near.sum(axis=1) >= LEAST_BANDS, step


def _believed(levels: np.ndarray, usable: np.ndarray, left: int, at: int, right: int, db: float) -> bool:
    """Whether the loud moments on both sides of a step allow it to be one of gain: they need not move by just as much,
    and where a side has none they say nothing."""
    before = slice(max(left, at - WINDOW), at)
    after = slice(at, min(right, at + WINDOW))
    loud, sounding = [], []
    for side in (before, after):
        here = levels[:, side][:, usable[side]]
        if not here.size:
            return False
        quiet, top = np.percentile(here, [QUIET, LOUD], axis=1)
        loud.append(top)
        sounding.append(float(np.median(top - quiet)) > SOUNDS_DB)
    return not all(sounding) or abs(float(np.median(loud[1] - loud[0])) - db) <= LOUD_ALIKE_DB


def _loud_step(
    levels: np.ndarray, usable: np.ndarray, edges: tuple[int, int, int], steps: list[tuple[_Rest, _Rest, float]]
) -> float | None:
    """By how much what stands out of every floor about is louder behind a step than before it, in the half minutes
    of it that lie nearest; None where nothing does on one side."""
    left, at, right = edges
    floor = np.max([rest.levels for before, after, _ in steps for rest in (before, after)], axis=0)
    sounding = ((levels > floor[:, None] + SOUNDS_DB).sum(axis=0) >= SOUNDING_BANDS) & usable
    before = left + np.flatnonzero(sounding[left:at])[-WINDOW:]
    after = at + np.flatnonzero(sounding[at:right])[:WINDOW]
    if min(len(before), len(after)) < SOUNDING_HOPS:
        return None
    loud = [np.percentile(levels[:, hops], LOUD, axis=1) for hops in (before, after)]
    return float(np.median(loud[1] - loud[0]))


def _place(levels: np.ndarray, usable: np.ndarray, before: _Rest, after: _Rest, db: float) -> int:
    """The hop between two rests at which the loud levels of the seconds on both sides step most nearly by so much.

    Within a second or so, where the source plays on; to the hop where it rests.
    """
    first, last = before.stop, after.start
    # Nothing lies below the floor at the gain of the moment.
    lower = after.levels if db < 0 else before.levels
    under = (levels[:, first:last] < lower[:, None] + abs(db) / 2).sum(axis=0) >= LEAST_BANDS
    hops = first + np.flatnonzero(under & usable[first:last])
    if len(hops) and db < 0:
        last = int(hops[0])
    elif len(hops):
        first = int(hops[-1]) + 1
    start, stop = max(0, first - BESIDE_HOPS), last + BESIDE_HOPS
    windows = np.lib.stride_tricks.sliding_window_view(levels[:, start:stop], BESIDE_HOPS, axis=1)
    loud = np.partition(windows, BESIDE_LOUD, axis=2)[:, :, BESIDE_LOUD]
    steps = loud[:, BESIDE_HOPS:] - loud[:, :-BESIDE_HOPS]
    if steps.shape[1] == 0:
        return first
    return start + BESIDE_HOPS + int(np.argmin(np.median(np.abs(steps - db), axis=0)))
