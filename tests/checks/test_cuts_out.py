"""cuts-out: on histories of a band with bleed, room and preamp noise, over many seeds."""

from __future__ import annotations

import numpy as np
import pytest

from replay.checks import cuts_out
from tests.checks.factory import INPUT_OF, Session
from tests.checks.histories import PREAMP, band, cut, songs

SEEDS = range(12)
MICS = {1: "kick", 2: "snare", 3: "left", 7: "vocal", 8: "horn"}


def session_of(seconds: int, seed: int, **more) -> Session:
    session = Session()
    heard = band(seconds, seed, **more)
    for number, name in enumerate(INPUT_OF, start=1):
        session.tracks[number].levels = heard[name]
    session.channels[8].update(use="must", kind="brass")
    session.seconds, session.judged = float(seconds), (0.0, float(seconds))
    return session


def found(session: Session) -> list:
    return list(cuts_out.check(session.show()))


def playing(seconds: int, seed: int, length: float) -> float:
    """A start (s) at which the band plays on for `length` seconds."""
    rng = np.random.default_rng(seed)
    on = songs(seconds, rng)
    at = np.random.default_rng(seed + 1000)
    while True:
        start = at.uniform(20, seconds - length - 5)
        if on[int(start * 10) : int((start + length) * 10) + 1].all():
            return start


@pytest.mark.parametrize("seconds", [60, 240])
@pytest.mark.parametrize("seed", SEEDS)
def test_a_healthy_band_is_quiet(seconds, seed):
    """Songs with pauses between them, rests in every part."""
    assert found(session_of(seconds, seed)) == []


@pytest.mark.parametrize("seed", SEEDS)
def test_sources_without_bleed_are_quiet(seed):
    assert found(session_of(180, seed, bleed=False)) == []


@pytest.mark.parametrize("seed", SEEDS)
def test_long_pauses_are_quiet(seed):
    assert found(session_of(240, seed, pause=(20, 60))) == []


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("number", sorted(MICS))
def test_a_dead_microphone_while_the_band_plays(number, seed):
    session = session_of(240, seed)
    start = playing(240, seed, 6)
    session.tracks[number].levels = cut(session.tracks[number].levels, start, 6, seed)
    (finding,) = found(session)
    assert (finding.severity, finding.confidence, finding.channels) == ("fault", "likely", (number,))
    assert finding.start_s == pytest.approx(start, abs=0.2)
    assert finding.amount == pytest.approx(6, abs=0.3)


@pytest.mark.parametrize("number", sorted(MICS))
def test_digital_silence_inside_a_microphone_is_certain(number):
    session = session_of(240, 5)
    session.tracks[number].levels = cut(session.tracks[number].levels, 100, 3, floor=-200)
    (finding,) = found(session)
    assert (finding.severity, finding.confidence, finding.channels) == ("fault", "certain", (number,))
    assert (finding.start_s, finding.end_s, finding.amount) == (100.0, 103.0, 3.0)
    assert finding.message == "Dead for 3 s at 1:40: digital silence, though no preamp is ever that quiet."


def test_shorter_than_three_seconds_is_quiet():
    session = session_of(240, 5)
    session.tracks[7].levels = cut(session.tracks[7].levels, 100, 2.9, floor=-200)
    session.tracks[8].levels = cut(session.tracks[8].levels, 100, 2.5)
    assert found(session) == []


def test_several_times_is_one_finding():
    session = session_of(240, 5)
    for start in (50, 90, 200):
        session.tracks[7].levels = cut(session.tracks[7].levels, start, 4, floor=-200)
    (finding,) = found(session)
    assert (finding.start_s, finding.end_s, finding.amount) == (50.0, 204.0, 12.0)
    assert finding.message.startswith("Dead 3 times, 12 s in all, the longest 4 s at 0:50")


def test_a_track_that_never_comes_back_is_told():
    session = session_of(240, 5)
    session.tracks[7].levels = cut(session.tracks[7].levels, 150, 90, floor=-200)
    session.tracks[2].levels = cut(session.tracks[2].levels, 120, 120)
    assert [finding.channels for finding in found(session)] == [(7,), (2,)]


@pytest.mark.parametrize("floor", [-200.0, PREAMP])
def test_before_arming_or_plugging_in_is_quiet(floor):
    session = session_of(240, 5)
    session.tracks[7].levels = cut(session.tracks[7].levels, 0, 40, floor=floor)
    assert found(session) == []


def test_all_tracks_ending_on_zeros_is_the_end_of_the_recording():
    session = session_of(240, 5)
    for plan in session.tracks.values():
        plan.levels = cut(plan.levels, 230, 10, floor=-200)
    assert found(session) == []


def test_a_link_that_went_is_told_once_for_all():
    session = session_of(240, 5)
    for number in (4, 5, 6, 7, 8):
        session.tracks[number].levels = cut(session.tracks[number].levels, 100, 5, floor=-200)
    (finding,) = found(session)
    assert (finding.severity, finding.tracks) == ("fault", (4, 5, 6, 7, 8))
    assert finding.action == "Look for what these tracks share: the link, the box, its power."


