"""What is cut out to be heard: which channels, which moments, and at which level."""

from __future__ import annotations

import io
from dataclasses import replace

import numpy as np
import pytest

from replay import excerpts
from replay.demo import write_demo
from replay.report.excerpt import Excerpts
from replay.simulate import check
from tests import parts
from tests.need import need_package
from tests.report import pages, shows

RATE = 48000


@pytest.fixture(scope="module")
def trio(tmp_path_factory):
    """The pocket demo, checked."""
    folder = tmp_path_factory.mktemp("trio") / "show"
    write_demo(folder, pocket=True)
    return check(folder, kept_in=folder.parent / "kept")


def decoded(mp3: bytes) -> tuple[np.ndarray, int]:
    import soundfile

    return soundfile.read(io.BytesIO(mp3))


def needs_mp3() -> None:
    need_package("soundfile")
    import soundfile

    if "MP3" not in soundfile.available_formats():
        pytest.skip("libsndfile here writes no MP3")


def test_every_sounding_channel_of_a_small_show_can_be_heard(trio):
    needs_mp3()
    heard = excerpts.cut(trio)
    # docs/demo.md: channel 11 is on no track; all others hold at least noise.
    assert sorted(heard.by_channel) == list(range(1, 11))
    assert heard.remark == ""


def test_excerpts_peak_about_20_db_under_full_scale(trio):
    needs_mp3()
    for excerpt in excerpts.cut(trio).by_channel.values():
        samples, rate = decoded(excerpt.mp3)
        assert rate == RATE
        # What MP3 leaves out lets flat tops swing over by a dB or so; 2 dB are allowed.
        assert np.abs(samples).max() < 10 ** (-18 / 20), excerpt.channel
        assert excerpt.length_s == pytest.approx(3.6)
        assert len(samples) / rate == pytest.approx(3.6, abs=0.15)  # MP3 counts in frames of 1152


def test_an_excerpt_is_the_channels_own_sound(trio):
    needs_mp3()
    import soundfile

    excerpt = excerpts.cut(trio).by_channel[4]
    samples, _ = decoded(excerpt.mp3)
    track = trio.show.take.track(4)
    first = round(excerpt.start_s * RATE)
    source, _ = soundfile.read(track.segments[0].file.path, start=first, frames=len(samples))
    count = min(len(samples), len(source))
    likeness = np.correlate(source[:count], samples[: count - 4800], "valid").max() / (
        np.linalg.norm(source[:count]) * np.linalg.norm(samples[: count - 4800])
    )
    assert likeness > 0.9


def choice(report=None) -> excerpts.Choice:
    return excerpts.Choice((report or pages.small()).show.channels[0], 0, "loud")


def test_loud_ones_are_brought_down_and_quiet_ones_up_but_not_without_bound():
    needs_mp3()
    sine = np.sin(2 * np.pi * 440 * np.arange(RATE) / RATE).astype(np.float32)
    assert excerpts.encoded(choice(), sine, RATE).gain_db == -20.0
    assert excerpts.encoded(choice(), sine * np.float32(0.01), RATE).gain_db == 20.0
    assert excerpts.encoded(choice(), sine * np.float32(1e-4), RATE).gain_db == 24.0


def test_timecode_and_silence_are_left_out():
    needs_mp3()
    square = np.sign(np.sin(2 * np.pi * 2000 * np.arange(RATE) / RATE + 0.1)).astype(np.float32)
    assert excerpts.encoded(choice(), square * np.float32(0.3), RATE) is None
    assert excerpts.encoded(choice(), np.zeros(RATE, np.float32), RATE) is None


def test_a_double_rate_is_halved():
    needs_mp3()
    sine = np.sin(2 * np.pi * 440 * np.arange(96000) / 96000).astype(np.float32)
    samples, rate = decoded(excerpts.encoded(choice(), sine, 96000).mp3)
    assert rate == 48000
    # A second of 440 Hz crosses zero 880 times.
    middle = samples[4800:43200]
    assert np.count_nonzero(np.diff(np.signbit(middle))) == pytest.approx(704, abs=2)


def test_the_moment_is_the_sources_own_and_not_its_loudest_neighbours():
    """Channel 1 hears the drum on channel 5 louder than itself, from 10 s on; it plays alone from 40 s on."""
    made = pages.with_histories(shows.report(findings=(), states=dict.fromkeys(shows.STATES, "good")))
    drum = np.full(600, 1e-9)
    drum[100:200] = 1.0
    quiet = drum * 1e-3 + 1e-9
    quiet[400:460] = 5e-4
    energies = {1: quiet, 5: drum}
    views = tuple(
        replace(view, track=replace(view.track, measurement=measured(energies.get(view.channel.number, 1e-6 * drum))))
        if view.track is not None
        else view
        for view in made.show.channels
    )
    show = replace(made.show, channels=views, judged_from_s=5.0, judged_to_s=60.0)
    chosen, _ = excerpts.choose(replace(made, show=show))
    first = {one.view.channel.number: one.first for one in chosen}
    assert 400 <= first[1] <= 424
    assert 100 <= first[5] <= 164


def measured(energy: np.ndarray):
    return parts.measurement(1, len(energy), {"energy": energy})


def test_where_a_finding_has_a_place_that_is_what_is_heard():
    chosen, _ = excerpts.choose(pages.small())
    snare = next(one for one in chosen if one.view.channel.number == 2)
    # The clips begin at 151.2 s; 1.2 s before it is heard too.
    assert (snare.first, snare.why) == (1500, "clipped")


def test_channels_with_faults_come_first_and_thirty_are_enough():
    report, _ = pages.large(channels=40, hours=0.1)
    states = dict.fromkeys(range(1, 41), "good") | {39: "look", 40: "bad"}
    chosen, remark = excerpts.choose(replace(report, states=states))
    numbers = [one.view.channel.number for one in chosen]
    # Track 7 is digital silence in the hand-made show.
    assert numbers == [40, 39, *range(1, 7), *range(8, 30)]
    assert remark == "30 channels have an excerpt to hear; 9 others were left out."


def test_timecode_channels_are_never_chosen():
    code = replace(shows.CHANNELS[0], kind="timecode")
    report = pages.with_histories(shows.report(channels=(code, *shows.CHANNELS[1:])))
    assert 1 not in [one.view.channel.number for one in excerpts.choose(report)[0]]


def test_without_mp3_on_the_machine_that_is_said(monkeypatch):
    soundfile = pytest.importorskip("soundfile")
    monkeypatch.setattr(soundfile, "available_formats", lambda: {"WAV": "WAV"})
    assert excerpts.cut(pages.small()) == Excerpts(
        remark="No excerpts to hear: libsndfile on this machine is older than 1.1 and writes no MP3."
    )
