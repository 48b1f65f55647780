"""Timecode and click tracks where the input list says something else: told by their sound, and as nothing sick."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from replay.checks import clipped, flat_topped
from replay.checks.shared.machines import heard_as_machine, is_machine
from replay.evidence.click_track import ClickTrack
from replay.evidence.model import Evidence
from replay.evidence.timecode import Timecode
from tests.checks.factory import Session, runs
from tests.checks.sick import RATE, SECONDS, healthy, noise, told
from tests.evidence.test_click_track import at_times, beats, beep, block
from tests.material.ltc import ltc

SICK = {"clipped", "flat-topped", "click", "clock-slip", "dropout", "hum", "buzz", "crackle", "dc-offset", "noise"}
SICK |= {"ringing", "rf-mute", "cuts-out", "not-raw", "noise-only"}


def codes(findings, channel: int) -> set[str]:
    return {one.code for one in findings if channel in one.channels}


def test_a_click_track_under_another_name_is_told_as_one_and_as_nothing_sick(tmp_path):
    def clipped_click(per_minute: float, *pitches: float) -> np.ndarray:
        return np.clip(at_times(beats(per_minute), *(beep(hz, level=2.0) for hz in pitches)), -0.5, 0.5)

    findings = told(
        tmp_path,
        (clipped_click(120, 1500, 1000), "vocal", "mic"),
        (2 * clipped_click(97, 800), "guitar", "line"),
        (0.2 * clipped_click(140, 2000, 1000, 1000, 1000) + noise(-70), "bass", "di"),
        healthy(1),
        healthy(2),
        healthy(3),
    )
    for channel in (1, 2, 3):
        assert not codes(findings, channel) & SICK, channel
        [one] = [one for one in findings if one.code == "unlikely-source" and channel in one.channels]
        assert one.message.endswith("it sounds more like a click.")
    assert not [one for one in findings if one.code == "unlikely-source" and not set(one.channels) & {1, 2, 3}]


def test_timecode_under_another_name_is_told_as_such_and_as_nothing_sick(tmp_path):
    frames = SECONDS * RATE
    code = ltc(RATE, 100, frames, peak=0.5)
    # A transformer's rounded flanks, tops that are flat, and the preamp's noise.
    worn = np.clip(np.convolve(code, np.hanning(9) / np.hanning(9).sum(), "same") * 1.1, -0.5, 0.5) + noise(-75)
    findings = told(tmp_path, (worn, "vocal", "mic"), (2 * code, "guitar", "line"), healthy(1), healthy(2))
    for channel, kind in ((1, "vocal"), (2, "guitar")):
        assert not codes(findings, channel) & SICK, channel
        [one] = [one for one in findings if one.code == "unlikely-source" and channel in one.channels]
        assert (one.severity, one.confidence) == ("note", "likely")
        assert one.message == f"The track holds timecode, and no {kind}."


@pytest.mark.parametrize("kind", ["timecode", "playback", "other"])
def test_timecode_where_it_may_be_is_nothing_to_tell(tmp_path, kind):
    code = ltc(RATE, 100, SECONDS * RATE, peak=0.3)
    assert told(tmp_path, (code, kind, "line"), healthy(1), healthy(2), code="unlikely-source") == []


@pytest.mark.parametrize("kind", ["playback", "other", "keys"])
def test_timecode_on_another_channel_than_its_own_is_told_with_both(tmp_path, kind):
    code = ltc(RATE, 100, SECONDS * RATE, peak=0.3)
    channels = ((healthy(5), "timecode", "line"), (code, kind, "line"), healthy(1), healthy(2))
    [one] = told(tmp_path, *channels, code="unlikely-source")
    assert (one.severity, one.confidence, one.channels) == ("warning", "likely", (2, 1))
    assert one.message == "Track 2 holds timecode, and 1 Channel 1 another source: perhaps exchanged."


def test_a_second_timecode_and_a_machine_that_did_not_run_are_nothing_to_tell(tmp_path):
    code = ltc(RATE, 100, SECONDS * RATE, peak=0.3)
    both = ((code, "timecode", "line"), (code, "playback", "line"))
    assert told(tmp_path / "a", *both, healthy(1), healthy(2), code="unlikely-source") == []
    idle = ((noise(-90), "timecode", "line"), (code, "playback", "line"))
    assert told(tmp_path / "b", *idle, healthy(1), healthy(2), code="unlikely-source") == []


def test_by_list_and_by_sound():
    session = Session()
    session.channels[6]["kind"] = "click"
    show = session.show()
    assert [track.track.number for track in show.tracks if is_machine(show, track)] == [6]
    evidence = Evidence((), None, {}, clicks={5: ClickTrack((1000.0,), 120.0)})
    show = replace(show, timecode={7: Timecode(7, 25.0)}, evidence=evidence)
    assert [track.track.number for track in show.tracks if is_machine(show, track)] == [5, 6, 7]
    assert [track.track.number for track in show.tracks if heard_as_machine(show, track)] == [5, 7]


def test_only_what_is_a_click_is_let_off():
    session = Session()
    for number in (5, 6):
        session.tracks[number].clipping = runs((3.0, 1.0), (4.0, 1.0), (5.0, 1.0))
        flat = np.zeros(600, np.uint32)
        flat[100:140] = 3
        levels = np.where(flat > 0, -15.0, session.tracks[number].levels - 6)
        session.tracks[number].levels = levels
        session.tracks[number].columns = {"flat_high": flat}
    evidence = Evidence((), None, {}, clicks={5: ClickTrack((1000.0,), 120.0)})
    show = replace(session.show(), evidence=evidence)
    assert [one.channels for one in clipped.check(show)] == [(6,)]
    assert [one.channels for one in flat_topped.check(show)] == [(6,)]


def told_of_what_sounds_like_a_click(changes):
    """Severities and channels of `clipped`, where channel 5 is changed so, clips, and is heard as a click track."""
    session = Session()
    session.channels[5] |= changes
    session.tracks[5].clipping = runs((3.0, 1.0), (4.0, 1.0), (5.0, 1.0))
    show = replace(session.show(), evidence=Evidence((), None, {}, clicks={5: ClickTrack((900.0,), 120.0)}))
    return [(one.severity, one.channels) for one in clipped.check(show)]


@pytest.mark.parametrize(
    "changes",
    [
        {"name": "Drum pad", "kind": "percussion", "input": "di"},
        {"name": "Kick trig", "kind": "kick", "input": "mic"},
        {"name": "Kick", "kind": "kick", "input": "line"},
        {"name": "Sampler", "kind": "other", "input": "line"},
    ],
    ids=lambda changes: changes["name"],
)
def test_a_pad_that_a_sequencer_plays_clips_as_anything_does(changes):
    assert told_of_what_sounds_like_a_click(changes) == [("fault", (5,))]


@pytest.mark.parametrize(
    "changes",
    [
        {"name": "Pad click", "kind": "click", "input": "di"},
        {"name": "Snare top", "kind": "snare", "input": "mic"},
        {"name": "Vocal", "kind": "vocal", "input": "mic"},
    ],
    ids=lambda changes: changes["name"],
)
def test_what_sounds_like_a_click_where_no_pad_is_may_be_flat_by_design(changes):
    assert told_of_what_sounds_like_a_click(changes) == []


def test_a_drum_pads_clips_are_told_and_it_is_no_click_on_the_wrong_channel(tmp_path):
    def pad(seed: int, *levels: float) -> np.ndarray:
        hits = at_times(beats(118), *(level * block(900, level=1.0) for level in levels))
        return np.clip(hits + noise(-80, seed), -1, 1 - 2.0**-23)

    channels = (pad(1, 2.0), "percussion", "di"), (pad(2, 2.0, 0.8, 1.3, 0.8), "kick", "line"), healthy(1), healthy(2)
    findings = told(tmp_path, *channels)
    for channel in (1, 2):
        [one] = [one for one in findings if one.code == "clipped" and channel in one.channels]
        assert one.severity == "fault"
        assert "unlikely-source" not in codes(findings, channel)
