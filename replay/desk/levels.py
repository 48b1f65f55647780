"""Levels of a stretch of a track, as recorded or at another gain: exact, gates redone on the scaled histories.

How each figure moves with a gain of g dB: peaks, RMS, floor, DC, momentary and short-term shift by g; crest stays;
integrated loudness, loudness range and time active shift or stay only where no gate is crossed, so they are gated anew.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from replay.desk.model import Levels
from replay.grid import CELLS_PER_HOP, cell_starts, hop_starts
from replay.meters import loudness as lufs
from replay.meters.active import active
from replay.meters.again import resolve
from replay.meters.model import Measurement
from replay.meters.noise_floor import noise_floor
from replay.meters.notes import Notes
from replay.meters.peak import sample_peak
from replay.meters.power import mean_square, offset
from replay.meters.thumps import mask
from replay.meters.true_peak import played
from replay.meters.window import sliding_sums
from replay.units import FULL_SCALE_SINE_RMS_DB, amplitude, db, db_power, finite

LONE_DB = 6.0
"""A highest peak this much above the played peak is called a lone peak."""

ReadAgain = Callable[[Sequence[int]], np.ndarray]
Once = Callable[[str, Callable[[], Any]], Any]


@dataclass(frozen=True)
class Loudness:
    """K-weighted mean squares over a stretch: what loudness figures at any gain are read from.

    `blocks` are the 400 ms gating blocks, `windows` the 3 s windows at 10 Hz, both only where the track exists;
    `momentary` and `short` the maxima on a 10 ms grid (0 where there is no whole window).
    """

    blocks: np.ndarray
    windows: np.ndarray
    momentary: float
    short: float


def _windows(sums: np.ndarray, whole: np.ndarray, starts: np.ndarray, length: int) -> np.ndarray:
    """Mean squares of all windows of `length` grid steps that exist as a whole."""
    totals = sliding_sums(sums, length)
    if len(totals) == 0:
        return totals
    frames = starts[length:] - starts[:-length]
    if whole.all():
        return totals / frames
    exists = sliding_sums(whole.astype(np.float64), length) == length
    return totals[exists] / frames[exists]


def _added(histories: Sequence[np.ndarray]) -> np.ndarray:
    total = np.array(histories[0], np.float64)
    for history in histories[1:]:
        total += history
    return total


def _ends_with(measurement: Measurement, last: int) -> bool:
    """Whether hop `last` - 1 is there from its start, up to its end or to the track's."""
    start, stop = (int(frame) for frame in hop_starts(last, measurement.rate)[-2:])
    ends = [end for begin, end in measurement.coverage if begin <= start < end]
    return bool(ends) and (ends[0] >= stop or (last == measurement.hops and ends[0] == measurement.coverage[-1][1]))


