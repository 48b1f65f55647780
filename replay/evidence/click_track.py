"""Click tracks, recognised from the audio.

What drummers hear in their ears: bursts of a few hundredths of a second, of one or two pitches, at a rate that stays,
and nothing between them. A machine makes each burst alike to the sample; nobody plays like that. Told where, in the
histories, short bursts come at intervals each of which is like the next one, and where, in a few of these bursts that
are read, nearly all are copies of one of few waveforms whose energy lies at one pitch above 250 Hz and its multiples
(which leaves out kicks and hats of a machine), two pitches in all, and most as loud as another one: whoever plays a
pad of samples hits it a little harder or softer each time.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from replay.meters.model import Measurement
from replay.take.model import Track
from replay.take.moments import Moment, frames_of

WITHIN_DB = 20.0
"""A burst stands so near to the loud ones: the accent is some 6 to 12 dB above the other beats."""

LEAST_LEVEL_DB = -70.0
LOUD_RANK = 5
MOST_SOUNDING = 0.7
"""Share of the 100 ms in which something sounds, at most: bursts of the fastest clicks fall into every second one."""

LEAST_BURSTS = 16
REST_CELLS = 2
MOST_CELLS = 10
"""The median burst falls by WITHIN_DB within so many cells of 10 ms."""

INTERVAL_CELLS = (12, 160)
ALIKE_CELLS = 2
"""Both ends of both intervals fall into cells of 10 ms as it happens."""

STEADY_SHARE = 0.8
"""Between songs the click rests and comes back at another rate."""

MOMENTS = 16
MOMENT_HOPS = 2
LEAST_READ = 8
BURST_S = 0.08
BEFORE_S = 0.012
LAG_S = 0.012
COPY = 0.9
MOST_WAVEFORMS = 3
COPIES_SHARE = 0.9
SAME_LEVEL_DB = 0.1
SAME_LEVEL_SHARE = 0.6
"""So many of the bursts are as loud as another one. Of 16 hits spread evenly over 5 dB, 0.45 are by chance."""

LOWEST_HZ, HIGHEST_HZ = 250.0, 6000.0
MULTIPLES = 5
PITCH_SHARE = 0.5
MOST_PITCHES = 2
SAME_PITCH = 0.04


@dataclass(frozen=True)
class ClickTrack:
    """A click on a track: its pitches in Hz, the lowest first, and beats a minute (of all bursts, in the middle)."""

    pitches_hz: tuple[float, ...]
    per_minute: float


def bursts(measurement: Measurement) -> np.ndarray | None:
    """Starts of a track's bursts in cells of 10 ms; None where its histories rule a click track out."""
    try:
        hops = measurement.column("k_energy").astype(np.float64)
    except KeyError:
        return None
    if not _may_be(hops, measurement):
        return None
    cells = measurement.column("k_energy_10ms").astype(np.float64)
    if cells.size < 10 * LEAST_BURSTS:
        return None
    loud = float(np.partition(cells, -LOUD_RANK)[-LOUD_RANK])
    on = np.concatenate(([False], cells > loud * 10 ** (-WITHIN_DB / 10), [False]))
    edges = np.flatnonzero(np.diff(on.astype(np.int8)))
    starts, stops = edges[::2], edges[1::2]
    if starts.size < LEAST_BURSTS:
        return None
    # What falls and rises again within two cells is one burst.
    joined = np.flatnonzero(starts[1:] - stops[:-1] >= REST_CELLS)
    starts, stops = starts[np.concatenate(([0], joined + 1))], stops[np.concatenate((joined, [stops.size - 1]))]
    if starts.size < LEAST_BURSTS or np.median(stops - starts) > MOST_CELLS:
        return None
    intervals = np.diff(starts)
    inside = (intervals >= INTERVAL_CELLS[0]) & (intervals <= INTERVAL_CELLS[1])
    steady = inside[1:] & inside[:-1] & (np.abs(np.diff(intervals)) <= ALIKE_CELLS)
    return starts if steady.mean() >= STEADY_SHARE else None


def _may_be(energy: np.ndarray, measurement: Measurement) -> bool:
    """A quick look at 100 ms: loud ones of short runs, and rest between."""
    if energy.size < LEAST_BURSTS:
        return False
    loud = float(np.partition(energy, -LOUD_RANK)[-LOUD_RANK])
    if loud <= 10 ** (LEAST_LEVEL_DB / 10) * measurement.rate / 10:
        return False
    sounding = energy > loud * 10 ** (-WITHIN_DB / 10)
    first, last = np.flatnonzero(sounding)[[0, -1]]
    return bool(sounding[first : last + 1].mean() <= MOST_SOUNDING and sounding.sum() >= LEAST_BURSTS)


