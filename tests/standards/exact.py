"""A second meter, written literally from the documents in float64, as a witness for the signals and for the program.

Rec. ITU-R BS.1770-5 (11/2023) Annex 1 at 48 kHz only, where its coefficients are published; EBU Tech 3342 V4 for the
loudness range; true peak by 32 times oversampling. It is slow, holds everything in memory, and shares no code with the
program.
"""

from __future__ import annotations

import math

import numpy as np

SHELF = ([1.53512485958697, -2.69169618940638, 1.19839281085285], [1.0, -1.69065929318241, 0.73248077421585])
HIGH_PASS = ([1.0, -2.0, 1.0], [1.0, -1.99004745483398, 0.99007225036621])
"""Annex 1, Tables 1 and 2."""

RATE = 48000


def weighted_power(signal: np.ndarray) -> np.ndarray:
    """Squared K-weighted samples, summed over the channels of (frames, channels) at weight 1."""
    from scipy.signal import lfilter

    out = lfilter(*HIGH_PASS, lfilter(*SHELF, signal, axis=0), axis=0)
    return np.sum(out**2, axis=1)


def sliding(power: np.ndarray, window_s: float, hop_s: float) -> np.ndarray:
    """Mean power over windows that lie wholly inside, a window each hop."""
    window, hop = round(window_s * RATE), round(hop_s * RATE)
    total = np.concatenate([[0.0], np.cumsum(power)])
    starts = np.arange(0, len(power) - window + 1, hop)
    return np.maximum(total[starts + window] - total[starts], 0) / window


def loudness(power: float) -> float:
    """LKFS of a mean power; minus infinity for none. Equation 2."""
    return -0.691 + 10 * math.log10(power) if power > 0 else -math.inf


def momentary_max(signal: np.ndarray) -> float:
    return loudness(float(sliding(weighted_power(signal), 0.4, 0.01).max()))


def short_term_max(signal: np.ndarray) -> float:
    return loudness(float(sliding(weighted_power(signal), 3.0, 0.01).max()))


def integrated(signal: np.ndarray, *, relative_lu: float | None = -10.0, absolute: float | None = -70.0) -> float:
    """Gated loudness, equations 3 to 7; with other gates (None: none), to see what a wrong meter would read."""
    blocks = sliding(weighted_power(signal), 0.4, 0.1)
    levels = np.array([loudness(power) for power in blocks])
    keep = levels > absolute if absolute is not None else np.ones(len(levels), bool)
    if relative_lu is not None:
        keep &= levels > loudness(float(blocks[keep].mean())) + relative_lu
    return loudness(float(blocks[keep].mean()))


def loudness_range(signal: np.ndarray, *, tail_s: float = 1.5) -> float:
    """LU. EBU Tech 3342 section 3.1: 3 s windows at 10 Hz, gates at -70 LUFS and -20 LU, percentiles 10 and 95."""
    padded = np.concatenate([signal, np.zeros((round(tail_s * RATE), signal.shape[1]))])
    powers = sliding(weighted_power(padded), 3.0, 0.1)
    levels = np.array([loudness(power) for power in powers])
    kept = levels >= -70
    gate = loudness(float(powers[kept].mean())) - 20
    ordered = np.sort(levels[kept & (levels >= gate)])

    def rank(percent: float) -> float:
        return float(ordered[math.floor((len(ordered) - 1) * percent / 100 + 1 + 0.5) - 1])

    return rank(95) - rank(10)


UNDER_READ = 0.92
"""4 times oversampling reads a tone at 0.45 of the rate at most 0.554 dB low (BS.1770-5, Attachment 1 to Annex 2):
0.938. What stays further below the highest peak cannot hold it."""


def true_peak(samples: np.ndarray, *, times: int = 32, taps_a_side: int = 96) -> float:
    """Largest absolute value of samples (frames,) after oversampling, linear; flat to 0.47 of the rate.

    Long signals are looked at closely only where a coarse look (4 times) comes near the highest peak.
    """
    from scipy.signal import firwin, upfirdn

    def low_pass(factor: int, taps: int) -> np.ndarray:
        return firwin(2 * taps * factor + 1, 1 / factor, window=("kaiser", 12.0)) * factor

    block, reach = 1024, 2 * taps_a_side
    padded = np.pad(samples, (reach, reach + block))
    starts = np.arange(0, len(samples), block)
    if len(samples) > 20 * block:
        coarse = np.abs(upfirdn(low_pass(4, 24), padded, up=4))
        peaks = np.array([coarse[4 * start : 4 * (start + block + 2 * reach)].max() for start in starts])
        starts = starts[peaks >= UNDER_READ * peaks.max()]
    fine = low_pass(times, taps_a_side)
    largest = float(np.abs(samples).max())
    for start in starts:
        part = upfirdn(fine, padded[start : start + block + 2 * reach], up=times)
        # Only what the whole filter has seen: where the block was cut is no peak of the signal.
        edge = 2 * taps_a_side * times
        largest = max(largest, float(np.abs(part[edge : len(part) - edge]).max()))
    return largest


def true_peak_db(samples: np.ndarray) -> float:
    return 20 * math.log10(true_peak(samples))
