"""Eight lanes: every operation against numpy, and the whole pass without the compiler, equal to the bit."""

from __future__ import annotations

import hashlib
import json
import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from replay import lanes, lanes_plain
from replay.compiled import Operation, kernel
from replay.lanes import (
    LANES,
    as_samples,
    choose,
    codes16,
    codes24,
    codes32,
    eight_rows16,
    eight_rows24,
    eight_rows32,
    float32_at,
    float64_at,
    int16_at,
    int32_at,
    join,
    keep_codes,
    largest,
    load,
    load_along,
    magnitude,
    maximum,
    multiply_add,
    no_codes,
    rows_of_zeros,
    splat,
    spread,
    store,
    store_along,
    together16,
    together24,
    together32,
)
from replay.take.model import Track
from tests.rounding import rounded_once, skip_where_rounded_twice
from tests.tracks import codes, everything, measured, track, write

ROOT = Path(__file__).parent.parent


@kernel
def _arithmetic(a, b, out):
    left = load(a, 2)
    right = load(b, 1)
    store(out, 0, left + right)
    store(out, 1, left - right)
    store(out, 2, left * right)
    store(out, 3, maximum(left, right))
    store(out, 4, magnitude(left))
    store(out, 5, splat(0.1) * left + right)


def test_arithmetic_lane_by_lane() -> None:
    rng = np.random.default_rng(1)
    a, b, out = rng.standard_normal((4, LANES)), rng.standard_normal((3, LANES)), np.zeros((8, LANES))
    _arithmetic(a, b, out)
    left, right = a[2], b[1]
    wanted = [left + right, left - right, left * right, np.maximum(left, right), np.abs(left), 0.1 * left + right]
    assert out[:6].tobytes() == np.array(wanted).tobytes()
    assert not out[6:].any()


@kernel
def _more_arithmetic(a, b, out, most):
    left = load(a, 0)
    right = load(b, 0)
    store(out, 0, left / right)
    store(out, 1, choose(left, right, splat(1.0), right))
    most[0] = largest(left)
    most[1] = largest(splat(0.0) - left)


def test_quotients_choices_and_the_greatest_of_eight() -> None:
    rng = np.random.default_rng(11)
    for _ in range(20):
        a, b, out, most = (
            rng.standard_normal((1, LANES)),
            rng.standard_normal((1, LANES)),
            np.zeros((2, LANES)),
            np.zeros(2),
        )
        b[0, 3] = a[0, 3]
        _more_arithmetic(a, b, out, most)
        assert out[0].tobytes() == (a[0] / b[0]).tobytes()
        assert out[1].tolist() == [1.0 if left > right else right for left, right in zip(a[0], b[0], strict=True)]
        assert most.tolist() == [a.max(), -a.min()]


@kernel
def _fused(a, b, c, out):
    for row in range(len(out)):
        store(out, row, multiply_add(load(a, row), load(b, row), load(c, row)))


