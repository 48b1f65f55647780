"""Lanes without the compiler: numpy on rows of eight, the same arithmetic in the same order.

Use through `replay.lanes`.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from replay.lanes import LANES


def load(array: np.ndarray, row: int) -> np.ndarray:
    """Row `row` of a block as one value."""
    return array.reshape(-1, LANES)[row].copy()


def store(array: np.ndarray, row: int, value: np.ndarray) -> None:
    """Write a value to row `row` of a block."""
    array.reshape(-1, LANES)[row] = value


def load_along(line: np.ndarray, at: int) -> np.ndarray:
    """Eight values in a row, from place `at` of a plain array on, as one value."""
    return line[at : at + LANES].copy()


def spread(line: np.ndarray, at: int) -> np.ndarray:
    """The value at place `at` of a plain array in all lanes."""
    return np.full(LANES, line[at])


def store_along(line: np.ndarray, at: int, value: np.ndarray) -> None:
    """Write a value to eight places in a row."""
    line[at : at + LANES] = value


def choose(left: np.ndarray, right: np.ndarray, greater: np.ndarray, otherwise: np.ndarray) -> np.ndarray:
    """`greater` in the lanes where left > right, elsewhere `otherwise`."""
    return np.where(left > right, greater, otherwise)


def largest(value: np.ndarray) -> float:
    """The greatest of the eight numbers."""
    return float(value.max())


def splat(value: float) -> np.ndarray:
    """The same number in all lanes."""
    return np.full(LANES, value)


maximum, magnitude = np.maximum, np.abs

_SPLIT = 2.0**27 + 1


def _two_sum(a: np.ndarray, b: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """A sum and what rounding took from it (Knuth)."""
    total = a + b
    there = total - a
    return total, (a - (total - there)) + (b - there)


def _two_product(a: np.ndarray, b: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """A product and what rounding took from it (Dekker, with Veltkamp's halves)."""
    high_a, high_b = _SPLIT * a - (_SPLIT * a - a), _SPLIT * b - (_SPLIT * b - b)
    low_a, low_b = a - high_a, b - high_b
    product = a * b
    return product, low_a * low_b - (((product - high_a * high_b) - low_a * high_b) - high_a * low_b)


def multiply_add(left: np.ndarray, right: np.ndarray, added: np.ndarray) -> np.ndarray:
    """`left * right + added`, rounded once, as the processor's instruction does it.

    After Boldo and Melquiond, "Emulation of FMA and correctly rounded sums: proved algorithms using rounding to odd",
    IEEE Transactions on Computers 57 (2008): the small parts are added with a rounding to odd, so that the last sum
    rounds as if it were the only one. Not for products beyond about 1e300 or below 1e-290.
    """
    high, low = _two_product(left, right)
    inner, least = _two_sum(added, low)
    outer, rest = _two_sum(high, inner)
    small, lost = _two_sum(rest, least)
    even = (small.view(np.int64) & 1) == 0
    towards = np.where(lost > 0, np.inf, -np.inf)
    odd: np.ndarray = outer + np.where(even & (lost != 0), np.nextafter(small, towards), small)
    return odd


def _at(dtype: str) -> Any:
    width = np.dtype(dtype).itemsize
    return lambda raw, offset: np.frombuffer(raw[offset : offset + width].tobytes(), dtype)[0]


int16_at, int32_at, float32_at, float64_at = _at("<i2"), _at("<i4"), _at("<f4"), _at("<f8")


def codes16(raw: np.ndarray, offsets: np.ndarray, step: int) -> np.ndarray:
    """Eight 16-bit codes at `offsets + step`, left-justified to 32 bits."""
    return np.array([np.int64(int16_at(raw, offset + step)) << 16 for offset in offsets])


def codes24(raw: np.ndarray, offsets: np.ndarray, step: int) -> np.ndarray:
    """Eight 24-bit codes, left-justified to 32 bits; reads the byte before each."""
    return np.array([np.int64(int32_at(raw, offset + step - 1)) & -256 for offset in offsets])


def codes32(raw: np.ndarray, offsets: np.ndarray, step: int) -> np.ndarray:
    """Eight 32-bit codes."""
    return np.array([np.int64(int32_at(raw, offset + step)) for offset in offsets])


def as_samples(codes: np.ndarray) -> np.ndarray:
    """Codes as fractions of full scale."""
    return codes * 2.0**-31


def _eight_rows(codes: Any, width: int) -> Any:
    """Decode eight rows, eight codes in a row at each of `offsets + step`, to rows `row` on: the bits of all."""

    def rows(raw: np.ndarray, offsets: np.ndarray, step: int, samples: np.ndarray, row: int) -> np.ndarray:
        seen = no_codes()
        for k in range(LANES):
            found = codes(raw, offsets, step + k * width)
            seen = join(seen, found)
            store(samples, row + k, as_samples(found))
        return seen

    return rows


def _together(codes: Any, width: int) -> Any:
    """Decode one row, eight codes in a row from `offset` on, to row `row`: its codes."""

    def together(raw: np.ndarray, offset: int, samples: np.ndarray, row: int) -> np.ndarray:
        found: np.ndarray = codes(raw, offset + width * np.arange(LANES), 0)
        store(samples, row, as_samples(found))
        return found

    return together


eight_rows16, eight_rows24, eight_rows32 = _eight_rows(codes16, 2), _eight_rows(codes24, 3), _eight_rows(codes32, 4)
together16, together24, together32 = _together(codes16, 2), _together(codes24, 3), _together(codes32, 4)


def no_codes() -> np.ndarray:
    """Eight zeros."""
    return np.zeros(LANES, np.int64)


def join(left: np.ndarray, right: np.ndarray) -> np.ndarray:
    """The bits of both."""
    return left | right


def keep_codes(target: np.ndarray, codes: np.ndarray) -> None:
    """Or eight codes into an int64 (8,) array, as unsigned 32-bit values."""
    target |= codes & 0xFFFFFFFF
