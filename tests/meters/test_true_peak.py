"""True peak against a 32 times oversampled reference, and the promise behind its speed: bounds that are bounds."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from replay.compiled import kernel
from replay.grid import hop_start
from replay.meters.again import resolve
from replay.meters.interpolation import PAIRED, WEIGHTS, interpolate, interpolate_row
from replay.meters.true_peak import played
from tests.meters import reference_peak as reference
from tests.tracks import measure_samples, recurring, refuse, true_peaks

RATE = 48000
HOP = RATE // 10
WITHIN_DB = 0.05


def faded(samples: np.ndarray, length: int = 480) -> np.ndarray:
    """With raised-cosine ends, so that nothing but the signal itself is measured."""
    ramp = 0.5 - 0.5 * np.cos(np.pi * np.arange(length) / length)
    out = samples.copy()
    out[:length] *= ramp
    out[-length:] *= ramp[::-1]
    return out


def tone(share: float, degrees: float, frames: int = 9600) -> np.ndarray:
    """A tone at `share` of the rate."""
    return faded(0.7 * np.sin(2 * np.pi * share * np.arange(frames) + np.radians(degrees)))


def band_noise(seed: int, frames: int, highest: float = 0.45) -> np.ndarray:
    """Noise with nothing above `highest` of the rate."""
    spectrum = np.fft.rfft(np.random.default_rng(seed).standard_normal(frames))
    spectrum[np.arange(len(spectrum)) > highest * frames] = 0
    noise = np.fft.irfft(spectrum, frames)
    return faded(noise / np.abs(noise).max() * 0.8)


def struck(seed: int, frames: int = 9600) -> np.ndarray:
    """A drum hit as sampled: a burst of noise over a few modes that fall at their own speed."""
    rng = np.random.default_rng(seed)
    t = np.arange(frames) / RATE
    modes = sum(
        rng.uniform(0.1, 1) * np.exp(-t * rng.uniform(10, 200)) * np.sin(2 * np.pi * rng.uniform(60, 9000) * t)
        for _ in range(12)
    )
    hit = modes + band_noise(seed, frames) * np.exp(-t * 300)
    return hit / np.abs(hit).max() * 0.9


POINTS_ALONE = 0.45159
"""How far the seventh points themselves can rise over the samples at the ends of an interval, by the greatest second
difference nearby (the sum of their weights' magnitudes). The parabola through three of them can reach 0.46206."""


def worst_crest(frames: int = 200) -> tuple[np.ndarray, float]:
    """Samples with one crest that lies as far as can be over its interval's ends, while no second difference exceeds 1
    and all other samples and points stay lower; and the samples' size at those ends. Found by linear programming."""
    from scipy.optimize import linprog
    from scipy.sparse import csr_matrix

    from replay.meters.interpolation import BEFORE, POINTS, TAPS, WEIGHTS

    middle = frames // 2
    taps = {round(point * 7): WEIGHTS[:, lane] for lane, point in enumerate(POINTS)}
    # A parabola through the points 2/7, 3/7 and 4/7 at its place half-way between the latter two.
    goal = np.zeros(frames + 1)
    goal[middle - BEFORE : middle - BEFORE + TAPS] = 0.125 * taps[2] - 0.75 * taps[3] - 0.375 * taps[4]
    goal[-1] = 1.0
    bends = np.zeros((frames + 2, frames + 1))
    for k in range(frames):
        bends[k, k], bends[k + 1, k], bends[k + 2, k] = 1.0, -2.0, 1.0
    samples = np.eye(frames, frames + 1)
    points = []
    for row in range(1 - TAPS + BEFORE, frames + BEFORE):
        first = row - BEFORE
        part = slice(max(0, first), min(frames, first + TAPS))
        for step in range(1, 7) if row != middle else ():
            points.append(np.zeros(frames + 1))
            points[-1][part] = taps[step][part.start - first : part.stop - first]
    # Everything but the bends may be as large as the samples at the ends of the interval, the last unknown, and a bit.
    limits = [
        (samples[middle : middle + 2].copy(), 0.0),
        (samples, POINTS_ALONE),
        (np.array(points), POINTS_ALONE - 0.01),
    ]
    for rows, _ in limits:
        rows[:, -1] -= 1.0
    limits += [(-rows - 2 * np.eye(1, frames + 1, frames), bound) for rows, bound in limits]
    limits += [(bends, 1.0), (-bends, 1.0)]
    found = linprog(
        goal,
        A_ub=csr_matrix(np.concatenate([rows for rows, _ in limits])),
        b_ub=np.concatenate([np.full(len(rows), bound) for rows, bound in limits]),
        bounds=[(None, None)] * frames + [(0, None)],
    )
    return found.x[:frames], found.x[-1]


def highest(folder: Path, *signals: np.ndarray) -> list[float]:
    """The whole take's true peak of each signal, as the pass leaves it."""
    found, _ = measure_samples(folder, *signals, rate=RATE)
    return [float(one.column("true_peak").max()) for one in found]


@pytest.mark.parametrize("share", [0.001, 0.02, 0.1, 1 / 6, 0.2, 0.25, 0.3, 1 / 3, 0.37, 0.4, 0.43, 0.45])
def test_tones_read_as_the_reference_does(tmp_path: Path, share: float) -> None:
    signals = [tone(share, degrees) for degrees in (0, 13, 30, 45, 60, 90, 121, 150)]
    for read, signal in zip(highest(tmp_path, *signals), signals, strict=True):
        assert abs(reference.db_apart(read, reference.true_peak(signal))) < WITHIN_DB


def test_noise_up_to_045_of_the_rate_reads_as_the_reference_does(tmp_path: Path) -> None:
    signals = [band_noise(seed, 14400) for seed in range(16)]
    for read, signal in zip(highest(tmp_path, *signals), signals, strict=True):
        assert abs(reference.db_apart(read, reference.true_peak(signal))) < WITHIN_DB


def test_hits_read_as_the_reference_does(tmp_path: Path) -> None:
    signals = [struck(seed) for seed in range(24)]
    for read, signal in zip(highest(tmp_path, *signals), signals, strict=True):
        assert abs(reference.db_apart(read, reference.true_peak(signal))) < WITHIN_DB


def test_a_click_is_as_high_as_its_one_sample(tmp_path: Path) -> None:
    signal = np.zeros(2 * HOP)
    signal[7000] = -0.625
    assert highest(tmp_path, signal) == [0.625]


@pytest.mark.parametrize("half", [5, 12, 24, 25, 60, 333])
def test_square_waves_read_as_the_reference_does_below_045_of_the_rate(tmp_path: Path, half: int) -> None:
    """The overshoot beside the edges is in the samples' spectrum, not in the samples."""
    square = np.where(np.arange(14400) // half % 2 == 0, 0.5, -0.5)
    spectrum = np.fft.rfft(square)
    spectrum[np.arange(len(spectrum)) > 0.45 * len(square)] = 0
    signal = faded(np.fft.irfft(spectrum, len(square)))
    (read,) = highest(tmp_path, signal)
    assert abs(reference.db_apart(read, reference.true_peak(signal))) < WITHIN_DB


def test_raw_square_waves_are_never_read_below_their_samples(tmp_path: Path) -> None:
    signals = [np.where(np.arange(9600) // half % 2 == 0, 0.5, -0.5) for half in (1, 2, 3, 24)]
    assert all(read >= 0.5 for read in highest(tmp_path, *signals))


@pytest.mark.parametrize("encoding", ["s16", "s24", "f32", "f64"])
def test_no_hop_is_read_below_its_samples(tmp_path: Path, encoding: str) -> None:
    rng = np.random.default_rng(5)
    signals = [rng.uniform(-0.9, 0.9, 5 * HOP), band_noise(1, 5 * HOP), struck(3, 5 * HOP)]
    for one in measure_samples(tmp_path, *signals, encoding=encoding)[0]:
        peaks = np.maximum(one.column("high"), -one.column("low"))
        assert (one.column("true_peak") >= peaks).all()
        assert (one.column("true_peak_limit") >= one.column("true_peak")).all()


def test_a_peak_between_the_last_samples_before_digital_silence(tmp_path: Path) -> None:
    """The hop that is all zero still holds what moves between the samples before it."""
    # A tone at 0.25 of the rate whose samples all miss the crest by 45 degrees.
    signal = np.zeros(3 * HOP)
    signal[HOP - 12 : HOP] = 0.5 * np.sin(np.pi / 2 * np.arange(12) + np.pi / 4)
    (read,) = highest(tmp_path, signal)
    assert read > 0.49
    assert abs(reference.db_apart(read, reference.true_peak(signal))) < WITHIN_DB


@pytest.mark.parametrize("length", [1, 2, 20, HOP - 17, HOP - 1, HOP, HOP + 1, HOP + 16, HOP + 17, 2 * HOP])
def test_a_peak_between_the_last_samples_of_a_file(tmp_path: Path, length: int) -> None:
    signal = np.zeros(length)
    crest = 0.5 * np.sin(np.pi / 2 * np.arange(12) + np.pi / 4)
    signal[-12:] = crest[-min(12, length) :]
    (read,) = highest(tmp_path, signal)
    assert abs(reference.db_apart(read, reference.true_peak(signal))) < WITHIN_DB


def test_a_peak_before_the_first_sample_of_a_file(tmp_path: Path) -> None:
    signal = np.zeros(2 * HOP)
    signal[:12] = 0.5 * np.sin(np.pi / 2 * np.arange(12) + np.pi / 4)
    (read,) = highest(tmp_path, signal)
    assert abs(reference.db_apart(read, reference.true_peak(signal))) < WITHIN_DB


def test_where_others_go_on_a_track_still_ends_exactly(tmp_path: Path) -> None:
    """Tracks of unlike length share blocks; the one that ends is looked behind where it ends."""
    crest = 0.5 * np.sin(np.pi / 2 * np.arange(12) + np.pi / 4)
    short, long = np.zeros(HOP), np.zeros(5 * HOP)
    short[-12:] = crest
    long[1000:1012] = crest
    alone = highest(tmp_path, short)
    assert highest(tmp_path, long, short)[1:] == alone


KINDS = {
    "noise": lambda rng: rng.uniform(-0.5, 0.5, 30 * HOP),
    "band noise": lambda rng: band_noise(int(rng.integers(1 << 30)), 30 * HOP),
    "tone": lambda rng: 0.7 * np.sin(2 * np.pi * rng.uniform(0.0, 0.5) * np.arange(30 * HOP) + rng.uniform(0, 6)),
    "swelling tone": lambda rng: (
        np.linspace(0.1, 0.9, 30 * HOP) * np.sin(2 * np.pi * rng.uniform(0.2, 0.499) * np.arange(30 * HOP))
    ),
    "steps": lambda rng: np.repeat(rng.uniform(-0.9, 0.9, 30 * HOP // 37 + 1), 37)[: 30 * HOP],
    "impulses": lambda rng: np.where(rng.random(30 * HOP) < 0.001, rng.uniform(-0.9, 0.9, 30 * HOP), 0.0),
    "alternation": lambda rng: (
        (-1.0) ** np.arange(30 * HOP) * np.repeat(rng.choice([-0.4, 0.0, 0.4], 30 * HOP // 53 + 1), 53)[: 30 * HOP]
    ),
    "hits": lambda rng: np.concatenate([struck(int(rng.integers(1 << 30))) * rng.uniform(0.1, 1) for _ in range(15)]),
}


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_every_hop_lies_between_its_two_columns(tmp_path: Path, kind: str) -> None:
    rng = np.random.default_rng(len(kind))
    for one, track in zip(*measure_samples(tmp_path, *(KINDS[kind](rng) for _ in range(3))), strict=True):
        exact = true_peaks(one, track)
        least, most = one.column("true_peak"), one.column("true_peak_limit")
        assert (least <= exact).all()
        # One rounding: the last bit of a sum taken in another order.
        assert (exact <= most * (1 + 1e-15)).all()
        assert most.max() == exact.max()


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_the_whole_take_needs_no_hop_again(tmp_path: Path, kind: str) -> None:
    rng = np.random.default_rng(1 + len(kind))
    for one, track in zip(*measure_samples(tmp_path, *(KINDS[kind](rng) for _ in range(3))), strict=True):
        exact = true_peaks(one, track)
        least = one.column("true_peak")
        assert least.max() == exact.max()
        assert played(least) == played(exact)
        if (least > 0).sum() > 25:
            resolved = resolve(least, one.column("true_peak_limit"), refuse)
            assert recurring(resolved) == recurring(exact)


def test_the_bound_holds_where_second_differences_do_their_worst(tmp_path: Path) -> None:
    """A crest that only the parabola reaches, beside peaks that are a little higher than the points under it."""
    lone = np.zeros(4 * HOP)
    worst, ends = worst_crest()
    lone[2 * HOP + 1000 : 2 * HOP + 1200] = worst * 0.2
    (crest,) = highest(tmp_path, lone)
    plain = 0.2 * (ends + POINTS_ALONE + 0.004)
    assert np.abs(lone).max() < plain < crest
    take = np.zeros(100 * HOP)
    # Fifteen plain peaks first: from then on only what can be higher than them is interpolated.
    for at in range(15):
        take[(2 + 6 * at) * HOP + 100] = plain
    take[-4 * HOP :] = lone
    ((one,), (track,)) = measure_samples(tmp_path, take)
    assert one.column("true_peak").max() == crest
    assert (true_peaks(one, track) <= one.column("true_peak_limit")).all()


def test_a_part_of_a_take_is_exact_after_reading_few_hops_again(tmp_path: Path) -> None:
    """Loud first, soft later: the soft part's hops were not interpolated in the pass."""
    rng = np.random.default_rng(7)
    signal = rng.uniform(-1, 1, 80 * HOP) * np.repeat([0.9, 0.1], 40 * HOP)
    ((one,), (track,)) = measure_samples(tmp_path, signal)
    exact = true_peaks(one, track)
    least, most = one.column("true_peak"), one.column("true_peak_limit")
    assert (most[45:] > least[45:]).any()
    asked: list[int] = []

    def again(hops):
        asked.extend(hops)
        return exact[np.array(hops) + 45]

    resolved = resolve(least[45:], most[45:], again)
    assert resolved.max() == exact[45:].max()
    assert recurring(resolved) == recurring(exact[45:])
    assert len(asked) == len(set(asked)) <= 35


def test_reading_a_hop_again_is_what_the_pass_reads(tmp_path: Path) -> None:
    """Where the pass has interpolated, both give the same to the bit."""
    signal = np.random.default_rng(3).uniform(-0.5, 0.5, 12 * HOP + 777)
    ((one,), (track,)) = measure_samples(tmp_path, signal)
    least, most = one.column("true_peak"), one.column("true_peak_limit")
    exact = true_peaks(one, track)
    known = least == most
    assert known.sum() >= 6
    assert known[-1]
    assert (exact[known] == least[known]).all()


@pytest.mark.parametrize("rate", [8000, 11025, 22050, 44100, 88200, 96000, 176400, 192000])
def test_every_rate_has_its_peaks(tmp_path: Path, rate: int) -> None:
    signal = 0.5 * np.sin(np.pi / 2 * np.arange(hop_start(3, rate)) + np.pi / 4)
    signal[:64] *= np.linspace(0, 1, 64)
    signal[-64:] *= np.linspace(1, 0, 64)
    ((one,), _) = measure_samples(tmp_path, signal, rate=rate)
    assert one.hops == 3
    read = one.column("true_peak")
    assert abs(reference.db_apart(read.max(), reference.true_peak(signal))) < WITHIN_DB
    assert (np.abs(read - 0.5) < 0.003).all()


class TestPlayed:
    def test_the_fifth_highest(self) -> None:
        peaks = np.zeros(60)
        peaks[::10] = [0.9, 0.8, 0.7, 0.6, 0.5, 0.4]
        assert played(peaks) == 0.5

    def test_neighbours_within_250_ms_do_not_count(self) -> None:
        # One event rings on for three hops: it counts once, as does what lies two hops away.
        peaks = np.zeros(60)
        peaks[[9, 10, 11, 12]] = [0.7, 0.9, 0.8, 0.75]
        peaks[[20, 30, 40, 50]] = [0.6, 0.5, 0.4, 0.3]
        assert played(peaks) == 0.3

    def test_three_hops_apart_they_count(self) -> None:
        assert played(np.tile([0.5, 0.1, 0.1], 5)) == 0.5
        assert played(np.tile([0.5, 0.1], 5)) is None

    def test_four_peaks_are_no_recurrence(self) -> None:
        peaks = np.zeros(100)
        peaks[::25] = 0.5
        assert played(peaks) is None

    def test_nothing(self) -> None:
        assert played(np.zeros(0)) is None
        assert played(np.zeros(50)) is None


@kernel
def _both_ways(lines, at, places, scratch, other):
    interpolate(lines, places, 0, WEIGHTS, scratch)
    interpolate_row(lines, at, PAIRED, other)


def test_eight_intervals_in_a_row_are_interpolated_as_any_eight_are() -> None:
    rng = np.random.default_rng(21)
    lines, scratch, other = np.zeros(200), np.zeros((32, 8)), np.zeros((32, 8))
    for kind in range(40):
        lines[:] = rng.standard_normal(200) if kind % 2 else np.sign(np.sin(np.arange(200) * rng.uniform(0.2, 2.5)))
        _both_ways(lines, 90, np.arange(90, 98), scratch, other)
        assert scratch[0] == pytest.approx(other[0], rel=1e-14)
        # And both are at least what lies at their ends.
        assert (other[0] >= np.maximum(abs(lines[90:98]), abs(lines[91:99]))).all()
