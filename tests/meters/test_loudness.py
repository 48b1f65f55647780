"""Loudness: the kernel against its literal twin, the gates, and the loudness range as Tech 3342 defines it."""

from __future__ import annotations

import math
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from replay.desk.levels import loudness_figures, loudness_of
from replay.grid import cell_starts, hops_of
from replay.meters.loudness import designed, integrated, k_weighting, loudness, loudness_range
from tests.rounding import rounded_once, skip_where_rounded_twice
from tests.tracks import measure_samples, measured, mono, track, write

RATE = 48000
HOP = 4800

SHELF_48K = [1.53512485958697, -2.69169618940638, 1.19839281085285, 1.0, -1.69065929318241, 0.73248077421585]
PASS_48K = [1.0, -2.0, 1.0, 1.0, -1.99004745483398, 0.99007225036621]
"""Rec. ITU-R BS.1770-5 Annex 1 Tables 1 and 2: b0 b1 b2 a0 a1 a2."""


def figures(folder: Path, *signals: np.ndarray, rate: int = RATE, last: int | None = None) -> list[dict]:
    return [
        loudness_figures(loudness_of([one], 0, one.hops if last is None else last))
        for one in measure_samples(folder, *signals, rate=rate)[0]
    ]


def tone(level: float, seconds: float, hertz: float = 1000.0, rate: int = RATE) -> np.ndarray:
    return 10 ** (level / 20) * np.sin(2 * np.pi * hertz * np.arange(round(seconds * rate)) / rate)


class TestWeighting:
    def test_the_published_table(self) -> None:
        assert k_weighting(48000)[0] == pytest.approx(SHELF_48K, abs=2e-8)
        assert k_weighting(48000)[1] == pytest.approx(PASS_48K, abs=2e-8)

    @pytest.mark.parametrize("rate", [44100, 48000, 88200, 96000, 192000])
    def test_what_is_written_down_is_what_the_package_designs(self, rate: int) -> None:
        assert k_weighting(rate) == pytest.approx(designed(rate), rel=1e-15, abs=0)

    @pytest.mark.parametrize("rate", [44100, 88200, 96000, 192000])
    @pytest.mark.parametrize("hertz", [50, 100, 200, 500, 997, 2000, 5000, 10000])
    def test_the_same_response_at_other_rates(self, rate: int, hertz: int) -> None:
        """Bilinear designs drift by up to 0.05 dB towards the top; at 44.1 kHz they stay closer."""

        def response(at: int) -> float:
            z = np.exp(-2j * np.pi * hertz / at)
            return 20 * math.log10(
                math.prod(abs(np.polyval(s[2::-1], z) / np.polyval(s[:2:-1], z)) for s in k_weighting(at))
            )

        assert response(rate) == pytest.approx(response(48000), abs=0.05)

    def test_one_side_reads_minus_3_01_at_full_scale(self, tmp_path: Path) -> None:
        """Annex 1: 997 Hz at 0 dBFS in one channel alone."""
        (read,) = figures(tmp_path, tone(0.0, 5, 997.0))
        assert read["integrated_lufs"] == pytest.approx(-3.01, abs=0.01)
        assert read["momentary_max_lufs"] == pytest.approx(-3.01, abs=0.01)
        assert read["short_term_max_lufs"] == pytest.approx(-3.01, abs=0.01)


def literal_energies(samples: np.ndarray, rate: int) -> list[float]:
    """The two filters, one sample after the other, as transposed direct forms; squares summed in each 10 ms cell; a hop
    of exact zeros clears the filters. Products are rounded where they have been added."""
    (b0, b1, b2, _, a1, a2), (c0, c1, c2, _, d1, d2) = k_weighting(rate).tolist()
    starts = cell_starts(10 * hops_of(len(samples), rate), rate).tolist()
    padded = samples.tolist() + [0.0] * (starts[-1] - len(samples))
    z1 = z2 = w1 = w2 = 0.0
    energies = []
    for cell in range(len(starts) - 1):
        if cell % 10 == 0 and not any(padded[starts[cell] : starts[cell + 10]]):
            z1 = z2 = w1 = w2 = 0.0
        total = 0.0
        for x in padded[starts[cell] : starts[cell + 1]]:
            y = rounded_once(b0, x, z1)
            z1 = rounded_once(-a1, y, rounded_once(b1, x, z2))
            z2 = rounded_once(-a2, y, b2 * x)
            u = rounded_once(c0, y, w1)
            w1 = rounded_once(-d1, u, rounded_once(c1, y, w2))
            w2 = rounded_once(-d2, u, c2 * y)
            total = rounded_once(u, u, total)
        energies.append(total)
    return energies


