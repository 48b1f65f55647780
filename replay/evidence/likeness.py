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

from replay.evidence.alignment import lay_over, whiten
from replay.evidence.model import Likeness
from replay.lanes import LANES

SWELL_HOPS = 21
DEEPEST_DB = -45.0
TOGETHER = 0.55
"""Pairs whose rise and fall correlate more are held against each other."""

LAG_S = 0.03
COPY_HEIGHT = 0.99
PAIRS_A_TRACK = 3
LEAST_MOMENTS = 3
AT_ONE_LAG = 0.5

Compared = tuple[int, float, float, float | None] | None
"""What `compare` gives."""


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


def compare(x: np.ndarray, y: np.ndarray, rate: int) -> Compared:
    """One moment of two tracks: (lag of y in frames, gain of y, height, residual in dB where they are nearly the same).

    The gain is negative where polarity differs. None where one is silent.
    """
    return compare_all(np.stack([x, y]).astype(np.float64), [(0, 1)], rate)[0]


def compare_all(samples: np.ndarray, pairs: Sequence[tuple[int, int]], rate: int) -> list[Compared]:
    """`compare` of pairs of rows of `samples`, float64 (rows, frames). All rows are transformed in one call: numpy
    prepares every call anew."""
    if not pairs:
        return []
    rows = sorted({row for pair in pairs for row in pair})
    # In double precision numpy takes half the time; what follows needs no more than single.
    transformed = np.fft.rfft(samples[rows], transform_size(samples.shape[1], rate)).astype(np.complex64)
    spectra = dict(zip(rows, transformed, strict=True))
    crosses = np.empty((len(pairs), transformed.shape[1]), np.complex64)
    for cross, (a, b) in zip(crosses, pairs, strict=True):
        whiten(spectra[a], spectra[b], cross)
    lags = np.fft.irfft(crosses)
    return [_nearest(samples[a], samples[b], own, rate) for own, (a, b) in zip(lags, pairs, strict=True)]


def _nearest(x: np.ndarray, y: np.ndarray, lags: np.ndarray, rate: int) -> Compared:
    found = np.zeros(4)
    if not lay_over(x, y, lags, round(LAG_S * rate), COPY_HEIGHT, np.zeros(LANES), found):
        return None
    lag, gain, height, left = found.tolist()
    return int(lag), gain, height, None if left < 0 else float(10 * np.log10(max(left, 1e-16)))


@cache
def transform_size(frames: int, rate: int) -> int:
    """A length that the transform likes (twos, and at most four threes) and that the lags do not wrap around.

    >>> transform_size(19200, 48000)  # 2 ** 8 * 3 ** 4
    20736
    """
    least = frames + round(LAG_S * rate)
    # At least one two: the transform back gives an even number of lags.
    return min(threes << max(1, (-(-least // threes) - 1).bit_length()) for threes in (1, 3, 9, 27, 81))


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
