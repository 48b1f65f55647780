"""Radio channels that drop out, told from voices that stop and hands on switches; feedback, told from notes."""

from __future__ import annotations

import numpy as np
import pytest

from replay.checks import rf_mute
from tests.checks.factory import Session
from tests.checks.sick import RATE, healthy, noise, sines, time, told


def _muted(samples: np.ndarray, *places: tuple[float, float], floor_db: float = -95.0) -> np.ndarray:
    out = samples.copy()
    for start, length in places:
        first, stop = round(start * RATE), round((start + length) * RATE)
        out[first:stop] = noise(floor_db, 5)[: stop - first]
    return out


def _steady_voice() -> np.ndarray:
    """A tone with vibrato and overtones that sounds all the time but for 3 s: whatever stops in it was muted."""
    t = time()
    turns = 2 * np.pi * (220 * t - 3 * np.cos(2 * np.pi * 5 * t) / 5)
    return sum(0.2 * np.sin(k * turns) / k for k in range(1, 9)) * ((t < 20) | (t > 23)) + noise(-70, 4)


def test_mutes_are_counted(tmp_path):
    [one] = told(tmp_path, (_muted(_steady_voice(), (5, 0.4), (12, 0.05), (28, 1.1)), "vocal", "rf"), code="rf-mute")
    assert (one.severity, one.amount, one.unit) == ("warning", 3.0, "times")
    assert one.start_s == pytest.approx(5, abs=0.05)
    assert one.end_s == pytest.approx(28, abs=0.05)
    assert one.message.startswith("The radio drops out: 3 mutes with edges of milliseconds, first at 0:05.")
    assert one.message.endswith("A hand on the switch looks alike.")


def test_mutes_are_found_where_the_room_is_as_quiet_as_the_receiver(tmp_path):
    voice = _steady_voice() - noise(-70, 4) + noise(-94, 4)
    [one] = told(tmp_path, (_muted(voice, (5, 0.4), (28, 1.1)), "vocal", "rf"), code="rf-mute")
    assert one.amount == 2.0


def test_a_mouth_that_closes_within_a_word_is_no_mute(tmp_path):
    # Forty times for 60 ms, in a room with no echo: what is heard then is the room's noise, as in the pause.
    voice = _steady_voice() - noise(-70, 4)
    for start in np.arange(0.5, 19, 0.47):
        first = round(start * RATE)
        voice[first : first + round(0.06 * RATE)] = 0
    room = sum(noise(-82 - 3 * k, 10 + k).cumsum() * 0.02 for k in range(2)) + noise(-90, 4)
    room -= np.convolve(room, np.ones(480) / 480, "same")
    assert told(tmp_path, (voice + room, "vocal", "rf"), code="rf-mute") == []


def _silenced(samples: np.ndarray, *places: tuple[float, float]) -> np.ndarray:
    out = samples.copy()
    for start, length in places:
        out[round(start * RATE) : round((start + length) * RATE)] = 0.0
    return out


def test_mutes_to_digital_silence_are_told_once(tmp_path):
    voice = _silenced(_steady_voice(), (5, 0.4), (12, 0.05), (28, 1.1))
    found = [one.code for one in told(tmp_path, (voice, "vocal", "rf")) if one.code in ("rf-mute", "dropout")]
    assert found == ["rf-mute"]


def test_gaps_too_short_for_a_receiver_are_told_beside_its_mutes(tmp_path):
    voice = _silenced(_steady_voice(), (5, 0.4), (28, 1.1), (14, 0.012), (31, 0.012))
    found = [one for one in told(tmp_path, (voice, "vocal", "rf")) if one.code in ("rf-mute", "dropout")]
    assert sorted((one.code, one.amount) for one in found) == [("dropout", 2.0), ("rf-mute", 2.0)]


def test_zeros_behind_the_last_song_do_not_hide_mutes(tmp_path):
    voice = _silenced(_steady_voice(), (5, 0.12), (12, 0.12), (28, 12.0))
    [one] = told(tmp_path, (voice, "vocal", "rf"), code="rf-mute")
    assert one.amount == 2.0


def test_two_short_bursts_and_nothing_else_are_answered():
    """Every sound lies beside what may be a mute: there is no open microphone to hold it against."""
    session = Session()
    energy = np.zeros(10 * session.tracks[7].levels.size, np.float32)
    energy[800:803] = energy[810:813] = 1.0
    session.tracks[7].columns["k_energy_10ms"] = energy
    session.channels[7]["input"] = "rf"
    assert [one.code for one in rf_mute.check(session.show())] == []


