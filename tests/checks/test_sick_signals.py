"""Offsets, thumps, crackle, hiss, gates and faders before the recorder, moved gains, wrong speed: where they are told,
and healthy sounds that look like them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from replay.checks import flat_topped
from replay.checks.shared import lost
from replay.simulate import check
from tests.checks.factory import noted
from tests.checks.sick import RATE, SECONDS, healthy, music, noise, sines, time, told
from tests.material.ltc import ltc
from tests.meters.test_thumps import pulse


@pytest.mark.parametrize(("dbfs", "severity"), [(-55.0, "note"), (-30.0, "warning")])
def test_an_offset_is_told_with_its_side(tmp_path, dbfs, severity):
    # The level of a constant is its amplitude over that of a full-scale sine's RMS: 3.01 dB more than its peak.
    [one] = told(tmp_path, healthy() - 10 ** (dbfs / 20), code="dc-offset")
    assert (one.severity, one.confidence) == (severity, "certain")
    assert one.amount == pytest.approx(dbfs, abs=0.1) or one.amount == pytest.approx(dbfs + 3.01, abs=0.1)
    assert "(to the negative side)" in one.message


def test_lopsided_music_timecode_and_faint_offsets_are_none(tmp_path):
    lopsided = np.maximum(music(3), -0.05) + noise(-80, 3)
    code = ltc(RATE, 0, SECONDS * RATE, peak=0.3) + 0.1
    faint = healthy(2) + 10 ** (-70 / 20)
    assert told(tmp_path, lopsided, faint, (code, "timecode", "line"), code="dc-offset") == []


def test_a_pad_that_swings_to_one_side_while_it_sounds_is_none(tmp_path):
    # It sounds for four fifths of the take; where it rests its samples lie around zero.
    tone = np.where((time() % 9) < 7.4, 0.2 * np.sin(2 * np.pi * 220 * time()) + 0.1, 0.0) + noise(-85)
    assert told(tmp_path / "a", (tone, "keys", "line"), code="dc-offset") == []
    digital = np.where((time() % 9) < 7.4, tone - noise(-85), 0.0)
    assert told(tmp_path / "c", (digital, "playback", "line"), code="dc-offset") == []
    # A radio's mute takes a true constant away.
    muted = np.where((time() % 9) < 7.4, 0.2 * np.sin(2 * np.pi * 220 * time()) * (time() % 3 < 2) + 0.1, 0.0)
    assert len(told(tmp_path / "d", (muted, "vocal", "rf"), code="dc-offset")) == 1
    [one] = told(tmp_path / "b", (tone + 0.15, "keys", "line"), code="dc-offset")
    assert (one.severity, one.confidence) == ("warning", "certain")


def test_a_thump_is_told_and_left_out_of_the_played_peak(tmp_path):
    [one] = told(tmp_path, healthy() * 0.5 + pulse(24, 15, 0.9), code="thump")
    assert (one.severity, one.amount) == ("note", 1.0)
    assert one.start_s == pytest.approx(24, abs=0.21)
    assert "(-1" in one.message


def test_what_is_low_by_nature_does_not_thump(tmp_path):
    low = healthy() * 0.5 + pulse(24, 15, 0.9)
    kinds = ("kick", "tom", "bass", "keys", "percussion", "playback", "ambience")
    assert told(tmp_path, *((low, kind, "mic") for kind in kinds), code="thump") == []


def _crackling(samples: np.ndarray, times: list[float], seed: int = 2) -> np.ndarray:
    """At each time a contact breaks and makes for 20 to 80 ms; what it leaves dies away in 20 ms."""
    rng = np.random.default_rng(seed)
    out = samples.copy()
    for at in times:
        first, length = round(at * RATE), int(rng.uniform(0.02, 0.08) * RATE)
        tail = np.zeros(length + RATE // 10)
        for place in np.sort(rng.integers(0, length, 6)):
            tail[place:] = (
                rng.choice([-1, 1]) * rng.uniform(0.1, 0.3) * np.exp(-np.arange(len(tail) - place) / (0.02 * RATE))
            )
        out[first : first + len(tail)] += tail
    return out


def _plucked(times: list[float]) -> np.ndarray:
    """A synthesiser's bass: a tone of 110 Hz, and at each time a sawtooth on it whose steps die away in 60 ms."""
    out = 0.3 * np.sin(2 * np.pi * 110 * time())
    for at in times:
        after = time() - at
        saw = 0.03 * np.exp(-np.maximum(after, 0) / 0.06) * (2 * ((110 * after) % 1) - 1)
        out += np.where(after >= 0, saw, 0)
    return out + noise(-85)


