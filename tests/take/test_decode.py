"""Bytes to samples: the compiled way against libsndfile's reading, to the bit; word lengths; samples that are none."""

from __future__ import annotations

import struct
from pathlib import Path

import numpy as np
import pytest
import soundfile

from replay.take.decode import FINER, KINDS, LARGEST, SPARE, decode_group, decode_lane
from tests.tracks import BITS, as_samples, codes, measure_samples, measured, track, write

WIDTHS = {"u8": 1, "s16": 2, "s24": 3, "s32": 4, "f32": 4, "f64": 8}
FRAMES = 301


def extreme(encoding: str, shape: tuple[int, int], seed: int = 1) -> np.ndarray:
    """Random samples of an encoding with its greatest, least and smallest values among them."""
    rng = np.random.default_rng(seed)
    if encoding in BITS:
        bits = BITS[encoding]
        out = rng.integers(-(2 ** (bits - 1)), 2 ** (bits - 1), shape)
        out.flat[:8] = [2 ** (bits - 1) - 1, -(2 ** (bits - 1)), 0, 1, -1, -(2 ** (bits - 1)) + 1, 2, -2]
        return (out << (32 - bits)).astype(np.int32)
    out = rng.standard_normal(shape)
    out.flat[:8] = [1.0, -1.0, 0.0, -0.0, 1e-40, 3.5, np.nextafter(1, 0), 2.0**-31]
    return out.astype(np.float32) if encoding == "f32" else out


def decoded(raw: bytes, encoding: str, channels: int, channel: int, count: int, lead: int = 0) -> np.ndarray:
    """One channel of interleaved bytes that begin `lead` bytes behind the spare ones."""
    place = SPARE + lead
    array = np.zeros(place + len(raw) + SPARE, np.uint8)
    # Whatever lies beside the samples must not matter.
    array[:place], array[place + len(raw) :] = 0xA5, 0x5A
    array[place : place + len(raw)] = np.frombuffer(raw, np.uint8)
    samples, seen, bad = np.full((count + 3, 8), 9.0), np.zeros(8, np.int64), np.zeros(8, np.int64)
    width = WIDTHS[encoding]
    decode_lane(
        array, place + channel * width, channels * width, count, KINDS[encoding], samples, 2, channel % 8, seen, bad
    )
    assert (np.delete(samples, channel % 8, axis=1) == 9.0).all()
    assert (samples[[0, 1, -1]] == 9.0).all()
    assert (bad == 0).all()
    return samples[2:-1, channel % 8]


@pytest.mark.parametrize("channels", [1, 2, 3, 7])
@pytest.mark.parametrize("encoding", sorted(WIDTHS))
def test_every_encoding_reads_as_libsndfile_reads_it(tmp_path: Path, encoding: str, channels: int) -> None:
    file = write(tmp_path / "a.wav", extreme(encoding, (FRAMES, channels)), encoding=encoding)
    assert (file.encoding, file.frame_bytes) == (encoding, channels * WIDTHS[encoding])
    raw = file.path.read_bytes()[file.data_offset :][: FRAMES * file.frame_bytes]
    theirs = soundfile.read(file.path, dtype="float64", always_2d=True)[0]
    for lead in (0, 1, 3):
        for channel in range(channels):
            ours = decoded(raw, encoding, channels, channel, FRAMES, lead)
            assert ours.tobytes() == theirs[:, channel].tobytes()


@pytest.mark.parametrize("encoding", ["s16", "s24", "s32"])
def test_eight_at_once_are_eight_one_by_one(encoding: str) -> None:
    width, stride, count = WIDTHS[encoding], 11 * WIDTHS[encoding], 200
    raw = np.random.default_rng(2).integers(0, 256, SPARE + stride * count + SPARE).astype(np.uint8)
    # Any eight of eleven interleaved channels, one of them twice.
    offsets = np.array([SPARE + width * channel for channel in (10, 0, 3, 3, 7, 1, 9, 4)], np.int64)
    kind = KINDS[encoding]
    together, codes_together = np.zeros((count + 5, 8)), np.zeros(8, np.int64)
    decode_group(raw, offsets, stride, count, kind, together, 5, codes_together)
    apart, codes_apart, bad = np.zeros((count + 5, 8)), np.zeros(8, np.int64), np.zeros(8, np.int64)
    for lane, offset in enumerate(offsets):
        decode_lane(raw, offset, stride, count, kind, apart, 5, lane, codes_apart, bad)
    assert together.tobytes() == apart.tobytes()
    assert codes_together.tolist() == codes_apart.tolist()