@pytest.mark.parametrize("entry", ["di", "line", "rf"])
def test_di_line_and_radio_are_a_possible_note_on_exact_zeros_only(entry):
    session = session_of(240, 5)
    session.channels[7]["input"] = entry
    kept = session.tracks[7].levels
    session.tracks[7].levels = cut(kept, 100, 10)
    assert found(session) == []
    session.tracks[7].levels = cut(kept, 100, 10, floor=-200)
    (finding,) = found(session)
    assert (finding.severity, finding.confidence) == ("note", "possible")


def radio(at: list[float], until: float = 240.0) -> Session:
    """A voice on a radio whose receiver falls to digital silence at these seconds for 0.3 s, and for good from 180."""
    session = session_of(240, 5)
    session.channels[7]["input"] = "rf"
    levels = session.tracks[7].levels
    for start in at:
        levels = cut(levels, start, 0.3, floor=-200)
    session.tracks[7].levels = cut(levels, 180, until - 180, floor=-200)
    return session


def test_a_transmitter_that_stutters_and_dies_is_a_warning():
    """Three gaps and silence were taken for a gate: a radio that died in the second song was told by nothing."""
    (finding,) = found(radio([170, 173, 176]))
    assert (finding.severity, finding.confidence, finding.channels) == ("warning", "likely", (7,))
    assert (finding.start_s, finding.amount) == (180.0, 60.0)
    assert finding.message.endswith(", after 3 short gaps.")
    assert finding.action.startswith("See to the transmitter and its battery")


@pytest.mark.parametrize("at", [[], [176], [20, 176]])
def test_a_radio_that_goes_without_stutters_may_be_switched_off(at):
    (finding,) = found(radio(at))
    assert (finding.severity, finding.confidence) == ("note", "possible")


def test_a_gate_shuts_for_good_when_its_source_has_done():
    """A radio behind a gate: all that lies 25 dB under its loudest is zero, and the last song goes without it."""
    session = radio([])
    levels = session.tracks[7].levels
    session.tracks[7].levels = np.where(levels < np.percentile(levels, 99) - 25, -200.0, levels)
    assert found(session) == []


@pytest.mark.parametrize(
    "facts", [{"kind": "playback"}, {"kind": "click"}, {"kind": "timecode"}, {"input": "digital"}, {"use": "off"}]
)
def test_machines_and_what_is_off_are_quiet(facts):
    session = session_of(240, 5)
    session.channels[7].update(facts)
    session.tracks[7].levels = cut(session.tracks[7].levels, 100, 10, floor=-200)
    assert found(session) == []


def test_a_source_that_rests_on_zero_by_nature_is_quiet():
    session = session_of(240, 5)
    levels = session.tracks[7].levels
    for start in (20, 50, 80, 120):
        levels = cut(levels, start, 1.5, floor=-200)
    session.tracks[7].levels = cut(levels, 150, 10, floor=-200)
    assert found(session) == []


@pytest.mark.parametrize("seed", range(4))
def test_a_sparse_source_is_quiet(seed):
    """A tambourine that plays twice: bleed all the rest of the time."""
    session = session_of(240, seed)
    session.channels[8]["use"] = "may"
    levels = session.tracks[7].levels
    bleed = np.minimum(levels, np.percentile(levels, 30))
    bleed[800:900] = -20
    bleed[1900:1950] = -22
    session.tracks[7].levels = bleed
    assert found(session) == []


def test_a_slow_fade_into_the_floor_is_quiet():
    session = session_of(240, 3)
    levels = np.full(2400, -25.0) + np.random.default_rng(1).normal(0, 2, 2400)
    fade = np.linspace(0, -67, 300)
    levels[1000:1300] += fade
    levels[1300:1500] = PREAMP
    session.tracks[7].levels = levels
    assert found(session) == []


def test_a_hole_in_the_files_is_not_a_cut():
    session = session_of(240, 5)
    rate = 48000
    session.tracks[7].levels = cut(session.tracks[7].levels, 100, 10, floor=-200)
    session.tracks[7].coverage = ((0, 100 * rate), (110 * rate, 240 * rate))
    assert found(session) == []


def test_samples_that_are_no_numbers_are_not_a_cut():
    session = session_of(240, 5)
    session.tracks[7].levels = cut(session.tracks[7].levels, 100, 10, floor=-200)
    counts = np.zeros(2400, np.uint32)
    counts[1000:1100] = 4800
    session.tracks[7].columns = {"not_a_number": counts}
    assert found(session) == []


def test_steps_of_test_tones_are_quiet():
    """-36 dBFS, -23, -36 on both sides of a pair, as loudness test material has it."""
    session = Session()
    steps = np.concatenate([np.full(200, -36.0), np.full(600, -23.0), np.full(200, -36.0)])
    session.channels = {n: session.channels[n] for n in (3, 4)}
    session.tracks = {n: session.tracks[n] for n in (3, 4)}
    for plan in session.tracks.values():
        plan.levels = steps.copy()
    assert found(session) == []
