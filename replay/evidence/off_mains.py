"""Lines of the mains at a rate that no mains have: the sample rate is not what the files claim.

Recorded at 44.1 kHz and taken for 48, 50 Hz become 54.42 and 60 Hz 65.31; the other way round 45.94 and 55.13. The
meter of the mains looks beside 50 and 60 Hz only, so the quietest stretch of each third of the take is read again, of
the few tracks that hum most there.

A note can lie near such a line (A1 is 55.00 Hz, C2 65.41). So several multiples must agree on one fundamental, one of
them odd, within what the mains move: 0.4 % for 50 Hz, 0.1 % for 60 Hz (networks of 60 Hz are steadier; the notes are
0.23 and 0.15 % off), and stand alike in stretches far apart. Limits are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from replay.grid import hop_starts
from replay.meters.model import Measurement
from replay.take.model import Track
from replay.take.moments import Moment, read_moments

LOW_BANDS = tuple(f"band_{band}" for band in range(4))
"""At 48 kHz up to 375 Hz."""

STRETCH_HOPS = 30
"""Three seconds: lines are told apart and measured to some hundredths of a hertz."""

PARTS = 3
LEAST_HOPS = 300
LEAST_LEVEL_DB = -100.0
LOW_SHARE = 0.5
MOST_TRACKS = 12
STREAM_HZ = 3000
MULTIPLES = 9
LEAST_MULTIPLES = 3
NEAR = 0.006
AGREE_HZ = 0.04
BESIDE_HZ = (3.0, 9.0)
STANDS = 10**1.3
"""As in the check of hum: noise alone reaches 8 dB over what lies beside it now and then, never 13."""

LEAST_STRETCHES = 2
ALIKE_DB = 3.0

RATIOS = ((48000, 44100), (44100, 48000))
"""What the files claim against what they ran at. Half and double cannot be told: 100 Hz is the mains' own too."""

NOMINAL = ((50.0, 0.004), (60.0, 0.001))


@dataclass(frozen=True)
class OffMains:
    """Lines on a track: the fundamental as it stands in the files, the mains' own in Hz, and the factor between."""

    track: int
    hz: float
    nominal: float
    ratio: float


def find_off_mains(tracks: Sequence[Track], measurements: Mapping[int, Measurement], rate: int) -> dict[int, OffMains]:
    """By track number, where lines of mains stand that run at the wrong speed."""
    asked: list[tuple[float, int, list[int]]] = []
    for row, track in enumerate(tracks):
        found = _stretches(measurements[track.number])
        if found is not None:
            asked.append((found[0], row, found[1]))
    asked.sort(reverse=True)
    moments: dict[int, list[int]] = {}
    for _, row, firsts in asked[:MOST_TRACKS]:
        for first in firsts:
            moments.setdefault(first, []).append(row)
    wanted = [Moment(first, STRETCH_HOPS, tuple(sorted(rows))) for first, rows in moments.items()]
    heard: dict[int, list[dict[tuple[float, float], tuple[float, float]]]] = {}
    for moment, samples in read_moments(tracks, rate, wanted):
        for row, one in zip(moment.rows, samples, strict=True):
            heard.setdefault(row, []).append(lines(one, rate))
    out = {}
    for row, stretches in heard.items():
        one = _standing(tracks[row].number, stretches)
        if one is not None:
            out[tracks[row].number] = one
    return out


def _stretches(measurement: Measurement) -> tuple[float, list[int]] | None:
    """How strong the low octaves are in the quietest stretches of a track, and where these begin; None where what is
    there is no hum."""
    if measurement.hops < LEAST_HOPS:
        return None
    try:
        low = np.sum([measurement.column(name).astype(np.float64) for name in LOW_BANDS], axis=0)
    except KeyError:
        return None
    energy = measurement.column("energy")
    frames = np.diff(hop_starts(measurement.hops, measurement.rate))
    usable = measurement.whole_hops() & (energy > 0)
    window = np.ones(STRETCH_HOPS)
    sums = np.convolve(np.where(usable, energy / frames, np.inf), window, "valid")
    firsts = []
    for part in np.array_split(np.arange(sums.size), PARTS):
        best = int(part[np.argmin(sums[part])])
        if np.isfinite(sums[best]):
            firsts.append(best)
    if len(firsts) < LEAST_STRETCHES:
        return None
    held = np.concatenate([np.arange(first, first + STRETCH_HOPS) for first in firsts])
    lower = float(low[held].sum()) / float(frames[held].sum())
    if lower < 10 ** (LEAST_LEVEL_DB / 10) or float(low[held].sum()) < LOW_SHARE * float(energy[held].sum()):
        return None
    return lower, firsts


