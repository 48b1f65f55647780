from __future__ import annotations

import numpy as np
import pytest

from replay.ident.signal import LARGEST_NUMBER, burst, numbers_in, pitch


def track(number: int, rate: int = 48000, before: float = 0.7, after: float = 0.7) -> np.ndarray:
    sound = burst(number, rate)
    return np.concatenate([np.zeros(int(before * rate)), sound, np.zeros(int(after * rate))])


@pytest.mark.parametrize("number", [*range(1, 130), 255, 256, 512, LARGEST_NUMBER])
def test_every_number_is_read_back(number):
    assert numbers_in(track(number), 48000) == (number,)


@pytest.mark.parametrize("rate", [22050, 44100, 88200, 96000])
@pytest.mark.parametrize("number", [1, 42, 96, 128])
def test_at_any_rate(rate, number):
    assert numbers_in(track(number, rate), rate) == (number,)


def test_its_level_is_30_dbfs_and_its_pitch_its_own():
    sound = burst(25, 48000)
    # -30 dBFS: an amplitude of 0.0316.
    assert np.abs(sound).max() == pytest.approx(0.0316, abs=0.0001)
    assert np.abs(sound[0]) < 1e-6
    assert np.abs(sound[-1]) < 1e-3
    spectrum = np.abs(np.fft.rfft(sound[2400:16800]))
    assert np.argmax(spectrum) * 48000 / 14400 == pytest.approx(400, abs=3.4)
    assert pitch(25) == pytest.approx(400.0)
    assert len({round(pitch(number), 3) for number in range(1, 97)}) == 96


@pytest.mark.parametrize("gain", [-1.0, 20.0, 0.01])
@pytest.mark.parametrize("noise", [0.0, 0.0005])
def test_at_other_levels_and_under_noise(gain, noise):
    random = np.random.default_rng(1)
    for number in (3, 60, 97):
        signal = track(number) * gain
        signal += random.normal(0, noise * abs(gain), len(signal))
        assert numbers_in(signal, 48000) == (number,)


def test_through_a_16_bit_converter_and_a_desk_that_is_late():
    late = np.concatenate([np.zeros(137), track(77)])
    assert numbers_in(np.rint(late * 2**15) / 2**15, 48000) == (77,)


def test_two_returns_on_one_channel():
    both = np.concatenate([track(5, after=0.08), track(9, before=0.08)])
    assert numbers_in(both, 48000) == (5, 9)
    # Crosstalk 40 dB down is nobody's return.
    assert numbers_in(np.concatenate([track(5), track(9) * 0.01]), 48000) == (5,)


@pytest.mark.parametrize("seed", range(30))
def test_music_and_noise_name_nobody(seed):
    random = np.random.default_rng(seed)
    length = int(48000 * random.uniform(0.5, 1.2))
    time = np.arange(length) / 48000
    sounds = [
        random.normal(0, 0.1, length),
        np.sin(2 * np.pi * random.uniform(100, 4000) * time),
        np.sin(2 * np.pi * pitch(int(random.integers(1, 97))) * time[:40320]),
        burst(40, 48000)[::-1],
    ]
    sound = sounds[seed % len(sounds)]
    assert numbers_in(np.concatenate([np.zeros(4800), sound, np.zeros(4800)]), 48000) == ()


def test_nothing_at_all():
    assert numbers_in(np.zeros(0), 48000) == ()
    assert numbers_in(np.zeros(48000), 48000) == ()
    assert numbers_in(np.ones(3), 48000) == ()
