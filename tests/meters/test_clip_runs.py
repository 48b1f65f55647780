"""Clip runs against a literal run-length count, for every word length and container."""

from __future__ import annotations

from itertools import groupby
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from replay.meters.model import EVENTS_KEPT, Measurement
from tests.tracks import as_samples, codes, measure_samples, measured, track, write

HOP = 4800


def literal(samples: np.ndarray, *full: float) -> list[tuple[int, int, float]]:
    """(first frame, length, value) of every three or more samples in a row at one of the values `full`, or minus it."""
    found, at = [], 0
    for value, run in groupby(samples.tolist()):
        length = len(list(run))
        if length >= 3 and abs(value) in full:
            found.append((at, length, value))
        at += length
    return found


def runs(one: Measurement) -> list[tuple[int, int, float]]:
    return [(int(e["start"]), int(e["length"]), float(e["value"])) for e in one.events_of("clip-run")]


def clipping_noise(bits: int, frames: int, seed: int = 1, symmetric: bool = False) -> np.ndarray:
    """Left-justified codes of a low noise that runs far out of range, often across hops, and to the end."""
    rng = np.random.default_rng(seed)
    slow = np.interp(
        np.arange(frames), np.arange(0, frames + 7, 7), rng.uniform(-1.6, 1.6, len(range(0, frames + 7, 7)))
    )
    slow[2 * HOP - 2 : 2 * HOP + 3], slow[HOP - 4 : HOP + 1], slow[-4:] = 1.5, -1.5, 1.5
    out = codes(slow, bits)
    if symmetric:
        out = np.maximum(out, -(np.int32(2**31 - 2 ** (32 - bits))))
    return out.astype(np.int32)


CONTAINERS = [
    (8, "u8"), (12, "s16"), (16, "s16"), (16, "s24"), (16, "s32"), (18, "s24"), (20, "s24"), (24, "s24"), (24, "s32"),
    (32, "s32"), (16, "f32"), (24, "f32"), (24, "f64"),
]  # fmt: skip


