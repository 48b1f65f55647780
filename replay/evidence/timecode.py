"""Timecode, recognised from the audio.

Longitudinal timecode (SMPTE ST 12-1): 80 bits a frame in biphase mark, that is, edges one or half a bit apart; bits 64
to 79 are the sync word 0011 1111 1111 1101. A track is timecode where, in a short moment, its edges have two spacings
in the ratio 2:1 and the sync word is found 80 bits apart three times; without sync it is just a square wave. Candidates
are chosen from histories: what has a steady level and a low crest nearly all the time. The rate in frames per second is
the mean distance of sync words, within 0.02 % in what was measured (24, 25 and 30 fps).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from replay.grid import hop_starts
from replay.meters.model import Measurement
from replay.ranks import percentiles
from replay.take.model import Track
from replay.take.moments import Moment, read_moments

SYNC = np.array([0, 0, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 0, 1])
FRAME_BITS = 80
LEAST_SYNCS = 3
MOMENT_HOPS = 10
"""A second holds 24 frames or more."""

MOMENTS = 3
CREST_DB = 7.0
"""Ideal timecode has 0 dB; through transformers and filters it reaches 5. A sine has 3."""

STEADY_DB = 3.0
SHARE = 0.6
LEAST = 1e-7
LEAST_HOPS = 20
HYSTERESIS = 0.25


@dataclass(frozen=True)
class Timecode:
    """Timecode on a track: frames per second as measured on the take's clock."""

    track: int
    frames_per_second: float


def find_timecode(
    tracks: Sequence[Track],
    measurements: Mapping[int, Measurement],
    rate: int,
    read: Callable[[Sequence[Track], int, Sequence[Moment]], Iterable[tuple[Moment, np.ndarray]]] = read_moments,
) -> dict[int, Timecode]:
    """The tracks that carry timecode. Reads a few moments of those whose histories allow it; `read`: how."""
    moments: dict[int, list[int]] = {}
    for row, track in enumerate(tracks):
        for first in _candidates(measurements[track.number]):
            moments.setdefault(first, []).append(row)
    wanted = [Moment(first, MOMENT_HOPS, tuple(rows)) for first, rows in moments.items()]
    found: dict[int, list[float]] = {}
    for moment, samples in read(tracks, rate, wanted):
        for row, one in zip(moment.rows, samples, strict=True):
            fps = decode(one, rate)
            if fps is not None:
                found.setdefault(tracks[row].number, []).append(fps)
    return {number: Timecode(number, float(np.median(rates))) for number, rates in found.items()}


def _candidates(measurement: Measurement) -> list[int]:
    """The first hops of moments worth a look; none where the track's histories rule timecode out."""
    frames = np.diff(hop_starts(measurement.hops, measurement.rate))
    power = measurement.column("energy") / frames
    peak = np.maximum(measurement.column("high"), -measurement.column("low")) ** 2
    sounding = (power > LEAST) & measurement.whole_hops()
    if sounding.sum() < LEAST_HOPS:
        return []
    flat = sounding & (peak <= power * 10 ** (CREST_DB / 10))
    (loud,) = percentiles(power[sounding], 90)
    steady = flat & (power >= loud * 10 ** (-STEADY_DB / 10))
    if steady.sum() < SHARE * sounding.sum():
        return []
    runs = np.convolve(steady, np.ones(MOMENT_HOPS, int), "valid") == MOMENT_HOPS
    places = np.flatnonzero(runs)
    if not len(places):
        return []
    return sorted({int(places[round(share * (len(places) - 1))]) for share in (0.1, 0.5, 0.9)})[:MOMENTS]


def decode(samples: np.ndarray, rate: int) -> float | None:
    """Frames per second of the timecode in `samples`; None where there is none."""
    read = bits_of(samples)
    if read is None:
        return None
    bits, places = read
    backwards = np.flatnonzero(np.correlate(2 * bits - 1, 2 * SYNC[::-1] - 1, "valid") == len(SYNC))
    for syncs in (syncs_of(bits), backwards):
        good = syncs[np.isin(syncs + FRAME_BITS, syncs)]
        if len(good) >= LEAST_SYNCS - 1:
            first, last = good[0], good[-1] + FRAME_BITS
            return float(rate * ((last - first) // FRAME_BITS) / (places[last] - places[first]))
    return None


def syncs_of(bits: np.ndarray) -> np.ndarray:
    """Where among the bits a sync word begins."""
    return np.flatnonzero(np.correlate(2 * bits - 1, 2 * SYNC - 1, "valid") == len(SYNC))


def bits_of(samples: np.ndarray) -> tuple[np.ndarray, np.ndarray] | None:
    """Bits in biphase mark and where each begins, in samples; None where `samples` hold nothing of the kind.

    Edges are crossings of zero behind a swing of a quarter of the level either way, interpolated between samples.
    """
    x = np.asarray(samples, np.float64)
    x = x - x.mean()
    level = np.sqrt(np.mean(x * x))
    if level <= 0:
        return None
    state = np.zeros(len(x), np.int8)
    state[x > HYSTERESIS * level] = 1
    state[x < -HYSTERESIS * level] = -1
    clear = np.flatnonzero(state)
    turns = np.flatnonzero(np.diff(state[clear]) != 0)
    if len(turns) < FRAME_BITS * LEAST_SYNCS:
        return None
    before, after = clear[turns], clear[turns + 1]
    edges = before + (after - before) * x[before] / (x[before] - x[after])
    spacings = np.diff(edges)
    # A bit lasts two halves: the longer of two spacings that are 2:1.
    bit = _bit_length(spacings)
    if bit is None:
        return None
    kinds = np.round(spacings / (bit / 2)).astype(int)
    if np.mean((kinds == 1) | (kinds == 2)) < 0.98:
        return None
    bits, places = _bits(kinds, edges)
    return (bits, places) if len(bits) >= FRAME_BITS * LEAST_SYNCS else None


def _bit_length(spacings: np.ndarray) -> float | None:
    middle = (spacings.min() + np.percentile(spacings, 99)) / 2
    short, long = spacings[spacings < middle], spacings[spacings >= middle]
    if not len(short) or not len(long):
        return None
    half, whole = float(np.median(short)), float(np.median(long))
    return whole if 1.7 <= whole / half <= 2.3 else None


def _bits(kinds: np.ndarray, edges: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Bits and the edges at which they begin: a long spacing is a 0, two short ones are a 1."""
    # Which of two short spacings comes first is known from any long one: read from the first long one on.
    start = int(np.argmax(kinds == 2))
    bits, places = [], []
    at = start
    while at < len(kinds):
        if kinds[at] == 2:
            bits.append(0)
            places.append(edges[at])
            at += 1
        elif at + 1 < len(kinds) and kinds[at] == 1 and kinds[at + 1] == 1:
            bits.append(1)
            places.append(edges[at])
            at += 2
        else:
            at += 1
    return np.array(bits, int), np.array(places)
