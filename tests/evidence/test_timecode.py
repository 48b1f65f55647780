"""Timecode known by its sound: rate, direction, and what only looks like it."""

from __future__ import annotations

import numpy as np
import pytest

from replay.evidence.timecode import decode, find_timecode
from tests.checks.sick import RATE, healthy, noise, sines, time
from tests.material.ltc import ltc
from tests.tracks import measure_samples


@pytest.mark.parametrize("fps", [24, 25, 30])
@pytest.mark.parametrize("rate", [44100, 48000, 96000])
def test_the_rate_is_told(fps, rate):
    assert decode(ltc(rate, 12345, rate, fps=fps), rate) == pytest.approx(fps, rel=2e-4)


def test_it_is_read_upside_down_and_backwards():
    samples = ltc(RATE, 999, RATE, fps=25)
    assert decode(-samples, RATE) == pytest.approx(25, rel=2e-4)
    assert decode(samples[::-1], RATE) == pytest.approx(25, rel=2e-4)


def test_it_is_read_through_noise_and_an_offset():
    samples = ltc(RATE, 999, RATE, fps=25, peak=0.25) + noise(-40, 1, 1.0) + 0.05
    assert decode(samples, RATE) == pytest.approx(25, rel=5e-4)


@pytest.mark.parametrize(
    "samples",
    [
        pytest.param(np.zeros(RATE), id="silence"),
        pytest.param(np.sign(sines(1000, {1: 0}, 1.0)), id="a square wave"),
        pytest.param(np.sign(sines(1000, {1: 0}, 1.0) + sines(500, {1: -1}, 1.0)), id="two square waves"),
        pytest.param(sines(1000, {1: -6}, 1.0), id="a sine"),
        pytest.param(noise(-20, 1, 1.0), id="noise"),
        pytest.param(np.repeat(np.random.default_rng(3).choice([0.3, -0.3], 4000), 12), id="data without sync"),
    ],
)
def test_without_its_sync_word_there_is_none(samples):
    assert decode(samples, RATE) is None


def test_only_what_is_timecode_is_found_on_a_take(tmp_path):
    frames = len(time())
    square = 0.3 * np.sign(sines(100, {1: 0}))
    measurements, tracks = measure_samples(tmp_path, healthy(), ltc(RATE, 0, frames, peak=0.3), square, noise(-20))
    found = find_timecode(tracks, {one.track: one for one in measurements}, RATE)
    assert list(found) == [2]
    assert found[2].frames_per_second == pytest.approx(25, rel=2e-4)