def loudness_of(measurements: Sequence[Measurement], first: int, last: int, once: Once | None = None) -> Loudness:
    """Loudness over hops `first` to `last` - 1: of one track, or of several as one programme (powers add).

    `once` is asked for what takes long to find, and may know it (`Measurement.once`).
    """
    rate = measurements[0].rate
    hop_sums = _added([one.column("k_energy")[first:last] for one in measurements])
    whole_hops = np.logical_and.reduce([one.whole_hops()[first:last] for one in measurements])
    starts = hop_starts(last, rate)[first:]
    tail = lufs.TAIL_HOPS
    # The tail of silence is part of the loudness range's windows only.
    tailed = np.concatenate([hop_sums, np.zeros(tail)])
    tail_starts = np.concatenate([starts, starts[-1] + np.arange(1, tail + 1) * rate // 10])
    tail_whole = np.concatenate([whole_hops, np.ones(tail, bool)])
    if last > first:
        # Where the tracks end within the last hop, the silence behind them completes it.
        tail_whole[last - first - 1] |= all(_ends_with(one, last) for one in measurements)
    question = f"loudness maxima {first} {last}"
    momentary, short = (once or Notes().once)(question, lambda: _maxima(measurements, first, last))
    return Loudness(
        blocks=_windows(hop_sums, whole_hops, starts, lufs.BLOCK_HOPS),
        windows=_windows(tailed, tail_whole, tail_starts, lufs.SHORT_HOPS),
        momentary=momentary,
        short=short,
    )


def _maxima(measurements: Sequence[Measurement], first: int, last: int) -> tuple[float, float]:
    """The greatest mean squares of windows of 400 ms and of 3 s."""
    cells = slice(CELLS_PER_HOP * first, CELLS_PER_HOP * last)
    sums = _added([one.column("k_energy_10ms")[cells].astype(np.float64) for one in measurements])
    whole = np.logical_and.reduce([one.whole_cells()[cells] for one in measurements])
    starts = cell_starts(CELLS_PER_HOP * last, measurements[0].rate)[CELLS_PER_HOP * first :]
    return _greatest(sums, whole, starts, lufs.MOMENTARY_CELLS), _greatest(sums, whole, starts, lufs.SHORT_CELLS)


def _greatest(sums: np.ndarray, whole: np.ndarray, starts: np.ndarray, length: int) -> float:
    """The greatest mean square of all windows of `length` cells that exist as a whole; 0 where there is none.

    Windows that begin on a hop give a first maximum; what a window between them can reach is bounded by the hops that
    it touches, and only where that exceeds the maximum are its neighbours looked at. On an hour of music that is a
    few windows in a thousand.
    """
    step, hops = CELLS_PER_HOP, len(sums) // CELLS_PER_HOP
    coarse = np.asarray(sums[: hops * step].reshape(hops, step).sum(axis=1))
    touched = sliding_sums(coarse, length // step + 1)
    if len(touched) == 0:
        return float(_windows(sums, whole, starts, length).max(initial=0.0))
    fewest = int((starts[length:] - starts[:-length]).min())
    exists = np.asarray(whole[: hops * step].reshape(hops, step).all(axis=1), np.float64)
    exact = sliding_sums(exists, length // step)
    aligned = sliding_sums(coarse, length // step)
    # Rounding differs between ways of adding: the margin makes up for it on both sides.
    most = float((aligned[exact == length // step]).max(initial=0.0)) / (fewest + 1) * (1 - 1e-6)
    found = 0.0
    worth = touched / fewest * (1 + 1e-6) >= most
    worth[-1] = True
    edges = np.flatnonzero(np.diff(np.concatenate([[False], worth, [False]]).astype(np.int8)))
    for first, last in zip(edges[::2] * step, edges[1::2] * step, strict=True):
        # The last windows of all touch fewer hops than the bound counts: they are always looked at.
        last = len(sums) if last == step * len(worth) else min(last + length, len(sums))
        part = _windows(sums[first:last], whole[first:last], starts[first : last + 1], length)
        found = max(found, float(part.max(initial=0.0)))
    return found


@dataclass(frozen=True)
class Stretch:
    """What is read once of a stretch of a track (linear), from which levels at any gain follow. `squares` are the mean
    squares of the hops that exist as a whole."""

    start_s: float
    peaks: np.ndarray
    thumps: np.ndarray
    sample_peak: float
    mean_square: float
    offset: float
    floor: float | None
    squares: np.ndarray
    loudness: Loudness
    _active_hops: dict[float, int] = field(default_factory=dict, init=False, compare=False, repr=False)

    def active_hops(self, gain_db: float = 0.0) -> int:
        """In how many whole hops something plays at a gain; worked out once for a gain."""
        if gain_db not in self._active_hops:
            playing = active(self.squares * amplitude(gain_db) ** 2) if len(self.squares) else np.zeros(0, bool)
            self._active_hops[gain_db] = int(playing.sum())
        return self._active_hops[gain_db]

    def active_s(self, gain_db: float = 0.0) -> float:
        """Seconds in which something plays at a gain."""
        return self.active_hops(gain_db) / 10


def stretch(
    measurement: Measurement, first: int, last: int, read_again: ReadAgain, *, without_thumps: bool = True
) -> Stretch:
    """Read a track's histories over hops `first` to `last` - 1 (cut to those that the track has).

    `without_thumps`: the played peak leaves out rare pulses below the range of music (`replay.meters.thumps`).

    True peaks are those of a stretch that lies 17 frames earlier (`true_peak.DELAY`).
    """
    last = max(first, min(last, measurement.hops))
    part = slice(first, last)
    energy = measurement.column("energy")[part]
    present = measurement.present()[part]
    whole = measurement.whole_hops()[part]
    frames = int(present.sum())
    squares = energy[whole] / present[whole]
    least, most = measurement.column("true_peak")[part], measurement.column("true_peak_limit")[part]
    thumps = mask(measurement)[part] if without_thumps else np.zeros(last - first, bool)
    return Stretch(
        start_s=first / 10,
        peaks=resolve(least, most, lambda hops: read_again([first + hop for hop in hops]), thumps),
        thumps=thumps,
        sample_peak=sample_peak(measurement.column("high")[part], measurement.column("low")[part]),
        mean_square=mean_square(energy, frames),
        offset=offset(measurement.column("sum")[part], frames),
        floor=noise_floor(squares),
        squares=squares,
        loudness=loudness_of([measurement], first, last, measurement.once),
    )


def levels(part: Stretch, gain_db: float = 0.0) -> Levels:
    """The figures of a stretch at a gain in dB (0: as recorded)."""
    gain = amplitude(gain_db)
    peaks = part.peaks * gain
    highest = int(peaks.argmax()) if len(peaks) else 0
    true_peak = db(float(peaks[highest])) if len(peaks) else None
    recurring = played(np.where(part.thumps, 0.0, peaks))
    recurring_db = db(recurring) if recurring else None
    lone = true_peak is not None and recurring_db is not None and true_peak - recurring_db >= LONE_DB
    peak_s = part.start_s + highest / 10 if len(peaks) and peaks[highest] > 0 else None
    mean = part.mean_square * gain**2
    dc = abs(part.offset) * gain
    figures = Levels(
        sample_peak_dbfs=finite(db(part.sample_peak * gain)),
        true_peak_dbtp=finite(true_peak),
        true_peak_s=peak_s,
        played_peak_dbtp=finite(recurring_db),
        lone_peak_s=peak_s if lone else None,
        rms_dbfs=finite(db_power(mean) + FULL_SCALE_SINE_RMS_DB),
        crest_db=finite(db(part.sample_peak * gain) - db_power(mean)) if mean > 0 else None,
        noise_floor_dbfs=finite(db_power(part.floor * gain**2) + FULL_SCALE_SINE_RMS_DB) if part.floor else None,
        dc_dbfs=finite(db(dc)),
        active_percent=100 * (part.active_hops(gain_db) / len(part.squares)) if len(part.squares) else None,
    )
    return replace(figures, **loudness_figures(part.loudness, gain**2))


def loudness_figures(part: Loudness, power_gain: float = 1.0) -> dict[str, float | None]:
    """The loudness figures of `Levels` and `PairView` at a gain given as a factor of power."""
    return {
        "integrated_lufs": finite(lufs.integrated(part.blocks * power_gain)),
        "momentary_max_lufs": finite(lufs.loudness(part.momentary * power_gain)),
        "short_term_max_lufs": finite(lufs.loudness(part.short * power_gain)),
        "loudness_range_lu": lufs.loudness_range(part.windows * power_gain),
    }