def _sums_of_products() -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Factors and addends of all sizes, many of which nearly cancel or come to lie half way between two doubles."""
    rng = np.random.default_rng(12)
    a, b, c = rng.standard_normal((3, 3000, LANES)) * 10.0 ** rng.integers(-12, 12, (3, 3000, LANES))
    c[:1000] = -(a * b)[:1000]
    c[1000:1500] = np.nextafter(c[:500], rng.choice([-np.inf, np.inf], (500, LANES)))
    a[1000:1500], b[1000:1500] = a[:500], b[:500]
    # 1 + 2^-53, and a little more or less: a tie that the smallest part decides.
    a[1500:1600], b[1500:1600], c[1500:1600] = 2.0**-30, 2.0**-23, 1.0
    b[1520:1540], b[1540:1560] = np.nextafter(2.0**-23, 1), np.nextafter(2.0**-23, 0)
    a[1600:1700], c[1700:1800] = 0.0, 0.0
    return a, b, c


def test_products_are_added_with_one_rounding() -> None:
    a, b, c = _sums_of_products()
    wanted = np.array(list(map(rounded_once, *(one.reshape(-1).tolist() for one in (a, b, c))))).reshape(a.shape)
    assert (wanted != a * b + c).mean() > 0.1
    plain = np.array([lanes_plain.multiply_add(x, y, z) for x, y, z in zip(a, b, c, strict=True)])
    assert plain.tolist() == wanted.tolist()
    skip_where_rounded_twice()
    out = np.zeros_like(a)
    _fused(a, b, c, out)
    assert out.tolist() == wanted.tolist()


@kernel
def _along(line, at, out):
    store(out, 0, load_along(line, at))
    store(out, 1, spread(line, at))
    store_along(line, at + 9, load_along(line, at))


def test_eight_places_in_a_row() -> None:
    line, out = np.arange(40.0), np.zeros((2, LANES))
    _along(line, 5, out)
    assert out[0].tolist() == [5, 6, 7, 8, 9, 10, 11, 12]
    assert out[1].tolist() == [5] * 8
    assert line.tolist() == [*range(14), 5, 6, 7, 8, 9, 10, 11, 12, *range(22, 40)]


def test_rows_of_zeros_lie_in_one_line_of_the_cache_each() -> None:
    for shape in ((1,), (7,), (3, 10), (5000,)):
        rows = rows_of_zeros(*shape)
        assert rows.shape == (*shape, LANES)
        assert rows.ctypes.data % 64 == 0
        assert not rows.any()
        rows[...] = 1.0


@kernel
def _fetch(raw, offsets, step, out, bits16, bits24, bits32):
    words = codes16(raw, offsets, step)
    store(out, 0, as_samples(words))
    keep_codes(bits16, join(no_codes(), words))
    words = codes24(raw, offsets, step)
    store(out, 1, as_samples(words))
    keep_codes(bits24, join(words, words))
    words = codes32(raw, offsets, step)
    store(out, 2, as_samples(words))
    keep_codes(bits32, join(words, no_codes()))


def test_codes_from_any_eight_places() -> None:
    raw = np.random.default_rng(2).integers(0, 256, 200).astype(np.uint8)
    raw[50:54] = [0, 0, 0, 0x80]
    offsets = np.array([3, 44, 91, 2, 180, 17, 17, 64], np.int64)
    out = np.zeros((3, LANES))
    bits = [np.full(LANES, 1 << 40, np.int64) for _ in range(3)]
    _fetch(raw, offsets, 6, out, *bits)
    for width, row, seen in zip((2, 3, 4), out, bits, strict=True):
        values = [int.from_bytes(raw[at + 6 : at + 6 + width].tobytes(), "little", signed=True) for at in offsets]
        assert row.tolist() == [value / 2 ** (8 * width - 1) for value in values]
        assert seen.tolist() == [1 << 40 | (value << (32 - 8 * width)) % (1 << 32) for value in values]


@kernel
def _fetch_rows(raw, offsets, step, first, out, bits):
    keep_codes(bits[0], eight_rows16(raw, offsets, step, out[0], 1))
    keep_codes(bits[1], eight_rows24(raw, offsets, step, out[1], 1))
    keep_codes(bits[2], eight_rows32(raw, offsets, step, out[2], 1))
    keep_codes(bits[3], together16(raw, first, out[0], 9))
    keep_codes(bits[4], together24(raw, first, out[1], 9))
    keep_codes(bits[5], together32(raw, first, out[2], 9))


def test_eight_codes_in_a_row_from_any_eight_places() -> None:
    raw = np.random.default_rng(3).integers(0, 256, 400).astype(np.uint8)
    raw[50:74] = [0, 0, 0x80] * 8
    offsets = np.array([3, 44, 91, 2, 352, 17, 17, 364], np.int64)
    out, bits = np.full((3, 10, LANES), 7.0), np.full((6, LANES), 1 << 40, np.int64)
    _fetch_rows(raw, offsets, 4, 50, out, bits)
    for place, width in enumerate((2, 3, 4)):

        def values(at: int, width: int = width) -> list[int]:
            return [int.from_bytes(raw[at + k * width :][:width].tobytes(), "little", signed=True) for k in range(8)]

        rows = np.array([values(at + 4) for at in offsets]).T
        assert (out[place, 0] == 7.0).all()
        assert out[place, 1:9].tolist() == (rows / 2.0 ** (8 * width - 1)).tolist()
        assert out[place, 9].tolist() == [value / 2 ** (8 * width - 1) for value in values(50)]
        left = np.bitwise_or.reduce((rows << (32 - 8 * width)) & 0xFFFFFFFF, axis=0)
        assert bits[place].tolist() == (left | 1 << 40).tolist()
        assert bits[3 + place].tolist() == [1 << 40 | (value << (32 - 8 * width)) % (1 << 32) for value in values(50)]


@kernel
def _one(raw, at, out):
    out[0] = int16_at(raw, at)
    out[1] = int32_at(raw, at)
    out[2] = float32_at(raw, at)
    out[3] = float64_at(raw, at)


def test_one_number_from_any_byte() -> None:
    raw = np.zeros(64, np.uint8)
    for at, value in ((5, np.float64(-1.25)), (30, np.float32(3.5)), (45, np.int32(-7)), (55, np.int16(-300))):
        data = np.frombuffer(value.tobytes(), np.uint8)
        raw[at : at + len(data)] = data
    out = np.zeros(4)
    for at, place, value in ((5, 3, -1.25), (30, 2, 3.5), (45, 1, -7), (55, 0, -300)):
        _one(raw, at, out)
        assert out[place] == value


def test_both_kinds_of_lanes_have_the_same_names() -> None:
    from replay import lanes_compiled

    names = [name for name, value in vars(lanes).items() if isinstance(value, Operation)]
    assert len(names) == 28
    for name in names:
        assert callable(getattr(lanes_plain, name))
        assert callable(getattr(lanes_compiled, name))
    assert lanes_compiled.LANES == lanes_plain.LANES == LANES == 8


def takes(folder: Path) -> list[tuple[int, list[Track]]]:
    """Short takes at low rates that lead through every kernel: encodings, hops of unlike length, clips, gaps, ends."""
    rng = np.random.default_rng(8)
    made = []
    for rate in (8000, 11025):
        frames = rate * 27 // 100
        samples = rng.uniform(-1, 1, (frames, 3)) * np.linspace(0.05, 1.0, frames)[:, None]
        samples[300:306, 0], samples[900:904, 1], samples[700:1500, 2] = 1.5, -1.5, 0.0
        poly = write(folder / f"{rate}.wav", codes(samples, 24), rate, "s24")
        tracks = [track(c + 1, (poly, c, 0)) for c in range(3)]
        over = samples[:, 0].astype(np.float32) * 1.2
        over[10] = np.nan
        tracks.append(track(4, (write(folder / f"{rate} f.wav", over, rate, "f32"), 0, 55)))
        tracks.append(track(5, (write(folder / f"{rate} u.wav", codes(samples[:, 1], 8), rate, "u8"), 0, 0)))
        halves = [write(folder / f"{rate} {i}.wav", codes(part, 16), rate, "s16") for i, part in
                  enumerate((samples[:1000, 2], samples[1000:, 2]))]  # fmt: skip
        tracks.append(track(6, (halves[0], 0, 0), (halves[1], 0, 1033)))
        tracks.append(track(7, (write(folder / f"{rate} l.wav", codes(samples[:, 0], 32), rate, "s32"), 0, 3)))
        made.append((rate, tracks))
        # Eight alike, so that they are decoded at once.
        wide = write(
            folder / f"{rate} wide.wav", codes(np.repeat(samples[: frames // 2], 3, axis=1)[:, :8], 16), rate, "s16"
        )
        made.append((rate, [track(c + 1, (wide, c, 0)) for c in range(8)]))
        # Files of their own, three of each encoding: eight rows at once.
        for encoding, bits in (("s16", 16), ("s24", 24), ("s32", 32)):
            alone = [
                write(folder / f"{rate} {encoding} {c}.wav", codes(samples[: frames // 2, c], bits), rate, encoding)
                for c in range(3)
            ]
            made.append((rate, [track(c + 1, (file, 0, 0)) for c, file in enumerate(alone)]))
    return made


def digests(folder: Path) -> list[dict[str, str]]:
    """A digest of every figure of every track."""
    return [
        {name: hashlib.sha256(repr(value).encode()).hexdigest() for name, value in everything(one).items()}
        for rate, tracks in takes(folder)
        for one in measured(tracks, rate, folder, workers=1)
    ]


def bus_peaks(folder: Path) -> list[float]:
    from replay.desk.bus import sum_peaks

    rate, tracks = takes(folder)[0]
    return sum_peaks(tracks, np.linspace(-1, 1, 14).reshape(7, 2), rate, 0, 3).reshape(-1).tolist()


SCRIPT = """
import json, sys
from pathlib import Path
import numba
from tests.test_lanes import bus_peaks, digests
folder = Path(sys.argv[1])
print(json.dumps([not numba.config.DISABLE_JIT, digests(folder), bus_peaks(folder)]))
"""


def test_the_pass_without_the_compiler_gives_the_same_figures(tmp_path: Path) -> None:
    skip_where_rounded_twice()
    (tmp_path / "plain").mkdir()
    done = subprocess.run(
        [sys.executable, "-c", SCRIPT, str(tmp_path / "plain")],
        env={**os.environ, "NUMBA_DISABLE_JIT": "1"},
        cwd=ROOT,
        capture_output=True,
        text=True,
        timeout=120,
    )
    assert done.returncode == 0, done.stderr
    compiled, plain, sums = json.loads(done.stdout)
    assert compiled is False
    expected = digests(tmp_path)
    assert len(plain) == len(expected) == 48
    for one, wanted in zip(plain, expected, strict=True):
        assert [name for name in wanted if one[name] != wanted[name]] == []
    assert sums == bus_peaks(tmp_path)


def test_a_plain_take_has_something_in_it(tmp_path: Path) -> None:
    rate, tracks = takes(tmp_path)[0]
    found = measured(tracks, rate, tmp_path)
    assert all(one.totals["sample_peak"] > 0.9 for one in found)
    assert sum(one.event_counts["clip-run"] for one in found) >= 4
    assert found[3].totals["not_a_number"] == 1
    assert found[3].totals["over_full_scale"] > 5


@pytest.mark.parametrize("name", ["maximum", "magnitude"])
def test_plain_lanes_are_numpy(name: str) -> None:
    assert getattr(lanes_plain, name) is {"maximum": np.maximum, "magnitude": np.abs}[name]
