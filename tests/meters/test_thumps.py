"""Thumps: rare strong pulses below hearing's low end; a bass drum's are neither rare nor so low."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from replay.meters.thumps import mask, thumps
from tests import parts
from tests.checks.sick import RATE, healthy, noise, time
from tests.tracks import measure_samples


def pulse(at: float, hz: float, peak: float, decay: float = 0.1) -> np.ndarray:
    after = np.maximum(time() - at, 0)
    out = np.sin(2 * np.pi * hz * after) * np.exp(-after / decay)
    return out / np.abs(out).max() * peak


def _found(folder: Path, samples: np.ndarray) -> np.ndarray:
    [measurement], _ = measure_samples(folder, samples, encoding="s24")
    return thumps(measurement)


@pytest.mark.parametrize("hz", [8, 15, 25])
def test_a_pulse_below_music_is_found_where_it_is(tmp_path, hz):
    # In the rest of `healthy` from 23 to 26 s and in its song.
    for at in (24.0, 18.0):
        folder = tmp_path / str(at)
        folder.mkdir()
        [[start, stop]] = _found(folder, healthy() * 0.5 + pulse(at, hz, 0.9)).tolist()
        assert start / 10 == pytest.approx(at, abs=0.21)
        assert 0.1 <= (stop - start) / 10 <= 1.2


def _few_words() -> np.ndarray:
    """Two words in 36 s, with a little below 100 Hz, each muted in a moment: under a twentieth of the take sounds."""
    t = time()
    word = np.sin(2 * np.pi * 400 * t) + 0.3 * np.sin(2 * np.pi * 900 * t) + 0.05 * np.sin(2 * np.pi * 60 * t)
    said = sum(np.clip(np.minimum(t - at, at + 0.55 - t) / 0.005, 0, 1) for at in (8.0, 20.0))
    return 0.15 * word * said + noise(-96)


def test_what_comes_late_of_words_that_ended_is_no_thump(tmp_path):
    (tmp_path / "a").mkdir()
    (tmp_path / "b").mkdir()
    assert len(_found(tmp_path / "a", _few_words())) == 0
    # A plug pulled on the same track is one.
    [[start, _]] = _found(tmp_path / "b", _few_words() + pulse(28, 15, 0.5)).tolist()
    assert start / 10 == pytest.approx(28, abs=0.21)


def test_the_gain_changes_nothing(tmp_path):
    sound = healthy() * 0.5 + pulse(24, 15, 0.9)
    (tmp_path / "a").mkdir()
    (tmp_path / "b").mkdir()
    assert _found(tmp_path / "a", sound).tolist() == _found(tmp_path / "b", sound / 64).tolist()


@pytest.mark.parametrize(
    "sound",
    [
        pytest.param(lambda: healthy(), id="music"),
        pytest.param(lambda: noise(-60), id="noise"),
        pytest.param(lambda: sum(pulse(at, 25, 0.6) for at in np.arange(1, 35, 0.5)), id="a bass drum"),
        pytest.param(lambda: healthy() + pulse(24, 90, 0.9), id="a low drum, once"),
        pytest.param(lambda: 0.5 * np.sin(2 * np.pi * 30 * time()) * (time() > 5), id="an organ pipe of 30 Hz"),
        pytest.param(lambda: healthy() + pulse(24, 15, 0.002), id="a far-off door"),
        pytest.param(lambda: np.zeros(36 * RATE), id="silence"),
    ],
)
def test_what_is_no_thump(tmp_path, sound):
    assert len(_found(tmp_path, sound())) == 0


@pytest.mark.parametrize("seed", [1, 5, 6])
def test_chance_moments_of_steady_noise_are_no_thumps(seed):
    """Three minutes of pink noise: in 100 ms the lowest octave has few independent values, so that its share of the
    energy, three tenths, passes six now and then."""
    rng = np.random.default_rng(seed)
    lowest = 0.3 * rng.chisquare(4, 1800) / 4
    energy = lowest + 0.7 * rng.normal(1, 0.03, 1800)
    assert (lowest[1:] + lowest[:-1] >= 0.6 * (energy[1:] + energy[:-1])).any()
    columns = {"band_0": lowest, "energy": energy}
    assert len(thumps(parts.measurement(1, 1800, columns))) == 0
    # A kick at the stand, 26 dB above what the octave mostly holds.
    lowest[900] += 120.0
    energy[900] += 120.0
    [[start, stop]] = thumps(parts.measurement(1, 1800, columns)).tolist()
    assert start <= 900 < stop


def test_the_mask_is_true_within_thumps_only(tmp_path):
    [measurement], _ = measure_samples(tmp_path, healthy() * 0.5 + pulse(24, 15, 0.9), encoding="s24")
    [[start, stop]] = thumps(measurement).tolist()
    assert np.flatnonzero(mask(measurement)).tolist() == list(range(start, stop))