def test_one_mute_alone_is_a_note(tmp_path):
    [one] = told(tmp_path, (_muted(_steady_voice(), (5, 0.4)), "vocal", "rf"), code="rf-mute")
    assert (one.severity, one.confidence) == ("note", "possible")


def test_bursts_of_noise_are_told(tmp_path):
    voice = _steady_voice()
    for start in (6.0, 28.0):
        first = round(start * RATE)
        voice[first : first + RATE // 3] = noise(-14, 6)[: RATE // 3]
    [one] = told(tmp_path, (voice, "vocal", "rf"), code="rf-mute")
    assert (one.severity, one.amount) == ("warning", 2.0)
    assert "2 bursts of noise, first at 0:06" in one.message


def test_a_switch_between_songs_is_no_dropout(tmp_path):
    assert told(tmp_path, (_muted(_steady_voice(), (19.5, 4.0), (30, 3.0)), "vocal", "rf"), code="rf-mute") == []


def test_notes_that_die_away_are_no_mutes(tmp_path):
    assert told(tmp_path, (healthy(3, -90), "vocal", "rf"), (healthy(4), "speech", "rf"), code="rf-mute") == []


def test_only_radios_are_asked(tmp_path):
    assert told(tmp_path, _muted(_steady_voice(), (5, 0.4), (28, 1.1)), code="rf-mute") == []


def test_a_take_that_ends_within_a_fall_is_answered(tmp_path):
    voice = _steady_voice()[: -RATE // 2]
    voice[-RATE // 50 :] = noise(-95, 5)[: RATE // 50]
    assert told(tmp_path, (voice, "vocal", "rf"), code="rf-mute") == []


def _ring(hz: float, at: float, rise: float, hold: float, top_db: float = -6.0) -> np.ndarray:
    after = time() - at
    level = np.minimum(top_db - 60 + rise * np.maximum(after, 0), top_db)
    shape = 10 ** (level / 20) * (after >= 0) * np.clip((60 / rise + hold - after) / 0.05, 0, 1)
    return shape * np.sin(2 * np.pi * hz * time())


@pytest.mark.parametrize(("hz", "rise"), [(315, 20), (800, 40), (1540, 30), (2500, 60), (4200, 15), (742, 30)])
def test_feedback_is_told_at_any_frequency_near_edges_of_octaves_too(tmp_path, hz, rise):
    findings = told(tmp_path, healthy(2) * 0.5 + _ring(hz, 8.0, rise, 2.0), code="ringing")
    assert [(one.severity, one.channels) for one in findings] == [("warning", (1,))]
    # The tone of -6 dBFS peak is -6 dBFS in RMS as well.
    assert findings[0].amount == pytest.approx(-6, abs=0.7)
    assert findings[0].end_s == pytest.approx(8 + 60 / rise + 2, abs=0.3)


def test_what_several_microphones_hear_is_told_once(tmp_path):
    ring = _ring(1000, 8, 30, 2)
    [one] = told(tmp_path, healthy(1) + 0.3 * ring, healthy(2) + ring, code="ringing")
    assert one.channels == (2,)
    assert "(tracks 1-2 hear it)" in one.message


@pytest.mark.parametrize(("hz", "octave"), [(2310, "1500 and 3000"), (700, "375 and 750"), (5200, "3000 and 6000")])
def test_a_tone_that_comes_back_is_told_once_with_its_octave(tmp_path, hz, octave):
    twice = _ring(hz, 4, 30, 2) + _ring(hz, 20, 30, 3)
    [one] = told(tmp_path, healthy(1) + 0.3 * twice, healthy(2) * 0.5 + twice, code="ringing")
    assert one.channels == (2,)
    assert f"between {octave} Hz grows evenly and holds 2 times, first at 0:0" in one.message
    assert (one.start_s < 8, one.end_s) == (True, pytest.approx(25, abs=0.3))


def test_two_tones_at_one_time_on_two_microphones_are_told_both(tmp_path):
    first, second = (healthy(n) + _ring(hz, 8, 30, 3) for n, hz in ((1, 500), (2, 2500)))
    assert {one.channels for one in told(tmp_path, first, second, code="ringing")} == {(1,), (2,)}


def test_a_tone_on_the_edge_of_two_octaves_is_told_beside_a_note_in_one_of_them(tmp_path):
    note = sines(640, {1: -22, 2: -40, 3: -44}) * ((time() > 7) & (time() < 8.9))
    [one] = told(tmp_path, healthy(2) * 0.1 + note + _ring(753, 8.0, 40, 2.0), code="ringing")
    assert one.severity == "warning"


def _tune() -> np.ndarray:
    """Single tones of 0.3 s one after another, but for the time from 7 to 14 s."""
    t = time()
    hz = 600 + 80 * (np.floor(t / 0.4) % 7)
    sounds = (t % 0.4 < 0.3) & ((t < 7) | (t > 14))
    return 0.3 * np.convolve(sounds, np.ones(960) / 960, "same") * np.sin(2 * np.pi * hz * t) + noise(-80)


def test_what_a_player_of_single_tones_swells_is_a_note(tmp_path):
    # Held for 3 s: on any other player's microphone it is a warning.
    ring = _ring(1000, 8, 30, 3)
    [ocarina] = told(tmp_path / "a", (_tune() + ring, "woodwind", "mic"), code="ringing")
    assert (ocarina.severity, ocarina.confidence) == ("note", "possible")
    [trumpet] = told(tmp_path / "b", (healthy(2) * 0.5 + ring, "brass", "mic"), code="ringing")
    assert (trumpet.severity, trumpet.confidence) == ("warning", "likely")
    [voice] = told(tmp_path / "c", (_tune() + ring, "vocal", "mic"), code="ringing")
    assert voice.severity == "warning"


@pytest.mark.parametrize(
    "sound",
    [
        pytest.param(lambda: healthy(), id="music"),
        pytest.param(lambda: sines(1000, {1: -10}) * ((time() > 8) & (time() < 14)) + noise(-80), id="a tone"),
        pytest.param(lambda: sines(660, {1: -10, 2: -18, 3: -24}) * np.clip((time() - 8) / 1.0, 0, 1) * (time() < 14)
                     + noise(-80), id="a note with overtones that grows"),
        pytest.param(lambda: 0.1 * healthy(2) + sines(640, {1: -22, 2: -40}) * ((time() > 7) & (time() < 8.9)),
                     id="a note that begins with a jump over faint music"),
        pytest.param(lambda: sines(1320, {1: -10}) * np.clip((time() - 8) / 0.8, 0, 1) * (time() < 14)
                     + noise(-80), id="a pure note that grows as fast as it began"),
    ],
)  # fmt: skip
def test_notes_and_tones_are_no_feedback(tmp_path, sound):
    assert told(tmp_path, sound(), code="ringing") == []


def test_a_players_attack_across_two_hops_is_a_note(tmp_path):
    # 30 dB out of bleed in two tenths of a second, straight in decibels, held for 1.2 s.
    attack = _ring(2000, 8.0, 160, 1.2)
    assert told(tmp_path / "a", (healthy(2) * 0.1 + attack, "woodwind", "mic"), code="ringing") == []
    # What grows at the speed of feedback is asked about.
    [slower] = told(tmp_path / "b", (healthy(2) * 0.1 + _ring(2000, 8.0, 80, 1.2), "woodwind", "mic"), code="ringing")
    assert (slower.severity, slower.confidence) == ("note", "possible")


def _long_tone(rest: np.ndarray) -> np.ndarray:
    """A line that comes out of `rest` by its last 8 dB, at 40 dB a second, and holds for 1.5 s; then all is quiet."""
    rise = np.clip((time() - 8.0) * 40, 0, 60)
    tone = 10 ** ((rise - 60 - 8) / 20) * ((time() > 8) & (time() < 11.0)) * np.sin(2 * np.pi * 1000 * time())
    return tone + rest * (time() < 11.2) + noise(-80)


def test_a_tone_whose_beginning_the_source_hides_is_told_where_the_source_plays_on_under_it(tmp_path):
    # A note of the same octave hides all but the last 8 dB; then the player goes on with others, and rests between.
    note = 10 ** (-16.2 / 20) * np.sin(2 * np.pi * 900 * time()) * ((time() > 6) & (time() < 9.35))
    plays_on = 0.05 * np.sin(2 * np.pi * 300 * time()) * (time() % 0.5 < 0.25)
    [one] = told(tmp_path / "a", _long_tone(note + plays_on), code="ringing")
    assert (one.severity, one.end_s) == ("warning", pytest.approx(11.0, abs=0.3))
    # The same over what stays as it is may be a note.
    stays = 0.02 * np.sin(2 * np.pi * 300 * time())
    assert told(tmp_path / "b", _long_tone(note + stays), code="ringing") == []


def test_feedback_of_a_guitar_is_played(tmp_path):
    assert told(tmp_path, (healthy(2) * 0.5 + _ring(800, 8, 40, 2), "guitar", "mic"), code="ringing") == []
