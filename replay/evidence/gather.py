"""All evidence of a take: histories first, then one short reading of the moments that they point at."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from replay.evidence import bleed, likeness, others, sound
from replay.evidence.click_track import find_clicks
from replay.evidence.model import NOTHING, Evidence, Likeness
from replay.evidence.side_by_side import in_threads
from replay.evidence.sound import Sound
from replay.evidence.speaking import LEAST_RANGE_DB, LineCheck, find_line_check, loud_levels
from replay.evidence.timecode import find_timecode
from replay.grid import hop_starts
from replay.meters.model import Measurement
from replay.meters.ranks import percentiles
from replay.take.model import Track
from replay.take.moments import Moment, read_moments

Pair = tuple[int, int]
Compared = tuple[int, float, float, float | None] | None
"""What `likeness.compare_spectra` gives."""

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
            levels = 10 * np.log10(one.column("energy") / frames)
        levels[~one.whole_hops()] = np.nan
        out[row, : one.hops] = levels
    return out


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

    def heard(one: tuple[Moment, np.ndarray]) -> _Heard:
        moment, samples = one
        return _heard(moment, samples, [row for row in moment.rows if (moment.first, row) in own], partners, rate)

    for found in in_threads(heard, read(tracks, rate, moments)):
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
    compared: list[tuple[Pair, Compared]]


def _heard(
    moment: Moment, samples: np.ndarray, rows: Sequence[int], partners: Mapping[int, Sequence[int]], rate: int
) -> _Heard:
    """What a moment tells of the `rows` whose own it is."""
    of = dict(zip(moment.rows, samples.astype(np.float64), strict=True))
    spectra: dict[int, np.ndarray] = {}
    known: dict[Pair, Compared] = {}
    figures: dict[int, np.ndarray] = {}
    compared = []
    for row in rows:
        found = sound.figures_of(of[row], rate)
        if found is not None:
            figures[row] = found
        for other in partners[row]:
            a, b = pair = (min(row, other), max(row, other))
            # A moment that is both tracks' own counts for both, and is compared once.
            if pair not in known:
                for one in pair:
                    if one not in spectra:
                        spectra[one] = likeness.spectrum(of[one], rate)
                known[pair] = likeness.compare_spectra(spectra[a], spectra[b], of[a], of[b], rate)
            compared.append((pair, known[pair]))
    return _Heard(moment.first, figures, compared)