def test_codes_are_collected_left_justified() -> None:
    raw = np.zeros(SPARE + 8 + SPARE, np.uint8)
    raw[SPARE : SPARE + 4] = np.frombuffer(struct.pack("<hh", 0x0400, -0x8000), np.uint8)
    samples, seen, bad = np.zeros((2, 8)), np.zeros(8, np.int64), np.zeros(8, np.int64)
    seen[5] = 1
    decode_lane(raw, SPARE, 2, 2, KINDS["s16"], samples, 0, 5, seen, bad)
    assert seen.tolist() == [0, 0, 0, 0, 0, 0x84000001, 0, 0]
    assert samples[:, 5].tolist() == [2.0**-5, -1.0]


def effective(folder: Path, samples: np.ndarray, encoding: str) -> int | None:
    (one,) = measured([track(1, (write(folder / f"{encoding}.wav", samples, encoding=encoding), 0, 0))], 48000, folder)
    return one.effective_bits


@pytest.mark.parametrize(
    ("bits", "encoding"),
    [
        (8, "u8"), (8, "s16"), (12, "s16"), (16, "s16"), (16, "s24"), (20, "s24"), (24, "s24"), (24, "s32"),
        (32, "s32"), (16, "f32"), (24, "f32"), (16, "f64"), (24, "f64"), (32, "f64"),
    ],
)  # fmt: skip
def test_the_word_length_in_use_is_found_in_any_container(tmp_path: Path, bits: int, encoding: str) -> None:
    used = codes(np.random.default_rng(bits).uniform(-0.9, 0.9, 5000), bits)
    used[1234] = np.int32(5 << (32 - bits)) if bits < 32 else 5
    samples = used if encoding in BITS else as_samples(used)
    if encoding == "f32":
        samples = samples.astype(np.float32)
    assert effective(tmp_path, samples, encoding) == bits


def test_floats_finer_than_32_bits_have_no_word_length(tmp_path: Path) -> None:
    assert effective(tmp_path, np.random.default_rng(1).uniform(-0.9, 0.9, 5000), "f64") is None
    fine = np.full(5000, 0.5, np.float32)
    fine[17] = 2.0**-40
    assert effective(tmp_path, fine, "f32") is None


def test_silence_uses_no_bits(tmp_path: Path) -> None:
    for encoding in ("u8", "s24", "f32"):
        assert effective(tmp_path, np.zeros(5000, np.float32), encoding) == 0


@pytest.mark.parametrize("encoding", ["f32", "f64"])
def test_samples_that_are_no_numbers_are_counted_and_become_zero(tmp_path: Path, encoding: str) -> None:
    good = np.random.default_rng(3).uniform(-0.5, 0.5, 9600)
    holes = {0: np.nan, 17: np.inf, 4799: -np.inf, 4800: np.nan, 9599: np.nan, 5000: 2 * LARGEST, 5001: -1e30}
    bad, zeroed = good.copy(), good.copy()
    for place, value in holes.items():
        bad[place], zeroed[place] = value, 0.0
    (spoiled, clean), _ = measure_samples(tmp_path, bad, zeroed, encoding=encoding)
    assert spoiled.column("not_a_number").tolist() == [3, 4]
    assert spoiled.totals["not_a_number"] == 7
    assert clean.totals["not_a_number"] == 0
    for name in ("high", "low", "energy", "sum", "k_energy_10ms", "k_energy", "true_peak", "true_peak_limit", "over"):
        assert spoiled.column(name).tobytes() == clean.column(name).tobytes(), name


def test_the_largest_float_that_counts_overflows_nothing(tmp_path: Path) -> None:
    samples = np.zeros(9600)
    samples[100:5000] = LARGEST * np.where(np.arange(4900) % 7 < 3, 1, -1)
    (one,), _ = measure_samples(tmp_path, samples)
    assert one.totals["over_full_scale"] == 4900
    for name in ("energy", "k_energy_10ms", "k_energy", "true_peak_limit"):
        assert np.isfinite(one.column(name)).all(), name


def test_the_accumulated_codes_tell_finer_floats_apart() -> None:
    raw = np.zeros(SPARE + 8 + SPARE, np.uint8)
    raw[SPARE : SPARE + 8] = np.frombuffer(struct.pack("<d", 2.0**-32), np.uint8)
    samples, seen, bad = np.zeros((1, 8)), np.zeros(8, np.int64), np.zeros(8, np.int64)
    decode_lane(raw, SPARE, 8, 1, KINDS["f64"], samples, 0, 0, seen, bad)
    assert seen[0] == FINER