UNEVEN = [2.0, 3.1, 7.7, 8.3, 12.2, 19.0, 20.6, 27.1, 28.8, 33.0]


def test_crackle_is_told_with_its_bursts(tmp_path):
    [one] = told(tmp_path, _crackling(healthy(), UNEVEN), code="crackle")
    assert (one.severity, one.confidence, one.unit) == ("warning", "likely", "bursts")
    # Six is the least that is told; a burst just before a note may be taken for its beginning.
    assert 6 <= one.amount <= 10
    assert min(abs(one.start_s - at) for at in UNEVEN) < 0.1


@pytest.mark.parametrize(
    "sound",
    [
        pytest.param(lambda: (healthy(), "vocal", "mic"), id="music"),
        pytest.param(lambda: (_crackling(healthy(), UNEVEN[:3]), "vocal", "mic"), id="three bursts"),
        pytest.param(lambda: (_crackling(healthy(), UNEVEN), "playback", "line"), id="a player's own noises"),
        pytest.param(
            lambda: (np.sign(np.sin(2 * np.pi * 2 * time())) * 0.3 + noise(-80), "keys", "line"), id="a slow square"
        ),
        pytest.param(lambda: (_plucked(UNEVEN), "bass", "di"), id="a synthesiser's notes that die away"),
    ],
)
def test_what_is_no_crackle(tmp_path, sound):
    assert told(tmp_path, sound(), code="crackle") == []


def test_a_channel_that_hisses_more_than_its_like_is_told(tmp_path):
    [one] = told(tmp_path, healthy(1, -42.0), *(healthy(seed, -85.0) for seed in (2, 3, 4)), code="noise")
    assert (one.severity, one.channels) == ("note", (1,))
    # 43 dB more noise under sources of one level.
    assert one.amount == pytest.approx(43, abs=2)


def test_where_all_hiss_alike_or_few_compare_none_is_told(tmp_path):
    assert told(tmp_path / "a", *(healthy(seed, -42.0) for seed in (1, 2, 3, 4)), code="noise") == []
    assert told(tmp_path / "b", healthy(1, -42.0), healthy(2, -85.0), code="noise") == []