@pytest.mark.parametrize(("bits", "encoding"), CONTAINERS)
@pytest.mark.parametrize("symmetric", [False, True])
def test_every_word_length_in_every_container(tmp_path: Path, bits: int, encoding: str, symmetric: bool) -> None:
    left_justified = clipping_noise(bits, 4 * HOP + 77, symmetric=symmetric)
    samples = as_samples(left_justified)
    stored = samples if encoding.startswith("f") else left_justified
    (one,) = measure_samples(tmp_path, stored, encoding=encoding)[0]
    wanted = literal(samples, 1 - 2.0 ** -(bits - 1), 1.0)
    assert one.effective_bits == bits
    assert runs(one) == wanted
    assert one.event_counts["clip-run"] == len(wanted)
    # The material does what it is there for: both sides, over hop borders, to the very end.
    assert {value > 0 for _, _, value in wanted} == {True, False}
    assert any(start // HOP != (start + length - 1) // HOP for start, length, _ in wanted)
    assert wanted[-1][0] + wanted[-1][1] == len(samples)
    lowest = -1.0 if not symmetric else -(1 - 2.0 ** -(bits - 1))
    assert {value for _, _, value in wanted} == {1 - 2.0 ** -(bits - 1), lowest}


def signal_with(*plants: tuple[int, list[float]], frames: int = 3 * HOP, bits: int = 24) -> np.ndarray:
    """A soft noise that uses all bits, with values planted into it."""
    out = as_samples(codes(np.random.default_rng(2).uniform(-0.1, 0.1, frames), bits))
    for at, values in plants:
        out[at : at + len(values)] = values
    return out


TOP = 1 - 2.0**-23


def test_two_samples_are_no_run(tmp_path: Path) -> None:
    samples = signal_with((100, [TOP, TOP]), (500, [-1.0, -1.0]), (900, [TOP]), (HOP - 1, [TOP, TOP]))
    (one,) = measure_samples(tmp_path, samples, encoding="s24")[0]
    assert (runs(one), one.event_counts["clip-run"]) == ([], 0)


def test_three_are(tmp_path: Path) -> None:
    samples = signal_with((100, [TOP] * 3), (HOP - 2, [-1.0] * 3), (2 * HOP - 1, [TOP] * 3))
    (one,) = measure_samples(tmp_path, samples, encoding="s24")[0]
    assert runs(one) == [(100, 3, TOP), (HOP - 2, 3, -1.0), (2 * HOP - 1, 3, TOP)]


def test_a_change_of_side_ends_a_run(tmp_path: Path) -> None:
    samples = signal_with((100, [TOP, TOP, -1.0, -1.0, -1.0, TOP, TOP, TOP, TOP, -1.0]))
    (one,) = measure_samples(tmp_path, samples, encoding="s24")[0]
    assert runs(one) == [(102, 3, -1.0), (105, 4, TOP)]


def test_a_run_through_whole_hops(tmp_path: Path) -> None:
    samples = signal_with((HOP + 4000, [TOP] * (3 * HOP)), frames=6 * HOP)
    (one,) = measure_samples(tmp_path, samples, encoding="s24")[0]
    assert runs(one) == [(HOP + 4000, 3 * HOP, TOP)]


def test_a_run_from_the_first_sample_to_the_last(tmp_path: Path) -> None:
    for frames in (3, HOP, HOP + 1, 2 * HOP):
        (one,) = measure_samples(tmp_path, np.full(frames, -1.0), encoding="s24")[0]
        assert runs(one) == [(0, frames, -1.0)]


def test_a_run_across_two_segments_is_one_and_across_a_gap_is_two(tmp_path: Path) -> None:
    samples = signal_with((5000 - 10, [TOP] * 20))
    files = [
        write(tmp_path / f"{i}.wav", part, encoding="s24") for i, part in enumerate((samples[:5000], samples[5000:]))
    ]
    (joined,) = measured([track(1, (files[0], 0, 0), (files[1], 0, 5000))], 48000, tmp_path)
    assert runs(joined) == [(4990, 20, TOP)]
    (apart,) = measured([track(1, (files[0], 0, 0), (files[1], 0, 5002))], 48000, tmp_path)
    assert runs(apart) == [(4990, 10, TOP), (5002, 10, TOP)]


def test_sixteen_bit_clips_are_none_where_24_bits_are_in_use(tmp_path: Path) -> None:
    """A peak that stays for three samples just below full scale is not the end of a 24-bit converter's range."""
    samples = signal_with((100, [1 - 2.0**-15] * 5), (300, [TOP] * 3))
    (one,) = measure_samples(tmp_path, samples, encoding="s24")[0]
    assert runs(one) == [(300, 3, TOP)]


class TestFloat:
    def test_exactly_one_is_clipped_and_more_is_over(self, tmp_path: Path) -> None:
        fine = np.random.default_rng(3).uniform(-0.1, 0.1, 3 * HOP).astype(np.float32).astype(np.float64)
        fine[100:104], fine[300:310], fine[500:503] = 1.0, 1.25, -1.0
        (one,) = measure_samples(tmp_path, fine, encoding="f32")[0]
        assert one.effective_bits is None
        assert runs(one) == [(100, 4, 1.0), (500, 3, -1.0)]
        assert one.totals["over_full_scale"] == 10

    @pytest.mark.parametrize("bits", [16, 20, 24])
    def test_a_converters_greatest_code_is_clipped_among_finer_samples(self, tmp_path: Path, bits: int) -> None:
        fine = np.random.default_rng(3).uniform(-0.1, 0.1, 3 * HOP)
        top = 1 - 2.0 ** -(bits - 1)
        fine[100:105], fine[200:203], fine[300:302] = top, -top, top
        (one,) = measure_samples(tmp_path, fine, encoding="f64")[0]
        assert runs(one) == [(100, 5, top), (200, 3, -top)]

    def test_a_limiter_that_holds_another_level_is_not_clipped(self, tmp_path: Path) -> None:
        fine = np.random.default_rng(3).uniform(-0.1, 0.1, 3 * HOP)
        fine[100:200] = 0.999
        (one,) = measure_samples(tmp_path, fine, encoding="f64")[0]
        assert runs(one) == []


def test_lists_end_and_counts_go_on(tmp_path: Path) -> None:
    """Runs of three, a sample between them: far more than are kept, of both sides in turn."""
    count = 5000
    pattern = np.zeros(8 * count)
    for k in range(3):
        pattern[k::8], pattern[4 + k :: 8] = TOP, -1.0
    (one,) = measure_samples(tmp_path, pattern, encoding="s24")[0]
    assert one.event_counts["clip-run"] == 2 * count
    assert runs(one) == literal(pattern, TOP, 1.0)[:EVENTS_KEPT]
    assert len(runs(one)) == EVENTS_KEPT == 4096


def test_the_kept_ones_are_the_first_ones_even_where_one_side_comes_late(tmp_path: Path) -> None:
    pattern = np.zeros(4 * 9000)
    for k in range(3):
        pattern[k : 4 * 4500 : 4], pattern[4 * 4500 + k :: 4] = TOP, -1.0
    (one,) = measure_samples(tmp_path, pattern, encoding="s24")[0]
    assert one.event_counts["clip-run"] == 9000
    assert runs(one) == literal(pattern, TOP, 1.0)[:4096]


LEVELS = [TOP, -TOP, -1.0, 0.25, -0.5, 1 - 2.0**-15]


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(st.tuples(st.sampled_from(LEVELS), st.integers(1, 400)), min_size=1, max_size=60))
def test_any_sequence_of_plateaus(tmp_path: Path, plateaus: list[tuple[float, int]]) -> None:
    samples = np.concatenate([[2.0**-23], *(np.full(length, value) for value, length in plateaus)])
    (one,) = measure_samples(tmp_path, samples, rate=8000, encoding="s24")[0]
    wanted = literal(samples, TOP, 1.0)
    assert runs(one) == wanted
    assert one.event_counts["clip-run"] == len(wanted)
