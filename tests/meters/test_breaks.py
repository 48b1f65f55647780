"""Clicks, held values, repeats and plateaus: against literal twins, at borders, and however the audio is cut."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from replay.meters import clicks, faint, held, repeats
from replay.meters.model import EVENTS_KEPT
from tests.meters.faulty import HOP, RATE, events, music, noise, one_by_one
from tests.tracks import everything, measure_samples, measured, mono

FRAMES = 5 * HOP + 1234

BORDERS = [HOP - 1, HOP, 2 * HOP + 1, 3 * HOP - 80, 3 * HOP - 81, 4 * HOP + 24]


def literal_clicks(x: np.ndarray) -> list[tuple[int, int, float, float]]:
    """The definition, place by place."""
    pad = np.concatenate([np.zeros(200), x, np.zeros(200)])
    error = np.zeros(len(pad))
    inner = slice(3, len(pad) - 3)
    at = lambda k: pad[3 + k : len(pad) - 3 + k]  # noqa: E731
    error[inner] = 20.0 * at(0) - 15.0 * (at(-1) + at(1)) + (6.0 * (at(-2) + at(2)) - (at(-3) + at(3)))
    found = []
    for n in range(200 - clicks.LATE, 200 + len(x)):
        size = abs(error[n])
        if size < 20 * clicks.LEAST_ERROR:
            continue
        near = np.abs(error[n - 72 : n + 73])
        around = max(near[:64].max(), near[81:].max())
        if size < 3 * around or size < near.max() or (near[:72] == size).any():
            continue
        before, after = pad[n - 72 : n - 9], pad[n + 10 : n + 73]
        if (before == before[0]).all() or (after == after[0]).all():
            continue
        top = max(pad[n - 3 : n + 4], key=abs)
        about = pad[n - 72 : n + 73]
        at_top = top == (about.max() if top > 0 else about.min())
        found.append((n - 200, 1 + int(at_top), error[n] / 20, around / 20))
    return found


@pytest.fixture
def clicked() -> list[np.ndarray]:
    signals = []
    for seed in range(8):
        x = music(FRAMES, seed)
        for place, at in enumerate(BORDERS):
            if place % 2 == seed % 2:
                x[at] += 0.01 * (-1) ** place
            else:
                x[at:] = np.concatenate([x[at + 1 :], x[:1]])
        signals.append(x)
    # Weak ones: noise now and then has a sample that stands out.
    signals.append(noise(FRAMES, 9, 0.01) * (1 + 4 * (np.random.default_rng(1).random(FRAMES) > 0.999)))
    return signals


def test_clicks_are_those_of_the_definition(tmp_path, clicked):
    measurements, _ = measure_samples(tmp_path, *clicked)
    noted = 0
    for signal, one in zip(clicked, measurements, strict=True):
        found = events(one, "click")
        assert [tuple(one) for one in found] == literal_clicks(signal)
        assert one.event_counts["click"] == len(found)
        noted += len(found)
    assert noted > 25


def test_a_lone_wrong_sample_is_noted_with_its_size(tmp_path):
    x = music(FRAMES, 1)
    x[7000] += 0.0625
    (one,), _ = measure_samples(tmp_path, x)
    ((start, length, value, against),) = events(one, "click")
    assert (start, length) == (7000, 1)
    assert value == pytest.approx(0.0625, abs=1e-4)
    assert against < 1e-4


def test_a_bend_where_a_top_is_cut_off_is_noted_as_at_the_top(tmp_path):
    away = np.arange(FRAMES) - 7000
    x = 0.5 * np.exp(-((away / 300) ** 2)) * np.cos(2 * np.pi * 900 * away / RATE)
    (one,), _ = measure_samples(tmp_path, np.minimum(x, 0.49))
    assert {length for start, length, *_ in events(one, "click") if abs(int(start) - 7000) <= 3} == {2}
    # As large a break beside it, half way down.
    x[7013] += 0.01
    (one,), _ = measure_samples(tmp_path, x)
    assert [(start, length) for start, length, *_ in events(one, "click")] == [(7013, 1)]


def test_an_onset_out_of_silence_and_a_hard_end_are_no_clicks(tmp_path):
    x = np.zeros(FRAMES)
    x[5000:9000] = music(4000, 2) + 0.2
    (one,), _ = measure_samples(tmp_path, x)
    assert events(one, "click") == []


def literal_held(x: np.ndarray) -> list[tuple[int, int, float, float]]:
    pad = np.concatenate([np.zeros(200), x, np.zeros(300)])
    at = lambda n, k: pad[n + k]  # noqa: E731

    def error(n: int) -> float:
        return abs(
            20.0 * at(n, 0) - 15.0 * (at(n, -1) + at(n, 1)) + (6.0 * (at(n, -2) + at(n, 2)) - (at(n, -3) + at(n, 3)))
        )

    def edge(row: int, way: int, value: float) -> tuple[bool, float, bool, bool, bool]:
        beside = max(error(row + way * k) for k in range(-3, 3))
        near = max(error(row + way * k) for k in range(3, 12))
        far = max(error(row + way * k) for k in range(12, 68))
        around = pad[[row + way * k for k in range(25)]]
        wide = pad[[row + way * k for k in range(68)]]
        breaks = beside > 3 * max(near, far) or (near >= 0.3 * far and beside >= 0.3 * far and near > 0)
        jump, step = abs(around[0] - value), np.abs(np.diff(around)).max()
        return breaks, max(jump, step), bool((wide > value).any()), bool((wide < value).any()), bool(jump > 2 * step)

    found = []
    borders = [0, *(np.flatnonzero(np.diff(pad) != 0) + 1).tolist(), len(pad)]
    for start, stop in pairwise(borders):
        if stop - start < 24 or start < 150 or stop > len(pad) - 150:
            continue
        value = float(pad[start])
        left, right = edge(start - 1, -1, value), edge(stop, 1, value)
        one_sided = not ((left[2] or right[2]) and (left[3] or right[3]))
        if left[0] and right[0] and not (one_sided and value != 0 and not left[4] and not right[4]):
            found.append((start - 200, stop - start, value, float(min(left[1], right[1]))))
    return found


def with_gaps(seed: int) -> np.ndarray:
    x = (music if seed % 2 else noise)(FRAMES, seed)
    for place, (at, length) in enumerate(zip(BORDERS, (24, 25, 100, 23, 30, 240), strict=True)):
        x[at + 100 : at + 100 + length] = 0 if place % 2 else x[at + 99]
    return x


def test_held_values_are_those_of_the_definition(tmp_path):
    signals = [with_gaps(seed) for seed in range(9)]
    measurements, _ = measure_samples(tmp_path, *signals)
    noted = 0
    for signal, one in zip(signals, measurements, strict=True):
        assert events(one, "held") == literal_held(signal)
        assert one.event_counts["held"] == len(literal_held(signal))
        noted += len(events(one, "held"))
    assert noted > 20


def test_held_frames_are_counted_in_runs_of_24_or_more(tmp_path):
    x = music(FRAMES, 3)
    x[1000:1024] = 0.3
    x[6000:6023] = 0.31
    x[9590:9620] = -0.3
    (one,), _ = measure_samples(tmp_path, x)
    # What is behind the end counts in the last hop.
    assert one.column("held")[:5].tolist() == [24, 0, 30, 0, 0]


def test_long_runs_without_two_breaks_are_noted_as_rests(tmp_path):
    x = 0.3 * np.sin(2 * np.pi * 60 * np.arange(FRAMES) / RATE)
    x[7000:7300] = x[6999]
    x[12000:12239] = x[11999]
    x[20000:] *= 0
    (one,), _ = measure_samples(tmp_path, x)
    # 299 new equal samples and the one that is held; 239 more are a sample short, and the end of the track is no rest.
    noted = [*events(one, "held"), *events(one, "rest")]
    assert [(start, length) for start, length, *_ in noted if length >= held.LONG] == [(6999, 301), (11999, 240)]
    assert one.event_counts["rest"] == len(events(one, "rest"))


def test_a_fade_to_zero_and_a_cut_off_top_are_not_noted(tmp_path):
    x = noise(FRAMES, 4)
    x[4000:6000] *= np.linspace(1, 0, 2000)
    x[6000:9000] = 0
    x[9000:9500] *= np.linspace(0, 1, 500)
    y = music(FRAMES, 5).clip(-0.1, 0.1)
    measurements, _ = measure_samples(tmp_path, x, y)
    assert [one.event_counts["held"] for one in measurements] == [0, 0]


def dithered(x: np.ndarray, seed: int) -> np.ndarray:
    """16 bits with triangular dither, one step either way."""
    rng = np.random.default_rng(seed)
    return np.rint(x * 2.0**15 + rng.random(len(x)) - rng.random(len(x))) / 2.0**15


@pytest.mark.parametrize("rate", [44100, 48000])
def test_holes_that_were_made_before_the_dither_are_faint(tmp_path, rate):
    signals, cut = [], []
    for seed, start in enumerate((9001, 2 * HOP - 80, 2 * HOP - 81, 2 * HOP, 2 * HOP + 3)):
        for length in (264, 480, 2 * HOP + 5):
            x = noise(FRAMES, seed, 0.05) if seed in (2, 4) else music(FRAMES, seed)
            x[start : start + length] = 0
            signals.append(dithered(x, seed + length))
            cut.append((start, length))
    measurements, _ = measure_samples(tmp_path, *signals, rate=rate, encoding="s16")
    for one, (start, length) in zip(measurements, cut, strict=True):
        [(at, long, value, against)] = events(one, "faint")
        # A wave that passes through zero there may lengthen the run by a sample or two.
        assert (at, long) == (pytest.approx(start, abs=4), pytest.approx(length, abs=8))
        assert value in (2.0**-15, 2.0**-14)
        assert against >= faint.LEAST_STEP
        assert one.event_counts["faint"] == 1


def test_fades_quiet_rests_short_holes_and_zeros_are_not_faint(tmp_path):
    ramp = music(FRAMES, 4)
    ramp[6000:6144] *= np.linspace(1, 0, 144)  # 3 ms down, as fast up
    ramp[6144:9000] = 0
    ramp[9000:9144] *= np.linspace(0, 1, 144)
    hit = noise(FRAMES, 5, 0.2) * np.exp(-(np.arange(FRAMES) % 6000) / 400)  # begins hard and dies away
    short = music(FRAMES, 6)
    short[6000:6200] = 0
    hum = 0.01 * np.sin(2 * np.pi * 50 * np.arange(FRAMES) / RATE)
    signals = [dithered(x, seed) for seed, x in enumerate((ramp, hit, short, hum, noise(FRAMES, 7, 2e-5)))]
    floor = music(FRAMES, 8)
    floor[6000:8000] = 0
    floor += noise(FRAMES, 9, 1e-4)  # a preamp's noise of -80 dBFS
    zeros = dithered(music(FRAMES, 10), 10)
    zeros[6000:8000] = 0
    measurements, _ = measure_samples(tmp_path, *signals, dithered(floor, 8), zeros, encoding="s16")
    assert [one.event_counts["faint"] for one in measurements] == [0] * 7
    assert measurements[6].event_counts["held"] == 1


@pytest.mark.parametrize("length", [128, 240, 480, 1024, 4096])
def test_a_buffer_played_twice_is_noted_once(tmp_path, length):
    x = music(FRAMES, 6)
    start = 2 * HOP + 37
    x[start : start + length] = x[start - length : start]
    (one,), _ = measure_samples(tmp_path, x)
    ((at, lag, times, _),) = events(one, "repeat")
    assert (lag, times) == (length, 1)
    assert start <= at < start + 2 * repeats.CHUNK


def test_most_short_buffers_are_found(tmp_path):
    signals = []
    for seed in range(24):
        x = music(FRAMES, seed)
        for at in (3000, 9600, 15001):
            x[at : at + 64] = x[at - 64 : at]
        signals.append(x)
    measurements, _ = measure_samples(tmp_path, *signals)
    # Six or seven whole chunks lie in the copy; each is an anchor once in four: 1 - 0.75 ** 6 = 82 %.
    assert sum(one.event_counts["repeat"] for one in measurements) > 0.7 * 72


def test_three_times_counts_as_two_repeats_and_a_steady_tone_as_none(tmp_path):
    x = music(FRAMES, 7)
    x[9000:9512] = x[8744:9000].tolist() * 2
    period = music(96, 8)
    tone = np.tile(period, FRAMES // 96)
    measurements, _ = measure_samples(tmp_path, x, tone)
    ((_, lag, times, _),) = events(measurements[0], "repeat")
    assert (lag, times) == (256, 2)
    assert events(measurements[1], "repeat") == []


def test_flat_tops_are_counted_and_round_ones_are_not(tmp_path):
    time = np.arange(FRAMES) / RATE
    tones = [0.5 * np.sin(2 * np.pi * hz * time) for hz in (40, 100, 440)]
    flat = [tone.clip(-0.5, 0.4) for tone in tones]
    blunt = 0.5 * (np.sin(2 * np.pi * 60 * time) + np.sin(2 * np.pi * 180 * time) / 9)
    measurements, _ = measure_samples(tmp_path, *tones, *flat, blunt)
    for one in measurements[:3] + measurements[6:]:
        assert not one.column("flat_high").any()
        assert not one.column("flat_low").any()
    for one, hz in zip(measurements[3:6], (40, 100, 440), strict=True):
        assert not one.column("flat_low").any()
        # arccos(0.8) to either side of each top, of which at most twelve a hop are looked at.
        expected = 2 * np.arccos(0.8) / (2 * np.pi) * RATE / hz * min(12, hz / 10)
        assert one.column("flat_high")[1:5].tolist() == pytest.approx([expected] * 4, rel=0.35)


def test_cutting_and_grouping_change_nothing(tmp_path, clicked):
    signals = [*clicked[:3], with_gaps(1), with_gaps(2), np.clip(music(FRAMES, 11), -0.15, 0.12)]
    x = music(FRAMES, 12)
    x[HOP - 100 : HOP + 156] = x[HOP - 356 : HOP - 100]
    signals.append(x)
    y = music(FRAMES, 13)
    y[2 * HOP - 300 : 2 * HOP + 200] = 0
    signals.append(dithered(y, 13))
    whole, _ = measure_samples(tmp_path, *signals)
    for cuts in ([HOP], [1, 4801, 9599], [777, HOP + 80, 3 * HOP - 40]):
        for one, other in zip(whole, one_by_one(tmp_path / "cut", signals, cuts), strict=True):
            assert everything(other) == everything(one)


def test_what_lies_at_a_missing_stretch_is_not_the_signals(tmp_path):
    from tests.tracks import track, write

    a, b = music(HOP, 13) + 0.2, music(2 * HOP, 14) + 0.2
    files = [write(tmp_path / "a.wav", a, RATE, "f64"), write(tmp_path / "b.wav", b, RATE, "f64")]
    (one,) = measured([track(1, (files[0], 0, 0), (files[1], 0, HOP + 500))], RATE, tmp_path)
    assert events(one, "held") == []
    assert one.event_counts["held"] == 0


def test_events_are_capped_and_counts_are_not(tmp_path):
    x = noise(RATE * 20, 15, 0.01)
    x[100::200] += 0.5
    (one,) = measured([mono(tmp_path, 1, x)], RATE, tmp_path)
    assert len(one.events_of("click")) == EVENTS_KEPT
    assert one.event_counts["click"] == RATE * 20 // 200


@pytest.mark.parametrize("rate", [8000, 22050, 44100, 96000])
def test_other_rates(tmp_path: Path, rate: int):
    frames = rate // 2
    rng = np.random.default_rng(rate)
    x = 0.2 * np.sin(2 * np.pi * 50 * np.arange(frames) / rate) + 1e-5 * rng.standard_normal(frames)
    x[rate // 10 + 7] += 0.05
    x[rate // 4 : rate // 4 + 40] = 0.01
    x[rate // 3 : rate // 3 + 256] = x[rate // 3 - 256 : rate // 3]
    (one,), _ = measure_samples(tmp_path, x, rate=rate)
    assert rate // 10 + 7 in [start for start, *_ in events(one, "click")]
    assert [(start, length) for start, length, *_ in events(one, "held")] == [(rate // 4, 40)]
    assert [lag for _, lag, *_ in events(one, "repeat")] == [256]
    assert held.SHORTEST == 24
