"""Which answers hold: about this very take, on channels with the name and the track that they had."""

from __future__ import annotations

import os
import shutil
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from replay.confirm import answers
from replay.confirm.fingerprint import Fingerprint, fingerprint, name_of
from replay.confirm.holding import channels_now, ear_of, holding
from replay.ear import Answer
from replay.opening import open_show
from tests.sound.shows import make_show, noise

STAMP = Fingerprint("now", {1: "t1", 2: "t2"})
NOW = {1: ("Kick", 1), 2: ("Snare", 2), 3: ("Bass", None)}


def one(channel: int, name: str, answer: str = "right", **more) -> Answer:
    usual = {"take": "audio", "fingerprint": "now", "track": channel, "track_fingerprint": f"t{channel}"}
    return Answer(channel=channel, name=name, answer=answer, **{**usual, **more})


def test_answers_about_this_take_hold():
    ear = holding([one(2, "Snare", "wrong"), one(1, "Kick")], STAMP, "audio", NOW)
    assert list(ear.answers) == [1, 2]
    assert (ear.says(1), ear.says(2), ear.says(3), ear.stale) == ("right", "wrong", "", ())


def test_a_take_that_was_moved_and_renamed_is_the_same_take():
    ear = holding([one(1, "Kick", take="yesterday")], STAMP, "audio", NOW)
    assert ear.says(1) == "right"


@pytest.mark.parametrize(
    ("answer", "why", "same"),
    [
        (one(1, "Kick", fingerprint="before"), "changed", True),
        (one(1, "Kick", fingerprint="before", track_fingerprint="other"), "changed", False),
        (one(1, "Kick", track=2, track_fingerprint="t2"), "moved", True),
        (one(3, "Bass", track=2, track_fingerprint="t2"), "moved", True),
        (one(1, "Kick out"), "renamed", True),
        (one(9, "Gone", track=1, track_fingerprint="t1"), "gone", True),
    ],
)
def test_what_has_changed_since(answer, why, same):
    ear = holding([answer], STAMP, "audio", NOW)
    assert ear.answers == {}
    (stale,) = ear.stale
    assert (stale.answer, stale.why, stale.same_track) == (answer, why, same)


def test_answers_about_another_take_are_none_of_its_business():
    ear = holding([one(1, "Kick", take="the show", fingerprint="other")], STAMP, "audio", NOW)
    assert (ear.answers, ear.stale) == ({}, ())


def test_what_was_answered_anew_is_not_stale():
    ear = holding([one(1, "Kick", "wrong"), one(1, "Kick", fingerprint="before")], STAMP, "audio", NOW)
    assert (ear.says(1), ear.stale) == ("wrong", ())


@pytest.fixture
def show(tmp_path) -> Path:
    make_show(tmp_path / "show", 3, noise(96000, 3))
    return tmp_path / "show"


def stamp(folder: Path) -> Fingerprint:
    return fingerprint(open_show(folder).take)


def test_a_fingerprint_goes_with_the_take_and_not_with_its_place_or_age(tmp_path, show):
    first = stamp(show)
    assert len(first.take) == 20
    assert len(set(first.tracks.values())) == 3
    shutil.copytree(show, tmp_path / "elsewhere")
    for path in (tmp_path / "elsewhere" / "audio").iterdir():
        os.utime(path, (1e9, 1e9))
    assert stamp(tmp_path / "elsewhere") == first
    make_show(tmp_path / "other", 3, noise(96000, 3, seed=9))
    assert stamp(tmp_path / "other").take != first.take


@pytest.mark.parametrize("at", [0.0, 0.25, 0.5, 0.99])
def test_one_changed_track_changes_its_own_and_the_takes(show, at):
    import soundfile

    first = stamp(show)
    path = show / "audio" / "002 Source 2.wav"
    samples, rate = soundfile.read(path, dtype="int32")
    begin = int(at * len(samples))
    # A fingerprint reads every eighth of a file: what is changed for longer than that is seen.
    samples[begin : begin + len(samples) // 7] = 0
    soundfile.write(path, samples, rate, subtype="PCM_24")
    now = stamp(show)
    assert now.take != first.take
    assert {number for number in now.tracks if now.tracks[number] != first.tracks[number]} == {2}


def test_tracks_of_one_file_have_fingerprints_of_their_own(tmp_path):
    import soundfile

    show = tmp_path / "show"
    codes = noise(96000, 3)
    make_show(show, 3, codes)
    shutil.rmtree(show / "audio")
    (show / "audio").mkdir()
    soundfile.write(show / "audio" / "all.wav", codes, 48000, subtype="PCM_24")
    first = stamp(show)
    assert len(set(first.tracks.values())) == 3
    codes[:] = np.roll(codes, 1, axis=1)
    soundfile.write(show / "audio" / "all.wav", codes, 48000, subtype="PCM_24")
    assert stamp(show).take != first.take


def test_a_track_that_is_gone_changes_the_takes_only(show):
    first = stamp(show)
    (show / "audio" / "003 Source 3.wav").unlink()
    now = stamp(show)
    assert now.take != first.take
    assert now.tracks == {1: first.tracks[1], 2: first.tracks[2]}


def test_a_file_that_cannot_be_read_is_another_take(show):
    opened = open_show(show)
    first = fingerprint(opened.take)
    (show / "audio" / "003 Source 3.wav").unlink()
    assert fingerprint(opened.take).take != first.take


def test_several_takes_in_one_folder_have_names_of_their_own(tmp_path):
    import soundfile

    make_show(tmp_path / "show", 3, noise(4800, 3))
    audio = tmp_path / "show" / "audio"
    for path in list(audio.iterdir()):
        path.unlink()
    for name, seconds in (("noon", 31), ("evening", 35)):
        soundfile.write(audio / f"{name}.wav", noise(48000 * seconds, 3), 48000, subtype="PCM_24")
    names = {name_of(open_show(tmp_path / "show", take).take) for take in ("noon", "evening")}
    assert names == {"audio/noon", "audio/evening"}


def test_from_the_shows_own_folder(show):
    opened = open_show(show)
    ways = (opened.patch, opened.ways, opened.take)
    assert ear_of(*ways).answers == {}
    assert channels_now(*ways) == {1: ("Source 1", 1), 2: ("Source 2", 2), 3: ("Source 3", 3)}
    print_ = fingerprint(opened.take)
    kept = Answer(
        channel=2, name="Source 2", answer="right", take="audio", fingerprint=print_.take, track=2,
        track_fingerprint=print_.tracks[2],
    )  # fmt: skip
    answers.write(show, [kept, replace(kept, channel=1, name="Other", track=1)])
    ear = ear_of(*ways)
    assert ear.answers == {2: kept}
    assert [(one.answer.channel, one.why) for one in ear.stale] == [(1, "renamed")]
    with open(show / "confirmed.csv", "a") as file:
        file.write("x\n")
    ear = ear_of(*ways)
    assert ear.answers == {2: kept}
    assert len(ear.problems) == 1