def wanted(tracks: Sequence[Track], measurements: Mapping[int, Measurement]) -> dict[Moment, int]:
    """Moments to read, each with the cell in which its burst starts."""
    asked: dict[Moment, int] = {}
    for row, track in enumerate(tracks):
        measurement = measurements[track.number]
        starts = bursts(measurement)
        if starts is None:
            continue
        # From the cell before a burst to the end of the second 100 ms.
        starts = starts[(starts >= 2) & ((starts - 2) // 10 + MOMENT_HOPS <= measurement.hops)]
        for place in np.unique(np.linspace(0, starts.size - 1, MOMENTS).round().astype(int)):
            start = int(starts[place])
            asked[Moment((start - 2) // 10, MOMENT_HOPS, (row,))] = start
    return asked


def recognised(heard: Sequence[np.ndarray], rate: int) -> tuple[float, ...] | None:
    """The pitches of a click track from the samples (frames,) of its bursts; None where they are no click's."""
    if len(heard) < LEAST_READ:
        return None
    groups: list[list[np.ndarray]] = []
    for burst in heard:
        scaled = burst / np.sqrt(max(float(np.einsum("i,i", burst, burst)), 1e-30))
        near = [(_alike(group[0], scaled, rate), group) for group in groups]
        best = max(near, key=lambda item: item[0], default=(0.0, None))
        if best[1] is not None and best[0] >= COPY:
            best[1].append(scaled)
        else:
            groups.append([scaled])
    groups = sorted(groups, key=len, reverse=True)[:MOST_WAVEFORMS]
    if sum(map(len, groups)) < COPIES_SHARE * len(heard) or not _levels_recur(heard):
        return None
    pitches: list[float] = []
    for group in groups:
        if len(group) < 2:
            continue
        pitch = _pitch(group[0], rate)
        if pitch is None:
            return None
        if all(abs(pitch / other - 1) > SAME_PITCH for other in pitches):
            pitches.append(pitch)
    return tuple(sorted(pitches)) if 0 < len(pitches) <= MOST_PITCHES else None


def _levels_recur(heard: Sequence[np.ndarray]) -> bool:
    """Whether most bursts are as loud as another one."""
    levels = np.sort([10 * np.log10(max(float(np.einsum("i,i", burst, burst)), 1e-30)) for burst in heard])
    near = np.concatenate(([False], np.diff(levels) <= SAME_LEVEL_DB, [False]))
    return bool((near[1:] | near[:-1]).mean() >= SAME_LEVEL_SHARE)


def burst_of(moment: Moment, samples: np.ndarray, start: int, rate: int) -> np.ndarray:
    """float64: one burst out of a moment's samples (frames,), from a little before the cell in which it starts."""
    assert len(samples) == frames_of(moment.hops, rate)
    begin = max(round((start * 0.01 - moment.first * 0.1 - BEFORE_S) * rate), 0)
    part = np.zeros(round((BEFORE_S + BURST_S) * rate))
    there = samples[begin : begin + len(part)].astype(np.float64)
    part[: len(there)] = there
    return part


def _alike(one: np.ndarray, other: np.ndarray, rate: int) -> float:
    """Height of the normalised correlation of two bursts that start within a cell of each other."""
    size = 1 << (2 * len(one) - 1).bit_length()
    product = np.fft.irfft(np.fft.rfft(one, size) * np.conj(np.fft.rfft(other, size)), size)
    lag = round(LAG_S * rate)
    return float(max(product[: lag + 1].max(), product[-lag:].max()))


def _pitch(burst: np.ndarray, rate: int) -> float | None:
    """The pitch at and around whose multiples most of a burst's energy lies; None where there is none."""
    power = burst * burst
    total = float(power.sum())
    # As long as nine tenths of its energy last: that is how narrow its lines can be.
    length = max(
        int(np.searchsorted(np.cumsum(power), 0.95 * total) - np.searchsorted(np.cumsum(power), 0.05 * total)), 1
    )
    size = 1 << (4 * len(burst)).bit_length()
    spectrum = np.abs(np.fft.rfft(burst, size)) ** 2
    hertz = rate / size
    first, last = int(LOWEST_HZ / hertz), min(int(HIGHEST_HZ / hertz), len(spectrum) - 1)
    if last <= first:
        return None
    top = first + int(spectrum[first:last].argmax())
    if spectrum[top] < spectrum.max() * 0.99:
        return None
    half = max(1.0 * rate / length / hertz, 2.0)
    if half > top / 2:
        # So short that no pitch could be heard in it: a tick.
        return None
    held = sum(
        float(spectrum[max(int(top * k - half), 0) : int(top * k + half) + 1].sum()) for k in range(1, MULTIPLES + 1)
    )
    return top * hertz if held >= PITCH_SHARE * float(spectrum.sum()) else None


def find_clicks(
    tracks: Sequence[Track],
    measurements: Mapping[int, Measurement],
    rate: int,
    read: Callable[[Sequence[Track], int, Sequence[Moment]], Iterable[tuple[Moment, np.ndarray]]],
) -> dict[int, ClickTrack]:
    """By track number, the click tracks. Reads a few short moments of those whose histories allow it."""
    asked = wanted(tracks, measurements)
    if not asked:
        return {}
    heard: dict[int, list[np.ndarray]] = {}
    for moment, samples in read(tracks, rate, list(asked)):
        row = moment.rows[0]
        heard.setdefault(row, []).append(burst_of(moment, samples[0], asked[moment], rate))
    found = {}
    for row, parts in heard.items():
        pitches = recognised(parts, rate)
        if pitches is not None:
            number = tracks[row].number
            cells = bursts(measurements[number])
            assert cells is not None
            found[number] = ClickTrack(pitches, round(6000.0 / float(np.median(np.diff(cells))), 1))
    return found