def lines(samples: np.ndarray, rate: int) -> dict[tuple[float, float], tuple[float, float]]:
    """By (mains' own frequency, ratio): fundamental in Hz and the power of all multiples that stand and agree on it."""
    step = max(rate // STREAM_HZ, 1)
    whole = len(samples) // step * step
    x = samples[:whole].astype(np.float64).reshape(-1, step).mean(axis=1)
    x = (x - x.mean()) * np.hanning(len(x))
    power = np.abs(np.fft.rfft(x)) ** 2
    width = rate / step / len(x)
    out = {}
    for claimed, real in RATIOS:
        for nominal, within in NOMINAL:
            centre = nominal * claimed / real
            found = [one for k in range(1, MULTIPLES + 1) if (one := _line(power, width, centre * k)) is not None]
            multiples = [(round(hz / centre), hz / round(hz / centre), level) for hz, level in found]
            if len(multiples) < LEAST_MULTIPLES:
                continue
            middle = float(np.median([hz for _, hz, _ in multiples]))
            agreeing = [one for one in multiples if abs(one[1] - middle) <= AGREE_HZ]
            if len(agreeing) < LEAST_MULTIPLES or not any(k % 2 for k, _, _ in agreeing):
                continue
            # A higher multiple tells the fundamental so much better.
            hz = sum(k * one for k, one, _ in agreeing) / sum(k for k, _, _ in agreeing)
            if abs(hz / centre - 1) <= within:
                out[nominal, claimed / real] = hz, sum(level for _, _, level in agreeing)
    return out


def _line(power: np.ndarray, width: float, hz: float) -> tuple[float, float] | None:
    """Frequency and power of the line near `hz`, where one stands out of what lies beside it."""
    first, last = int(np.ceil(hz * (1 - NEAR) / width)), int(hz * (1 + NEAR) / width)
    first, last = min(first, round(hz / width) - 1), max(last, round(hz / width) + 1)
    if first < 1 or last + BESIDE_HZ[1] / width + 2 > len(power):
        return None
    at = first + int(power[first : last + 1].argmax())
    inner = max(BESIDE_HZ[0], hz * NEAR + 2.5 * width)
    reach = [
        round((hz + side * far) / width) for side in (-1, 1) for far in (inner, inner + BESIDE_HZ[1] - BESIDE_HZ[0])
    ]
    beside = np.concatenate((power[max(reach[1], 0) : reach[0] + 1], power[reach[2] : reach[3] + 1]))
    if power[at] <= STANDS * beside.mean() or power[at] < max(power[at - 1], power[at + 1]):
        return None
    left, middle, right = np.sqrt(power[at - 1 : at + 2])
    # A Hann window's main lobe: the offset from the larger neighbour.
    offset = (2 * right - middle) / (right + middle) if right > left else -(2 * left - middle) / (left + middle)
    return (at + float(offset)) * width, float(power[at])


def _standing(number: int, stretches: Sequence[Mapping[tuple[float, float], tuple[float, float]]]) -> OffMains | None:
    """The lines that stand alike in several stretches."""
    best = None
    for family in {family for one in stretches for family in one}:
        seen = [one[family] for one in stretches if family in one]
        levels = [10 * np.log10(level) for _, level in seen]
        if len(seen) < LEAST_STRETCHES or max(levels) - min(levels) > ALIKE_DB:
            continue
        if best is None or len(seen) > best[0]:
            hz = float(np.median([one for one, _ in seen]))
            best = len(seen), OffMains(number, round(hz, 3), *family)
    return None if best is None else best[1]
