"""Which tracks are alike: one source on two tracks, the sides of a pair, two microphones on one instrument.

Sieve: the rise and fall of 100 ms levels, with the slow swell of the music taken off, correlated for all pairs. What
passes is held against each other in moments of audio: lag first (the highest peak of the correlation either way, within
30 ms, which is 10 m of sound), then the polarity at that peak, the gain, and what is left after both are taken off. A
copy leaves less than -40 dB whatever its gain, polarity and delay of whole samples (a copy of 24 bits and back leaves
less than -100); two microphones never come below -20; a healthy stereo pair can be mono at its loudest moment, so a
copy has to be one in all moments.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from functools import cache

import numpy as np

from replay.evidence.model import Likeness
from replay.evidence.sound import dot

SWELL_HOPS = 21
DEEPEST_DB = -45.0
TOGETHER = 0.55
"""Pairs whose rise and fall correlate more are held against each other."""

LAG_S = 0.03
COPY_HEIGHT = 0.99
PAIRS_A_TRACK = 3
LEAST_MOMENTS = 3
AT_ONE_LAG = 0.5
STEP, MOST_STEPS = 8, 4


def together(relative: np.ndarray) -> np.ndarray:
    """float64 (tracks, tracks): correlation of rise and fall; NaN for tracks without loud moments.

    `relative` is float64 (tracks, hops), levels against each track's own loud level; -inf rows for tracks without one.
    """
    there = np.isfinite(relative).any(axis=1)
    out = np.full((len(relative), len(relative)), np.nan)
    if relative.shape[1] < 3 * SWELL_HOPS or there.sum() < 2:
        return out
    levels = np.maximum(np.nan_to_num(relative[there], nan=-200.0, neginf=-200.0), DEEPEST_DB)
    sums = np.cumsum(np.pad(levels, ((0, 0), (SWELL_HOPS // 2 + 1, SWELL_HOPS // 2)), mode="edge"), axis=1)
    levels = levels - (sums[:, SWELL_HOPS:] - sums[:, :-SWELL_HOPS]) / SWELL_HOPS
    levels -= levels.mean(axis=1, keepdims=True)
    norms = np.sqrt((levels**2).sum(axis=1))
    norms[norms == 0] = np.inf
    levels /= norms[:, None]
    out[np.ix_(there, there)] = levels @ levels.T
    return out


def candidates(correlation: np.ndarray) -> list[tuple[int, int]]:
    """Pairs of rows worth a comparison of samples: each row's few best ones."""
    found: set[tuple[int, int]] = set()
    for row, values in enumerate(correlation):
        ranked = np.argsort(-np.nan_to_num(np.where(np.arange(len(values)) == row, -1.0, values), nan=-1.0))
        for other in ranked[:PAIRS_A_TRACK]:
            if values[other] >= TOGETHER and other != row:
                found.add((min(row, int(other)), max(row, int(other))))
    return sorted(found)


def compare(x: np.ndarray, y: np.ndarray, rate: int) -> tuple[int, float, float, float | None] | None:
    """One moment of two tracks: (lag of y in frames, gain of y, height, residual in dB where they are nearly the same).

    The gain is negative where polarity differs. None where one is silent.
    """
    spectra = [np.fft.rfft(side.astype(np.float64), transform_size(len(x), rate)) for side in (x, y)]
    return compare_spectra(spectra[0], spectra[1], x, y, rate)


