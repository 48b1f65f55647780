"""Percentiles and medians against numpy's, to the bit."""

from __future__ import annotations

import numpy as np

from replay.ranks import median, percentile_of, percentiles

SIZES = (*range(1, 60), 333, 4001)
SHARES = (0, 2, 5, 10, 50, 90, 95, 98, 99.5, 100)


def test_percentiles_are_numpys() -> None:
    rng = np.random.default_rng(4)
    for size in SIZES:
        levels = rng.normal(-60, 5, size).round(int(rng.integers(0, 12)))
        assert percentiles(levels, *SHARES) == np.percentile(levels, SHARES).tolist()
        assert percentile_of(np.sort(levels), 0.05) == np.percentile(levels, 5)


def test_percentiles_go_along_the_first_axis() -> None:
    rows = np.random.default_rng(5).normal(-60, 5, (301, 9))
    assert np.array_equal(percentiles(rows, *SHARES), np.percentile(rows, SHARES, axis=0))


def test_medians_are_numpys() -> None:
    rng = np.random.default_rng(6)
    for size in SIZES:
        values = rng.normal(0, 1e-3, size)
        assert median(values) == np.median(values)
