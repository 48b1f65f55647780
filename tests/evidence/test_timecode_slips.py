"""What timecode says of an instant: how many samples were lost or repeated there, and where it cannot say."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.interpolate import CubicSpline
from scipy.signal import butter, sosfilt

from replay.evidence.timecode import Timecode
from replay.evidence.timecode_slips import MOST, Slip, frame_number, known, lost_between
from replay.measuring.store import Store
from tests.material.ltc import frame_bits, ltc
from tests.tracks import measure_samples

NTSC = 30000 / 1001
AMOUNTS = (1, -1, 16, -16, 64, 441, -441, 4800, -4800)


def slipped(code: np.ndarray, at: int, lost: int) -> np.ndarray:
    """`code` with so many samples lost before sample `at` of the result (negative: played once more)."""
    return np.concatenate([code[:at], code[at + lost :]])


def said(samples: np.ndarray, at: int, rate: int, fps: float) -> tuple[float, bool] | None:
    """What is said of an instant with a second either side of it."""
    return lost_between(samples[at - rate : at + rate].astype(np.float32), rate, rate, round(fps))


@pytest.mark.parametrize("fps", [24, 25, NTSC, 30])
@pytest.mark.parametrize("rate", [44100, 48000])
def test_losses_and_repeats_are_counted_to_the_sample(rate, fps):
    code = ltc(rate, 1234567, 4 * rate, fps=fps)
    at = 2 * rate + 333
    assert {lost: said(slipped(code, at, lost), at, rate, fps) for lost in AMOUNTS} == {
        lost: (float(lost), True) for lost in AMOUNTS
    }
    assert said(code, at, rate, fps) == (0.0, True)


@pytest.mark.parametrize("lost", AMOUNTS)
def test_a_generator_on_a_clock_of_its_own_counts_as_well(lost):
    # 200 ppm fast, band-limited at 5 kHz, 40 dB down with noise 30 dB below it.
    code = ltc(48000, 0, 5 * 48000, fps=25)
    own = CubicSpline(np.arange(len(code)), code)(np.arange(4 * 48000) * 1.0002)
    cable = sosfilt(butter(2, 5000, fs=48000, output="sos"), slipped(own, 96000, lost))
    noise = np.random.default_rng(1).standard_normal(len(cable)) * 0.25 * 10 ** (-30 / 20)
    assert said((cable + noise) * 0.01, 96000, 48000, 25) == (float(lost), True)


@pytest.mark.parametrize("lost", [1, 4800, -4800])
def test_numbers_that_are_left_out_or_begin_anew_are_no_loss(lost):
    # Half a second behind the instant a minute begins in drop frame, and a day.
    for first_s, fps, drop in ((36021, NTSC, True), (24 * 3600 - 3, 25, False)):
        code = ltc(48000, 24000, 4 * 48000, fps=fps, first_s=first_s, drop=drop)
        assert said(slipped(code, 96000, lost), 96000, 48000, fps) == (float(lost), True)


def test_frames_are_numbered_as_their_generator_numbers_them():
    for number in (0, 29, 30, 1799, 1800, 1801, 17981, 17982, 107891, 107892, 2589407):
        assert frame_number(np.array(frame_bits(number, 30, drop=True)), 30) == number
    for number in (0, 24, 25, 1499, 1500, 24 * 3600 * 25 - 1):
        assert frame_number(np.array(frame_bits(number, 25)), 25) == number


def test_timecode_that_is_no_longer_sharp_is_told_without_its_samples():
    # A tape that wavers by 0.1 %, four times a second: nobody knows where a sample belongs.
    code = ltc(48000, 0, 5 * 48000, fps=25)
    time = np.arange(4 * 48000)
    waver = CubicSpline(np.arange(len(code)), code)(time + 2 * np.sin(2 * np.pi * 4 * time / 48000))
    found = said(slipped(waver, 96000, 441), 96000, 48000, 25)
    assert found is not None
    lost, exact = found
    assert lost == pytest.approx(441, abs=6)
    assert not exact
    assert said(slipped(waver, 96000, 1), 96000, 48000, 25) is None


def _stops(code: np.ndarray) -> np.ndarray:
    return np.where(np.arange(len(code)) < 96000, code, 0)


def _stands(code: np.ndarray) -> np.ndarray:
    return np.resize(code[: 48000 // 25], len(code))


def _sent_elsewhere(code: np.ndarray) -> np.ndarray:
    return np.concatenate([code[:96000], ltc(48000, 96000 + 60 * 48000, len(code) - 96000)])


def _other_speed(code: np.ndarray) -> np.ndarray:
    return np.concatenate([code[:96000], ltc(48000, 96000, len(code) - 96000, fps=24)])


def _second_step(code: np.ndarray) -> np.ndarray:
    # 10 samples, less than half a bit: within the second behind the instant.
    return np.concatenate([code[:110000], code[110010:]])


@pytest.mark.parametrize(
    "change",
    [
        pytest.param(np.zeros_like, id="no timecode"),
        pytest.param(_stops, id="it stops at the instant"),
        pytest.param(lambda code: code[::-1], id="it runs backwards"),
        pytest.param(_stands, id="it stands still"),
        pytest.param(_sent_elsewhere, id="it is sent elsewhere"),
        pytest.param(_other_speed, id="it goes on at another speed"),
        pytest.param(lambda code: code + np.random.default_rng(2).standard_normal(len(code)), id="noise covers it"),
    ],
)
def test_where_it_does_not_run_across_nothing_is_said(change):
    assert said(change(ltc(48000, 0, 4 * 48000)), 96000, 48000, 25) is None


def test_a_second_step_close_by_is_not_mixed_in():
    code = ltc(48000, 0, 4 * 48000)
    # 18000 samples on: the frames before the second step count alone, or nothing is said.
    assert said(_second_step(slipped(code, 96000, 64)), 96000, 48000, 25) in (None, (64.0, True))


def test_instants_of_a_take_are_kept_and_read_once(tmp_path):
    rate = 44100
    code = ltc(rate, 0, 20 * rate, fps=30)
    # From the last to the first, so that the places hold in the result; two of them 0.4 s apart.
    planted = {rate * 3: 64, round(rate * 3.4): -1, rate * 9: 4800, rate * 15: 1}
    for at in sorted(planted, reverse=True):
        code = slipped(code, at, planted[at])
    shift = np.cumsum([0, *[-lost for at, lost in sorted(planted.items())][:-1]])
    places = [at + int(by) for at, by in zip(sorted(planted), shift, strict=True)]
    _, tracks = measure_samples(tmp_path, code, rate=rate)
    (tmp_path / "kept").mkdir()
    store = Store(tmp_path / "kept")
    timecode = {1: Timecode(1, 30.0)}
    found = known(tracks, timecode, places, rate, store, {1: "k"})
    assert found == tuple(
        Slip(1, at, float(planted[key]), True) for at, key in zip(places, sorted(planted), strict=True)
    )
    tracks[0].segments[0].file.path.unlink()
    assert known(tracks, timecode, places, rate, store, {1: "k"}) == found
    assert known(tracks, timecode, [], rate, store, {1: "k"}) == ()
    assert known(tracks, {}, places, rate, store, {1: "k"}) == ()


def test_at_the_ends_of_the_take_and_beyond_many_instants_little_is_read(tmp_path):
    _, tracks = measure_samples(tmp_path, ltc(48000, 0, 20 * 48000))
    timecode = {1: Timecode(1, 25.0)}
    assert known(tracks, timecode, [0, 100, 20 * 48000 - 1], 48000, None, {}) == ()
    every = [24000 * place for place in range(1, 40)]
    assert [slip.frame for slip in known(tracks, timecode, every, 48000, None, {})] == every[:MOST]
