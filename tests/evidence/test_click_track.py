"""Click tracks known by their sound, and what comes at a steady rate and is none."""

from __future__ import annotations

import numpy as np
import pytest

from replay.evidence.click_track import find_clicks
from replay.take.moments import read_moments
from tests.checks.sick import RATE, SECONDS, healthy, noise
from tests.tracks import measure_samples


def at_times(times: list[float], *sounds: np.ndarray, rate: int = RATE) -> np.ndarray:
    """`sounds` in turn at these times (s), each at the nearest sample."""
    out = np.zeros(SECONDS * rate)
    for place, at in enumerate(times):
        sound = sounds[place % len(sounds)]
        first = round(at * rate)
        part = out[first : first + len(sound)]
        part += sound[: len(part)]
    return out


def beep(hz: float, seconds: float = 0.02, level: float = 0.5, rate: int = RATE) -> np.ndarray:
    t = np.arange(round(seconds * rate)) / rate
    return level * np.sin(2 * np.pi * hz * t)


def block(hz: float, level: float = 0.5) -> np.ndarray:
    """A wood block: a tone that dies away within some hundredths of a second."""
    t = np.arange(round(0.12 * RATE)) / RATE
    return level * np.sin(2 * np.pi * hz * t) * np.exp(-t / 0.015)


def beats(per_minute: float, start: float = 0.5, stop: float = SECONDS - 0.5) -> list[float]:
    return list(np.arange(start, stop, 60 / per_minute))


def found(tmp_path, *tracks: np.ndarray, rate: int = RATE):
    measurements, made = measure_samples(tmp_path, *tracks, rate=rate)
    return find_clicks(made, {one.track: one for one in measurements}, rate, read_moments)


@pytest.mark.parametrize("per_minute", [60, 97.3, 128, 240])
def test_pitches_and_rate_are_told(tmp_path, per_minute):
    low, high = beep(1000, level=0.4), beep(1500, level=0.6)
    [(number, one)] = found(tmp_path, at_times(beats(per_minute), high, low, low, low)).items()
    assert number == 1
    assert one.pitches_hz == pytest.approx((1000, 1500), rel=0.02)
    # Known to a cell of 10 ms.
    assert 60 / one.per_minute == pytest.approx(60 / per_minute, abs=0.0101)


def test_one_pitch_wood_and_an_accent(tmp_path):
    accented = at_times(beats(110), beep(880, level=0.8), beep(880, level=0.25), beep(880, level=0.25))
    tracks = at_times(beats(110), beep(880)), at_times(beats(110), block(1200), block(900)), accented
    clicks = found(tmp_path, *tracks)
    assert sorted(clicks) == [1, 2, 3]
    assert clicks[1].pitches_hz == pytest.approx((880,), rel=0.02)
    assert clicks[2].pitches_hz == pytest.approx((900, 1200), rel=0.03)


def test_rests_between_songs_another_rate_and_a_preamps_noise(tmp_path):
    two_songs = beats(120, 1, 14) + beats(92, 18, 34)
    clean = at_times(two_songs, beep(1500), beep(1000), beep(1000), beep(1000))
    clicks = found(tmp_path, clean, 0.1 * clean + noise(-75))
    assert sorted(clicks) == [1, 2]


def test_at_other_rates_of_the_files(tmp_path):
    rate = 44100
    samples = np.zeros(30 * rate)
    for at in np.arange(0.5, 29, 0.5):
        sound = beep(1000, rate=rate)
        samples[round(at * rate) : round(at * rate) + len(sound)] = sound
    assert found(tmp_path, samples, rate=rate)[1].pitches_hz == pytest.approx((1000,), rel=0.02)


def kick() -> np.ndarray:
    t = np.arange(round(0.1 * RATE)) / RATE
    return 0.8 * np.sin(2 * np.pi * (50 * t + 2 * (1 - np.exp(-t / 0.02)))) * np.exp(-t / 0.025)


def hat(seed: int = 1) -> np.ndarray:
    t = np.arange(round(0.08 * RATE)) / RATE
    return 0.3 * np.random.default_rng(seed).standard_normal(len(t)) * np.exp(-t / 0.015)


def test_what_is_steady_or_short_and_no_click(tmp_path):
    rng = np.random.default_rng(2)
    steady = beats(120)
    machine_kick = at_times(steady, kick())
    machine_hat = at_times(beats(240), hat())
    struck_hat = at_times([at + rng.normal(0, 0.006) for at in steady], *(hat(seed) for seed in range(71)))
    tune = at_times(steady, *(beep(440 * 2 ** (step / 12), 0.05) for step in (0, 4, 7, 12, 9, 5)))
    loose = at_times(list(np.cumsum(rng.uniform(0.2, 0.9, 60))), beep(1000))
    held = at_times(steady, beep(1000, 0.35))
    few = at_times(beats(120, 1, 8), beep(1000))
    others = (
        np.zeros(SECONDS * RATE),
        noise(-20),
        healthy(),
        np.sin(2 * np.pi * 1000 * np.arange(SECONDS * RATE) / RATE),
    )
    assert found(tmp_path, machine_kick, machine_hat, struck_hat, tune, loose, held, few, *others) == {}


def test_a_pad_that_is_played_by_hand_is_as_loud_twice_by_chance_only(tmp_path):
    rng = np.random.default_rng(6)

    def played(*sounds: np.ndarray) -> np.ndarray:
        times = beats(120)
        hits = (sounds[place % len(sounds)] * rng.uniform(0.35, 1.0) for place in range(len(times)))
        return at_times(times, *hits)

    struck = played(block(900)), played(block(1200), block(700)), np.clip(played(1.5 * beep(1000)), -0.5, 0.5)
    assert found(tmp_path, *struck) == {}
    # A click with three levels, turned down by 2 dB for the second song.
    levels = at_times(beats(120, 1, 17), *(beep(1000, level=level) for level in (0.8, 0.3, 0.5, 0.3)))
    softer = at_times(beats(104, 19, 35), *(beep(1000, level=0.8 * level) for level in (0.8, 0.3, 0.5, 0.3)))
    assert sorted(found(tmp_path, levels + softer + noise(-75))) == [1]