@cache
def transform_size(frames: int, rate: int) -> int:
    """A length that the transform likes (twos, and at most four threes) and that the lags do not wrap around.

    >>> transform_size(19200, 48000)  # 2 ** 8 * 3 ** 4
    20736
    """
    least = frames + round(LAG_S * rate)
    # At least one two: the transform back gives an even number of lags.
    return min(threes << max(1, (-(-least // threes) - 1).bit_length()) for threes in (1, 3, 9, 27, 81))


def compare_spectra(
    a: np.ndarray, b: np.ndarray, x: np.ndarray, y: np.ndarray, rate: int
) -> tuple[int, float, float, float | None] | None:
    energy_x, energy_y = dot(x, x), dot(y, y)
    if energy_x <= 1e-12 * len(x) or energy_y <= 1e-12 * len(y):
        return None
    # A little whitening: the lowest note alone would make every lag nearly right.
    cross = np.conj(a) * b
    heights = np.abs(cross)
    weights = 1 / np.sqrt(heights + 1e-3 * heights.max() + 1e-30)
    # One by one: numpy divides by a real number as by a complex one.
    cross.real *= weights
    cross.imag *= weights
    lags = np.fft.irfft(cross)
    reach = round(LAG_S * rate)
    near = np.concatenate((lags[-reach:], lags[: reach + 1]))
    lag = int(np.abs(near).argmax()) - reach
    x, y = x.astype(np.float64), y.astype(np.float64)
    found = _at_lag(x, y, lag)
    if found is not None and found[1] >= 0.9:
        # Of low notes the whitened peak may lie some samples beside the true one.
        for _ in range(MOST_STEPS):
            middle = lag
            near_by = [(one, _at_lag(x, y, one)) for one in range(lag - STEP, lag + STEP + 1)]
            lag, found = max(((one, at) for one, at in near_by if at is not None), key=lambda item: item[1][1])
            if abs(lag - middle) < STEP:
                break
    if found is None:
        return None
    gain, height = found
    if height < COPY_HEIGHT:
        return lag, gain, height, None
    head, tail = _overlap(x, y, lag)
    rest = tail - gain * head
    return lag, gain, height, float(10 * np.log10(max(dot(rest, rest) / dot(tail, tail), 1e-16)))


def _overlap(x: np.ndarray, y: np.ndarray, lag: int) -> tuple[np.ndarray, np.ndarray]:
    return (x[: len(x) - lag], y[lag:]) if lag >= 0 else (x[-lag:], y[: len(y) + lag])


def _at_lag(x: np.ndarray, y: np.ndarray, lag: int) -> tuple[float, float] | None:
    """Gain of y and height of the correlation at one lag; None for silence."""
    head, tail = _overlap(x, y, lag)
    power_x, power_y, product = dot(head, head), dot(tail, tail), dot(head, tail)
    if power_x <= 0 or power_y <= 0:
        return None
    return product / power_x, abs(product) / float(np.sqrt(power_x * power_y))


def sum_up(
    a: int, b: int, found: Iterable[tuple[int, float, float, float | None] | None], rate: int
) -> Likeness | None:
    """What the moments of one pair agree on; None for fewer than LEAST_MOMENTS."""
    moments = [one for one in found if one is not None]
    if len(moments) < LEAST_MOMENTS:
        return None
    clearest = sorted(moments, key=lambda one: -one[2])
    lag = int(np.median([one[0] for one in clearest[: max(LEAST_MOMENTS, len(clearest) // 2)]]))
    near = [one for one in moments if abs(one[0] - lag) <= max(1, round(0.0005 * rate))]
    if not near:
        return Likeness(a, b, lag / rate, 0.0, False, 0.0, None, 0, len(moments))
    turned = sum(1 for one in near if one[1] < 0)
    inverted = turned > len(near) / 2
    agreeing = [one for one in near if (one[1] < 0) == inverted]
    return Likeness(
        a=a,
        b=b,
        lag_s=float(np.median([one[0] for one in agreeing])) / rate,
        gain_db=float(np.median([20 * np.log10(abs(one[1]) + 1e-12) for one in agreeing])),
        inverted=inverted,
        height=float(np.median([one[2] for one in agreeing])),
        residual_db=_left(moments, lag),
        moments=len(agreeing),
        asked=len(moments),
    )


def _left(moments: Sequence[tuple[int, float, float, float | None]], lag: int) -> float | None:
    """What is left of a copy in its worst moment; None where one moment is no copy.

    Of a low note alone the best lag may lie samples beside the true one, and what is left says nothing there: so where
    most moments have one lag to the sample, it is asked of those.
    """
    residuals = [(one[0], one[3]) for one in moments if one[3] is not None]
    if len(residuals) < len(moments):
        return None
    exact = [left for at, left in residuals if at == lag]
    return max(exact) if len(exact) >= AT_ONE_LAG * len(moments) else max(left for _, left in residuals)


def as_mapping(numbers: tuple[int, ...], correlation: np.ndarray) -> Mapping[tuple[int, int], float]:
    """The correlation matrix by pairs of track numbers."""
    return {
        (min(numbers[a], numbers[b]), max(numbers[a], numbers[b])): float(correlation[a, b])
        for a in range(len(numbers))
        for b in range(a + 1, len(numbers))
        if np.isfinite(correlation[a, b])
    }
