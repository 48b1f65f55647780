"""What a track sounds like, in the moments when it stands out most from all others.

A vocal microphone holds mostly drums; its own source is heard where it is loud and the rest is not. So every track is
looked at in a handful of moments of 0.4 s that are chosen from the histories, never inside the line check (where one
technician may speak into everything), and what is read there is summed up in a few figures:

bands
    share of the energy below 60, 120, 250, 500 Hz, 1, 2, 4, 8 kHz and above (nine shares that add up to 1), the mean
    over moments
half_hz
    the frequency below which half of the energy lies
crest_db
    sample peak over RMS re 1.0, the median over moments
strike_db
    the loudest 10 ms over the median 10 ms: high for what is struck, low for what is held
voicing, pitch_hz
    height of the highest peak of the autocorrelation between 55 Hz and 1 kHz (1 for a periodic sound), and the pitch
    there; pitch None where voicing is below 0.5
steady
    the share of 10 ms cells within 3 dB of the moment's mean power
click
    whether it was recognised as a click track (`click_track`)
timecode
    whether it was decoded as timecode (`timecode`)
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np

from replay.evidence.outline import highest_return, in_frequency, in_time
from replay.lanes import LANES
from replay.ranks import median

MOMENT_HOPS = 4
MOMENTS = 8
LEAST_MOMENTS = 3
"""So many moments make a sound sure; what plays seldom has fewer, and counts less."""

APART_HOPS = 5
LOUD_WITHIN_DB = 18.0
CLEAR_WITHIN_DB = 8.0
"""Of the moments in which others are louder, those that are so far below the best one say nothing about the track."""

RIVAL = 2
"""Place of the track (from 0, loudest first) that a moment's own track is held against: two may be its company."""

EDGES_HZ = (0, 60, 120, 250, 500, 1000, 2000, 4000, 8000, 1e9)
CELLS = 10 * MOMENT_HOPS
VOICED = 0.5
_PITCH_HZ = (55.0, 1000.0)
_PITCH_BAND_HZ = 4000.0


def dot(x: np.ndarray, y: np.ndarray) -> float:
    """The sum of products. Not `@`: for that numpy's library starts threads of its own, which spin while they wait for
    each other (ten times the time on a busy machine) and add in another order on another number of processors."""
    return float(np.einsum("i,i", x, y))


@dataclass(frozen=True)
class Sound:
    """What a track sounds like (see the module's text). `moments` counts those that count; `standing_out_db` is the
    median of how far the track stood above its rival in them."""

    moments: int
    standing_out_db: float
    bands: tuple[float, ...]
    half_hz: float
    crest_db: float
    strike_db: float
    voicing: float
    pitch_hz: float | None
    steady: float
    click: bool = False
    timecode: bool = False

    @property
    def low(self) -> float:
        """Share of the energy below 120 Hz."""
        return self.bands[0] + self.bands[1]

    @property
    def high(self) -> float:
        """Share of the energy above 4 kHz."""
        return self.bands[7] + self.bands[8]


def standing_out(relative: np.ndarray, usable: np.ndarray) -> list[list[tuple[int, float]]]:
    """For each track its moments as (first hop, how far it stands out in dB), the best first.

    Parameters
    ----------
    relative : float64 (tracks, hops), levels against each track's own loud level; -inf rows for tracks without one
    usable : bool (hops,), hops that may be looked at
    """
    tracks, hops = relative.shape
    count = hops - MOMENT_HOPS + 1
    if count <= 0:
        return [[] for _ in range(tracks)]
    power = 10 ** (np.maximum(relative, -120.0) / 10)
    power[~np.isfinite(relative)] = 0.0
    sums = np.cumsum(np.pad(power, ((0, 0), (1, 0))), axis=1)
    level = 10 * np.log10((sums[:, MOMENT_HOPS:] - sums[:, :-MOMENT_HOPS]) / MOMENT_HOPS + 1e-12)
    held = np.concatenate(([0], np.cumsum(usable)))
    allowed = held[MOMENT_HOPS:] - held[:-MOMENT_HOPS] == MOMENT_HOPS
    place = min(RIVAL + 1, tracks - 1)
    top = -np.sort(-level, axis=0)[: place + 1] if tracks > 1 else level
    out = []
    for row in range(tracks):
        # The rival among the others: one place further down where the track itself is among the loudest.
        rival = np.where(level[row] >= top[min(RIVAL, place)], top[place], top[min(RIVAL, place)])
        score = level[row] - rival
        score = np.where(allowed & (level[row] >= -LOUD_WITHIN_DB), score, -np.inf)
        chosen: list[tuple[int, float]] = []
        while len(chosen) < MOMENTS:
            best = int(score.argmax())
            if not np.isfinite(score[best]):
                break
            chosen.append((best, float(score[best])))
            score[max(best - MOMENT_HOPS - APART_HOPS, 0) : best + MOMENT_HOPS + APART_HOPS] = -np.inf
        out.append(chosen)
    return out


