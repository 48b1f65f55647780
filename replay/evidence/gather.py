"""All evidence of a take: histories first, then one short reading of the moments that they point at."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import islice
from typing import TypeVar

import numpy as np

from replay.evidence import bleed, likeness, others, sound
from replay.evidence.click_track import find_clicks
from replay.evidence.model import NOTHING, Evidence, Likeness
from replay.evidence.side_by_side import in_threads
from replay.evidence.sound import Sound
from replay.evidence.speaking import LEAST_RANGE_DB, LineCheck, find_line_check, loud_levels, restless_levels
from replay.evidence.timecode import find_timecode
from replay.grid import hop_starts
from replay.meters.model import Measurement
from replay.meters.power import offset
from replay.ranks import percentiles
from replay.take.model import Track
from replay.take.moments import Moment, read_moments

Pair = tuple[int, int]
Thing = TypeVar("Thing")
MOMENTS_AT_ONCE = 2

ReadMoments = Callable[[Sequence[Track], int, Sequence[Moment]], Iterable[tuple[Moment, np.ndarray]]]

SILENT_DB = -70.0
STEADY_SILENT_DB = -50.0
"""Steady and below this, in dB re full scale squared: noise of a preamp or a line, and no tone that never rests."""

AFTER_LINE_CHECK_HOPS = 10
LEAST_LEFT_HOPS = 200
"""With less than 20 s outside the line check, what sounds there has to do."""


def gather(
    tracks: Sequence[Track],
    measurements: Mapping[int, Measurement],
    rate: int,
    within_s: tuple[float, float] | None = None,
    read: ReadMoments = read_moments,
) -> Evidence:
    """What the audio itself says. `within_s`: where the line check was, if that is known; `read`: how moments are
    read."""
    if not tracks:
        return NOTHING
    numbers = tuple(track.number for track in tracks)
    levels = hop_levels([measurements[number] for number in numbers])
    if levels.shape[1] == 0:
        return Evidence(numbers, None, {}, silent=frozenset(numbers))
    loud = loud_levels(levels)
    relative = np.where(np.isfinite(loud)[:, None], levels - np.where(np.isfinite(loud), loud, 0.0)[:, None], -np.inf)
    check = find_line_check(numbers, levels, within_s)
    correlation = likeness.together(relative)
    standing = sound.standing_out(relative, _usable(levels.shape[1], check))
    pairs = likeness.candidates(correlation)
    # What hardly ever rests takes no turn in a line check, but it sounds like something and may be a copy or a pair.
    restless = np.flatnonzero(np.isfinite(beside := restless_levels(levels, loud)))
    if len(restless):
        against = relative.copy()
        against[restless] = levels[restless] - beside[restless, None]
        theirs = sound.standing_out(against, _usable(levels.shape[1], check))
        standing = [theirs[row] if row in restless else one for row, one in enumerate(standing)]
        among = likeness.candidates(likeness.together(against))
        pairs = sorted({*pairs, *(pair for pair in among if {*pair} & {*restless.tolist()})})
    sounds, alike = _listen(tracks, numbers, rate, standing, pairs, read)
    clicks = find_clicks(tracks, measurements, rate, read)
    sounds |= {number: replace(sounds[number], click=True) for number in clicks if number in sounds}
    coded = find_timecode(tracks, measurements, rate, read)
    sounds |= {number: replace(sounds[number], timecode=True) for number in coded if number in sounds}
    return Evidence(
        tracks=numbers,
        line_check=check,
        sounds=sounds,
        together=likeness.as_mapping(numbers, correlation),
        likeness=alike,
        silent=_silent(numbers, levels),
        bleed={numbers[row]: one for row, one in bleed.at_rest(levels, loud).items()},
        mixes=others.mixes(numbers, levels),
        clicks=clicks,
    )


def hop_levels(measurements: Sequence[Measurement]) -> np.ndarray:
    """float64 (tracks, hops): levels in dB re full scale squared; -inf for silence, NaN where a track is missing."""
    hops = max((one.hops for one in measurements), default=0)
    out = np.full((len(measurements), hops), np.nan)
    for row, one in enumerate(measurements):
        frames = np.diff(hop_starts(one.hops, one.rate))
        with np.errstate(divide="ignore"):
            levels = 10 * np.log10(_sounding(one, frames) / frames)
        levels[~one.whole_hops()] = np.nan
        out[row, : one.hops] = levels
    return out


def _sounding(measurement: Measurement, frames: np.ndarray) -> np.ndarray:
    """float64 (hops,): the energy of what sounds. An offset is none: a track that swings around one would never rest,
    and might pass for one that holds nothing."""
    energy, sums = measurement.column("energy"), measurement.column("sum")
    there = measurement.whole_hops() & (energy > 0)
    middle = offset(sums[there], int(frames[there].sum()))
    return np.where(energy > 0, np.maximum(energy - 2 * middle * sums + frames * middle**2, 0.0), 0.0)


def _silent(numbers: tuple[int, ...], levels: np.ndarray) -> frozenset[int]:
    found = set()
    for number, track in zip(numbers, levels, strict=True):
        there = track[np.isfinite(track)]
        if there.size == 0:
            found.add(number)
            continue
        quiet, top = percentiles(there, 10, 99.5)
        if top < SILENT_DB or (top < STEADY_SILENT_DB and top - quiet < LEAST_RANGE_DB):
            found.add(number)
    return frozenset(found)


def _usable(hops: int, check: LineCheck | None) -> np.ndarray:
    """Hops outside the line check, or all where there is little else."""
    usable = np.ones(hops, bool)
    if check is not None:
        usable[int(check.start_s * 10) : int(check.stop_s * 10) + AFTER_LINE_CHECK_HOPS] = False
        if usable.sum() < LEAST_LEFT_HOPS:
            usable[:] = True
    return usable


def _listen(
    tracks: Sequence[Track],
    numbers: tuple[int, ...],
    rate: int,
    standing: list[list[tuple[int, float]]],
    pairs: list[tuple[int, int]],
    read: ReadMoments,
) -> tuple[dict[int, Sound], dict[tuple[int, int], Likeness]]:
    """Read every track in its own moments, and beside it those that it may be a pair with."""
    partners: dict[int, list[int]] = {row: [] for row in range(len(tracks))}
    for a, b in pairs:
        partners[a].append(b)
        partners[b].append(a)
    asked: dict[int, set[int]] = {}
    own: dict[tuple[int, int], float] = {}
    for row, chosen in enumerate(standing):
        for first, score in chosen:
            asked.setdefault(first, set()).update([row, *partners[row]])
            own[first, row] = score
    moments = [Moment(first, sound.MOMENT_HOPS, tuple(sorted(rows))) for first, rows in asked.items()]
    figures: dict[int, list[np.ndarray]] = {row: [] for row in range(len(tracks))}
    above: dict[int, list[float]] = {row: [] for row in range(len(tracks))}
    compared: dict[tuple[int, int], list] = {pair: [] for pair in pairs}

    own_rows = {first: [row for row in sorted(rows) if (first, row) in own] for first, rows in asked.items()}

    def heard(some: Sequence[tuple[Moment, np.ndarray]]) -> list[_Heard]:
        return _heard(some, [own_rows[moment.first] for moment, _ in some], partners, rate)

    batches = in_threads(heard, _by(MOMENTS_AT_ONCE, read(tracks, rate, moments)))
    for found in (one for batch in batches for one in batch):
        for row, told in found.figures.items():
            figures[row].append(told)
            above[row].append(own[found.first, row])
        for pair, held in found.compared:
            compared[pair].append(held)
    sounds = {}
    for row, number in enumerate(numbers):
        summed = sound.sum_up(figures[row], above[row])
        if summed is not None:
            sounds[number] = summed
    alike = {}
    for (a, b), found_in in compared.items():
        like = likeness.sum_up(numbers[a], numbers[b], found_in, rate)
        if like is not None:
            alike[numbers[a], numbers[b]] = like
    return sounds, alike


@dataclass(frozen=True)
class _Heard:
    """What a moment (from hop `first` on) told: figures by row, of those rows whose own it is (silent ones left out),
    and what comparing each of these with its partners gives."""

    first: int
    figures: dict[int, np.ndarray]
    compared: list[tuple[Pair, likeness.Compared]]


def _by(count: int, things: Iterable[Thing]) -> Iterator[list[Thing]]:
    """Some things in lists of `count`."""
    rest = iter(things)
    while some := list(islice(rest, count)):
        yield some


def _heard(
    some: Sequence[tuple[Moment, np.ndarray]],
    own_rows: Sequence[Sequence[int]],
    partners: Mapping[int, Sequence[int]],
    rate: int,
) -> list[_Heard]:
    """What some moments tell of the rows whose own each is. All of them together, for the
    transforms: numpy prepares every call anew."""
    samples = np.concatenate([samples for _, samples in some]).astype(np.float64)
    at: list[dict[int, int]] = []
    begin = 0
    for moment, _ in some:
        at.append({row: begin + k for k, row in enumerate(moment.rows)})
        begin += len(moment.rows)
    figures = iter(sound.figures_of(samples[[at[k][row] for k, rows in enumerate(own_rows) for row in rows]], rate))
    told = [{row: one for row in rows if (one := next(figures)) is not None} for rows in own_rows]
    # A moment that is both tracks' own counts for both, and is compared once.
    asked = [[(min(row, other), max(row, other)) for row in rows for other in partners[row]] for rows in own_rows]
    once = [(k, pair) for k, pairs in enumerate(asked) for pair in sorted(set(pairs))]
    found = likeness.compare_all(samples, [(at[k][a], at[k][b]) for k, (a, b) in once], rate)
    known = dict(zip(once, found, strict=True))
    return [
        _Heard(moment.first, told[k], [(pair, known[k, pair]) for pair in asked[k]])
        for k, (moment, _) in enumerate(some)
    ]