@pytest.mark.parametrize("rate", [8000, 11025, 48000])
def test_the_kernel_and_its_literal_twin(tmp_path: Path, rate: int) -> None:
    skip_where_rounded_twice()
    rng = np.random.default_rng(rate)
    signal = rng.uniform(-0.5, 0.5, round(rate * 0.66))
    signal[rate // 5 : rate // 2] = 0.0
    ((one,), _) = measure_samples(tmp_path, signal, rate=rate)
    cells = literal_energies(signal, rate)
    assert one.column("k_energy_10ms").tolist() == np.array(cells, np.float32).tolist()
    hops = np.array(cells).reshape(-1, 10)
    assert one.column("k_energy") == pytest.approx(hops.sum(axis=1), rel=1e-15)


def test_no_residue_outlives_the_signal(tmp_path: Path) -> None:
    """A subsonic thump leaves the filters far from rest; a hop of exact zeros empties them."""
    signal = np.zeros(20 * HOP)
    signal[: 3 * HOP] = 0.9
    signal[15 * HOP] = 0.5
    fresh = np.zeros(20 * HOP)
    fresh[15 * HOP] = 0.5
    first, second = measure_samples(tmp_path, signal, fresh)[0]
    assert first.column("k_energy")[3:15].tolist() == [0.0] * 12
    assert (first.column("k_energy")[15:] == second.column("k_energy")[15:]).all()


class TestGates:
    def test_silence_has_no_loudness(self, tmp_path: Path) -> None:
        none = {
            "integrated_lufs": None,
            "momentary_max_lufs": None,
            "short_term_max_lufs": None,
            "loudness_range_lu": None,
        }
        assert figures(tmp_path, np.zeros(5 * RATE), np.zeros(0), np.zeros(1), np.full(1, 0.5)) == [none] * 4
        assert loudness(0.0) == -math.inf
        assert integrated(np.zeros(0)) == -math.inf
        assert integrated(np.zeros(100)) == -math.inf
        assert loudness_range(np.zeros(100)) is None

    def test_no_whole_400_ms(self, tmp_path: Path) -> None:
        (read,) = figures(tmp_path, tone(-20.0, 0.3))
        assert [read[name] for name in ("integrated_lufs", "momentary_max_lufs", "short_term_max_lufs")] == [None] * 3

    def test_exactly_400_ms(self, tmp_path: Path) -> None:
        (read,) = figures(tmp_path, tone(-20.0, 0.4))
        # L + K(1 kHz) - 3.701 for one channel.
        assert read["momentary_max_lufs"] == pytest.approx(-20 + 0.698 - 3.701, abs=0.05)
        # Momentary comes from 10 ms powers in single precision.
        assert read["integrated_lufs"] == pytest.approx(read["momentary_max_lufs"], abs=1e-6)
        assert read["short_term_max_lufs"] is None

    def test_an_incomplete_last_block_is_dropped(self, tmp_path: Path) -> None:
        """Half a hop of a much louder tone at the end is in no whole block."""
        signal = np.concatenate([tone(-30.0, 2.0), tone(0.0, 0.05)])
        with_end, without = figures(tmp_path, signal, tone(-30.0, 2.0))
        assert with_end["integrated_lufs"] == without["integrated_lufs"]

    def test_the_absolute_gate_is_strict(self) -> None:
        gate = 10 ** ((-70 + 0.691) / 10)
        assert integrated(np.array([gate])) == -math.inf
        assert integrated(np.array([np.nextafter(gate, 1)])) == pytest.approx(-70.0, abs=1e-9)

    def test_the_relative_gate_is_strict(self) -> None:
        # The mean of all is 1, a tenth of it is the gate: a block exactly there is out, one just above is in.
        exactly = np.array([1.9, 0.1])
        assert exactly.mean() * 10**-1.0 == 0.1
        assert integrated(exactly) == loudness(1.9)
        assert integrated(np.array([1.9, 0.1000001])) == loudness((1.9 + 0.1000001) / 2)

    def test_gates_in_turn(self) -> None:
        """The relative gate stands on what the absolute one leaves."""
        powers = 10 ** (np.array([-80.0] * 50 + [-36.0] * 10 + [-23.0] * 60) / 10)
        loud = powers[50:]
        gate = loud.mean() / 10
        assert integrated(powers) == pytest.approx(loudness(loud[loud > gate].mean()), abs=1e-12)


class TestRange:
    @pytest.mark.parametrize("count", [1, 2, 5, 10, 11, 20, 21, 37, 100, 101, 599, 1000])
    def test_percentiles_by_rank_without_interpolation(self, count: int) -> None:
        """Tech 3342 section 5: the value of rank round((n - 1) p / 100 + 1), halves up."""
        powers = 10 ** (np.random.default_rng(count).uniform(-30, -20, count) / 10)
        ranked = np.sort(powers)

        def at(percent: int) -> float:
            rank = math.floor(Fraction((count - 1) * percent, 100) + 1 + Fraction(1, 2))
            return float(ranked[rank - 1])

        assert loudness_range(powers) == pytest.approx(10 * math.log10(at(95) / at(10)), abs=1e-9)

    def test_ranks_are_exact_for_any_count(self) -> None:
        """Counting in floating point moves no rank, for takes of up to two hours."""
        for count in range(1, 72001, 7):
            for percent, share in ((10, 0.10), (95, 0.95)):
                assert int((count - 1) * share + 0.5) == ((count - 1) * percent + 50) // 100

    def test_windows_20_lu_under_the_mean_count_and_lower_ones_do_not(self) -> None:
        loud = np.full(89, 1.0)
        mean = (89 + 11 * 0.02) / 100
        inside, outside = np.full(11, 0.02), np.full(11, mean * 0.0099)
        assert loudness_range(np.concatenate([loud, inside])) == pytest.approx(10 * math.log10(1 / 0.02), abs=1e-9)
        assert loudness_range(np.concatenate([loud, outside])) == pytest.approx(0.0, abs=1e-12)

    @pytest.mark.parametrize("seconds", [12.0, 12.05, 12.0999, 12.00002])
    def test_the_tail_of_silence(self, tmp_path: Path, seconds: float) -> None:
        """As a meter reads that appends 1.5 s of silence (and what completes the last hop), whatever the length."""
        from scipy.signal import lfilter

        signal = (
            tone(-20.0, seconds)
            * np.repeat([1.0, 0.2, 0.6, 0.1], math.ceil(seconds / 4 * RATE))[: round(seconds * RATE)]
        )
        hops = hops_of(len(signal), RATE) + 15
        padded = np.concatenate([signal, np.zeros(hops * HOP - len(signal))])
        weighted = lfilter(PASS_48K[:3], PASS_48K[3:], lfilter(SHELF_48K[:3], SHELF_48K[3:], padded))
        sums = (weighted**2).reshape(-1, HOP).sum(axis=1)
        powers = np.convolve(sums, np.ones(30), "valid") / (30 * HOP)
        loud = powers[powers >= 10 ** ((-70 + 0.691) / 10)]
        kept = np.sort(loud[loud >= loud.mean() / 100])
        low, high = (kept[((len(kept) - 1) * percent + 50) // 100] for percent in (10, 95))
        (read,) = figures(tmp_path, signal)
        assert read["loudness_range_lu"] == pytest.approx(10 * math.log10(high / low), abs=0.001)

    def test_a_hole_is_no_tail(self, tmp_path: Path) -> None:
        """Windows over frames that are missing count nowhere."""
        signal = tone(-20.0, 8.0)
        parts = [write(tmp_path / f"{i}.wav", part, encoding="f64") for i, part in
                 enumerate((signal[: 4 * RATE], signal[4 * RATE :]))]  # fmt: skip
        (holed,) = measured([track(1, (parts[0], 0, 0), (parts[1], 0, 4 * RATE + 777))], RATE, tmp_path)
        part = loudness_of([holed], 0, holed.hops)
        # 40 whole hops, one with a hole, 38 whole ones and a last one cut short: windows of four hops in either part.
        assert holed.hops == 81
        assert len(part.blocks) == 37 + 36
        # 11 before the hole; behind it, with the last hop completed and 15 of silence, 40 + 15 - 29.
        assert len(part.windows) == 11 + 26


class TestProgrammes:
    def test_the_same_on_both_sides_is_3_01_more(self, tmp_path: Path) -> None:
        signal = tone(-23.0, 6.0)
        (one,) = measured([mono(tmp_path, 1, signal)], RATE, tmp_path)
        alone, both = (loudness_figures(loudness_of(sides, 0, one.hops)) for sides in ([one], [one, one]))
        for name in ("integrated_lufs", "momentary_max_lufs", "short_term_max_lufs"):
            assert both[name] - alone[name] == pytest.approx(10 * math.log10(2), abs=1e-12)
        assert both["loudness_range_lu"] == pytest.approx(alone["loudness_range_lu"], abs=1e-12)
        # EBU Tech 3341 case 1 as a stereo pair.
        assert both["integrated_lufs"] == pytest.approx(-23.0, abs=0.02)

    def test_a_silent_side_changes_nothing(self, tmp_path: Path) -> None:
        signal = tone(-23.0, 6.0)
        one, silent = measure_samples(tmp_path, signal, np.zeros(len(signal)))[0]
        assert loudness_figures(loudness_of([one, silent], 0, 60)) == loudness_figures(loudness_of([one], 0, 60))