def figures_of(samples: np.ndarray, rate: int) -> list[np.ndarray | None]:
    """Figures of moments: nine band shares, then log2 of half_hz, crest, strike, voicing, pitch (0: none), steady.

    `samples` is float64 (moments, frames). None for silence.
    """
    moments, frames = samples.shape
    windowed, cells = np.empty((moments, frames)), np.empty((moments, CELLS))
    window, scratch = _window(frames), np.empty(LANES)
    times = [in_time(samples[at], window, windowed[at], cells[at], scratch) for at in range(moments)]
    # All rows in one call: numpy prepares every call anew.
    bins = np.fft.rfft(windowed)
    hertz = rate / frames
    low, high = int(40 / hertz), min(int(_PITCH_BAND_HZ / hertz), bins.shape[1] - 1)
    shares, parts = np.empty((moments, len(EDGES_HZ) - 1)), np.empty((moments, 2 * high + 1))
    edges, running = _edges(frames, rate), np.empty(bins.shape[1] + 1)
    halves = [in_frequency(bins[at], edges, low, high, running, shares[at], parts[at]) for at in range(moments)]
    lags = np.fft.irfft(parts)
    found: list[np.ndarray | None] = []
    for at, ((energy, peak), half) in enumerate(zip(times, halves, strict=True)):
        if energy <= 1e-12 * frames or half < 0:
            found.append(None)
            continue
        crest = 20 * np.log10(peak / np.sqrt(energy / frames))
        strike, steady = _in_cells(cells[at] + 1e-12 * energy)
        voicing, pitch = _pitch(lags[at], hertz)
        bright = np.log2(max(half * hertz, 20.0))
        found.append(np.array([*shares[at], bright, crest, strike, voicing, pitch, steady]))
    return found


def _in_cells(cells: np.ndarray) -> tuple[float, float]:
    """The loudest cell over the median in dB, and the share of cells within 3 dB of their mean."""
    steady = np.count_nonzero(np.abs(10 * np.log10(cells / (cells.sum() / CELLS))) <= 3) / CELLS
    return 10 * np.log10(cells.max() / median(cells)), steady


@cache
def _window(frames: int) -> np.ndarray:
    return np.hanning(frames)


@cache
def _edges(frames: int, rate: int) -> np.ndarray:
    """The edges of the bands in bins of a transform of so many frames."""
    return np.minimum((np.array(EDGES_HZ) / (rate / frames)).astype(int), frames // 2 + 1)


def _pitch(lags: np.ndarray, hertz: float) -> tuple[float, float]:
    """Voicing and pitch from the autocorrelation of the part below 4 kHz."""
    if lags[0] <= 0:
        return 0.0, 0.0
    rate = hertz * len(lags)
    first, last = int(rate / _PITCH_HZ[1]), min(int(rate / _PITCH_HZ[0]), len(lags) // 2)
    at, height = highest_return(lags, first, last)
    # The Hann window weighs later lags less; 0.4 s against at most 18 ms hardly matters.
    return (max(height, 0.0), rate / at) if at else (0.0, 0.0)


def sum_up(moments: Sequence[np.ndarray], standing: Sequence[float]) -> Sound | None:
    """A track's sound from the figures of its moments; None where there are none."""
    if not moments:
        return None
    # What plays seldom stands out a few times only: the other moments hold what it hears of the others.
    clear = [place for place, above in enumerate(standing) if above >= min(max(standing) - CLEAR_WITHIN_DB, 0.0)]
    moments, standing = [moments[place] for place in clear], [standing[place] for place in clear]
    table = np.array(moments)
    middle = np.median(table, axis=0)
    shares = table[:, :9].mean(axis=0)
    voiced = table[table[:, 12] >= VOICED]
    return Sound(
        moments=len(moments),
        standing_out_db=float(np.median(standing)),
        bands=tuple(float(share) for share in shares),
        half_hz=float(2 ** middle[9]),
        crest_db=float(middle[10]),
        strike_db=float(middle[11]),
        voicing=float(middle[12]),
        pitch_hz=float(np.median(voiced[:, 13])) if len(voiced) >= LEAST_MOMENTS else None,
        steady=float(middle[14]),
    )