def _gated(samples: np.ndarray, floor: float) -> np.ndarray:
    """A gate: after 0.3 s below a fortieth of the peak the level falls in 50 ms to `floor` (0 is digital silence)."""
    loud = np.abs(samples) > np.abs(samples).max() / 40
    counts = np.concatenate([[0], np.cumsum(loud)])
    place = np.arange(len(samples))
    opened = counts[place + 1] - counts[np.maximum(place - round(0.3 * RATE), 0)] > 0
    counts = np.concatenate([[0], np.cumsum(opened)])
    gain = (counts[place + 1] - counts[np.maximum(place + 1 - RATE // 20, 0)]) / (RATE // 20)
    return samples * np.where(gain > 0, np.maximum(gain, floor), floor)


def _hits(seed: int) -> np.ndarray:
    """A drum every second and a half or so."""
    rng = np.random.default_rng(seed)
    out = np.zeros(SECONDS * RATE)
    at = 0.5
    while at < SECONDS - 1.5:
        after = np.arange(RATE) / RATE
        first = round(at * RATE)
        out[first : first + RATE] += rng.uniform(0.3, 0.6) * np.sin(2 * np.pi * 180 * after) * np.exp(-after / 0.08)
        at += float(rng.uniform(1.2, 2.0))
    return out + noise(-75, seed)


def test_gates_before_the_recorder_are_told_for_all_tracks_together(tmp_path):
    [one] = told(
        tmp_path,
        (_gated(_hits(1), 0.0), "snare", "mic"),
        (_gated(_hits(2), 0.0), "tom", "mic"),
        healthy(),
        code="not-raw",
    )
    assert (one.severity, one.channels) == ("warning", (1, 2))


def test_a_gate_that_leaves_noise_and_a_machine_that_rests_are_raw(tmp_path):
    machine = music(3)
    channels = [(_gated(_hits(1), 0.1), "snare", "mic"), (machine, "playback", "line"), (machine, "keys", "digital")]
    assert told(tmp_path, *channels, healthy(), code="not-raw") == []


def test_a_fader_that_moves_many_tracks_in_step_is_told_once_and_is_no_moved_gain(tmp_path):
    down = np.where(time() < 12.5, 1.0, 0.5)
    channels = [healthy(seed) * 0.5 * down for seed in range(1, 6)]
    findings = told(tmp_path, *channels)
    [one] = [one for one in findings if one.code == "not-raw"]
    assert (one.amount, one.unit, one.channels) == (-6.0, "dB", (1, 2, 3, 4, 5))
    assert one.start_s == pytest.approx(12.5, abs=0.5)
    assert [one for one in findings if one.code == "gain-moved"] == []


def test_a_moved_gain_is_a_note_and_ends_the_part_that_is_judged_before_it(tmp_path):
    moved = healthy(1) * 0.5 * np.where(time() < 12.5, 1.0, 10 ** (-8 / 20))
    [one] = told(tmp_path, moved, healthy(2), healthy(3), healthy(4), code="gain-moved")
    assert (one.severity, one.confidence, one.channels, one.amount) == ("note", "likely", (1,), -8.0)
    assert one.message == "The gain stepped by -8 dB at 0:12: level and floor together, in every octave."


def test_a_radio_that_is_muted_in_a_rest_moves_no_gain_and_one_that_is_turned_does(tmp_path):
    singing = music(1, rests=((8, 20), (30, 36))) + noise(-72, 101)
    muted = np.where((time() >= 10) & (time() < 18), noise(-88, 7), singing)
    turned = healthy(2) * 0.5 * np.where(time() < 12.5, 1.0, 10 ** (-8 / 20))
    radios = [(muted, "vocal", "rf"), (turned, "vocal", "rf")]
    [one] = told(tmp_path, *radios, healthy(3), healthy(4), healthy(5), code="gain-moved")
    assert (one.channels, one.amount) == ((2,), -8.0)


def test_a_moved_gain_in_a_song_says_between_which_rests(tmp_path):
    moved = healthy(1) * 0.3 * np.where(time() < 18.0, 1.0, 2.0)
    [one] = told(tmp_path, moved, healthy(2), healthy(3), healthy(4), code="gain-moved")
    assert one.amount == 6.0
    assert ", between the rests at 0:1" in one.message


def test_audiences_and_players_move_no_gain(tmp_path):
    applause = noise(-20) * np.where(time() % 12 < 6, 1.0, 0.2)
    stepped = healthy(2) * np.where(time() < 18, 1.0, 0.4)
    channels = [(applause, "ambience", "mic"), (stepped, "playback", "line"), (stepped, "keys", "digital")]
    assert told(tmp_path, *channels, healthy(3), code="gain-moved") == []


@pytest.mark.parametrize(("real", "claimed"), [(44100, 48000), (48000, 44100)])
@pytest.mark.parametrize("fps", [24, 25, 30])
def test_timecode_tells_the_rate_that_the_files_should_claim(tmp_path, real, claimed, fps):
    code = ltc(real, 7, 20 * claimed, fps=fps, peak=0.3)
    [one] = told(tmp_path, (code, "timecode", "line"), rate=claimed, code="wrong-speed")
    assert (one.severity, one.confidence) == ("warning", "likely")
    # 48000 / 44100 is 8.8 % fast, 44100 / 48000 8.1 % slow.
    assert one.amount == (8.8 if claimed == 48000 else -8.1)
    assert f"where the files ran at {real} Hz" in one.message


def test_timecode_at_its_own_speed_a_little_off_is_right(tmp_path):
    code = ltc(48048, 7, 20 * RATE, fps=30, peak=0.3)
    assert told(tmp_path, (code, "timecode", "line"), code="wrong-speed") == []


def _humming(hz: float, seed: int) -> np.ndarray:
    """Music over a hum of five multiples and the preamp's noise."""
    level = -52.0 - seed
    return healthy(seed, -88) + sines(hz, {1: level, 2: level - 3, 3: level - 5, 5: level - 9, 7: level - 14})


@pytest.mark.parametrize(
    ("made_at_48", "claimed", "shown", "nominal", "ran"),
    [
        (50 * 48 / 44.1, 48000, "54.42", 50, 44100),
        (60 * 48 / 44.1, 48000, "65.31", 60, 44100),
        # Samples that were made at 48 kHz, in files that claim 44.1.
        (50.0, 44100, "45.94", 50, 48000),
        (60.0, 44100, "55.12", 60, 48000),
    ],
)
def test_the_mains_tell_the_rate_that_the_files_should_claim(tmp_path, made_at_48, claimed, shown, nominal, ran):
    channels = [_humming(made_at_48, seed) for seed in (1, 2, 3)]
    [one] = told(tmp_path, *channels, rate=claimed, code="wrong-speed")
    assert (one.severity, one.confidence, one.tracks) == ("warning", "likely", (1, 2, 3))
    assert one.message.replace("55.13", "55.12") == (
        f"The mains hum at {shown} Hz on tracks 1-3, which none do: it is {nominal} where the files ran at {ran} Hz "
        f"and not at the {claimed} Hz that they claim."
    )
    assert one.amount == (8.8 if claimed == 48000 else -8.1)


def test_two_humming_tracks_are_a_note_and_one_is_nothing(tmp_path):
    hz = 50 * 48 / 44.1
    [two] = told(tmp_path / "two", _humming(hz, 1), _humming(hz, 2), healthy(3), code="wrong-speed")
    assert (two.severity, two.confidence) == ("note", "possible")
    assert told(tmp_path / "one", _humming(hz, 1), healthy(2), healthy(3), code="wrong-speed") == []


def test_the_mains_say_nothing_where_one_track_hums_as_it_should_or_timecode_runs_right(tmp_path):
    hz = 50 * 48 / 44.1
    wrong = [_humming(hz, seed) for seed in (1, 2, 3)]
    assert told(tmp_path / "hum", *wrong, _humming(50.02, 4), code="wrong-speed") == []
    code = ltc(48000, 7, SECONDS * 48000, fps=25, peak=0.3)
    assert told(tmp_path / "code", *wrong, (code, "timecode", "line"), code="wrong-speed") == []
    players = [(samples, "playback", "line") for samples in wrong]
    assert told(tmp_path / "players", *players, code="wrong-speed") == []


@pytest.mark.parametrize("hz", [50.0, 60.0, 55.0, 65.406, 50 * 44.1 / 48])
def test_mains_and_basses_that_hold_their_note_are_of_the_right_speed(tmp_path, hz):
    # 48 kHz would have to be 52.2, which no recorder runs at.
    assert told(tmp_path, *(_humming(hz, seed) for seed in (1, 2, 3)), code="wrong-speed") == []


def _overdriven() -> np.ndarray:
    """A player's music over hits of 55 Hz, driven 5 dB into the end of a mixer: no preamp's noise lies on its tops."""
    rng = np.random.default_rng(9)
    out = 0.5 * music(3)
    after = np.arange(round(0.4 * RATE)) / RATE
    for at in np.arange(0.3, 33, 0.5):
        hit = np.sin(2 * np.pi * 55 * after) * np.exp(-after / 0.12) * rng.uniform(0.15, 1)
        start = round(at * RATE)
        out[start : start + len(hit)] += hit
    return np.clip(1.3 * out / np.abs(out).max(), -0.7, 0.7)


def test_a_top_that_is_cut_off_is_no_held_value(tmp_path):
    """Where bright sounds lie beside a top, the held meter notes it as a run of one value between two jumps."""
    cut = _overdriven()
    (one,) = told(tmp_path / "cut", (cut, "playback", "line"), code="flat-topped")
    assert one.severity == "warning"
    show = check(tmp_path / "cut" / "show", keep=False).show
    (track,) = show.tracks
    assert set(flat_topped.cut_off(show, track)) == {"high", "low"}
    assert lost.dropouts(show, track) == []
    runs = noted("held", *((3.0 * at, 140, value, 0.2) for at, value in enumerate((0.7, -0.7, 0.695, 0.3, 0.0), 1)))
    held = replace(track, measurement=replace(track.measurement, events=runs))
    assert [(one.start, one.what) for one in lost.dropouts(show, held)] == [
        (12 * RATE, "value"),
        (15 * RATE, "zero"),
    ]
