"""Hum and buzz: lines of the mains told from basses, drones and test tones on the same notes."""

from __future__ import annotations

import numpy as np
import pytest

from replay.checks.shared.mains import _as_far_as_rests_tell
from tests.checks.sick import healthy, music, noise, sines, time, told

FIVE = {1: -50.0, 2: -54.0, 3: -58.0, 4: -66.0, 5: -70.0}


@pytest.mark.parametrize("hz", [50.0, 49.9, 60.0, 60.06])
def test_a_hum_is_told_with_its_frequency_and_level(tmp_path, hz):
    [one] = told(tmp_path, healthy() + sines(hz, FIVE), code="hum")
    assert (one.severity, one.confidence, one.channels) == ("warning", "likely", (1,))
    # Powers add: -50, -54, -58, -66 and -70 dB are -47.99 dBFS together.
    assert one.amount == pytest.approx(-48.0, abs=0.4)
    assert one.message.startswith(f"It hums: {round(hz / 10) * 10}, {round(hz / 10) * 20}, ")
    assert one.message.endswith(" dB below the played peak, all through, also while the source is silent.")


def test_a_guitar_hums_by_nature(tmp_path):
    [one] = told(tmp_path, (healthy() + sines(50, FIVE), "guitar", "mic"), code="hum")
    assert one.severity == "note"


def test_several_of_one_box_are_told_together(tmp_path):
    hum = sines(50, FIVE)
    [one] = told(tmp_path, healthy(1) + hum, healthy(2) + 2 * hum, healthy(3), code="hum")
    assert one.channels == (1, 2)
    assert one.message.startswith("Tracks 1-2 hum together, track 2 most: ")
    assert "box riser" in one.action


def test_many_even_lines_are_a_buzz_and_no_hum(tmp_path):
    findings = told(tmp_path, healthy() + sines(50, dict.fromkeys(range(1, 40), -62.0)))
    assert [one.code for one in findings if one.code in ("hum", "buzz")] == ["buzz"]
    [buzz] = [one for one in findings if one.code == "buzz"]
    # Nine of them are measured: 9 times -62 dBFS.
    assert buzz.amount == pytest.approx(-62 + 10 * np.log10(9), abs=0.4)


def test_a_buzz_is_told_where_a_hum_of_its_lines_would_be_too_faint(tmp_path):
    # Played peak about -9 dBFS; nine lines add up to 55 dB below it.
    assert told(tmp_path / "a", healthy(floor_db=-95) + sines(60, dict.fromkeys(range(1, 40), -73.5)), code="buzz")
    assert not told(tmp_path / "b", healthy(floor_db=-95) + sines(60, {1: -65.5, 2: -69.5, 3: -73.5}), code="hum")


def _drums(first: tuple[float, float], second: tuple[float, float]) -> np.ndarray:
    """Wide noise, as loud cymbals are, but for two rests that each leave room for one window of 2 s on the grid."""
    rests = [(time() > a) & (time() < b) for a, b in (first, second)]
    return noise(-25, 3) * ~(rests[0] | rests[1]) + noise(-92, 4)


def test_a_buzz_behind_drums_that_rest_but_twice_for_three_seconds_is_told(tmp_path):
    buzz = sines(50, dict.fromkeys(range(1, 40), -61.0))
    drums = _drums((10.4, 13.2), (22.4, 25.2))
    [one] = told(tmp_path / "a", (drums + buzz, "overhead", "mic"), code="buzz")
    assert one.message.endswith(", all through, also while the source is silent.")
    # Played peak about -12 dBTP. What plays in the rests alone moves by 3 dB: no buzz, for all that its notes are.
    played = buzz * np.where(time() < 18, 1.0, 10 ** (-3 / 20))
    assert told(tmp_path / "b", (drums + played, "overhead", "mic"), code="buzz") == []


def test_a_buzz_is_told_down_to_its_limit(tmp_path):
    # The music peaks at -9 dBFS; nine lines are 9.5 dB louder than one.
    near = sines(50, dict.fromkeys(range(1, 40), -9 - 64 - 9.5))
    assert told(tmp_path / "a", healthy(floor_db=-105) + near, code="buzz")
    assert not told(tmp_path / "b", healthy(floor_db=-105) + near * 10 ** (-5 / 20), code="buzz")


def test_a_hum_that_comes_with_a_light_is_told_with_its_times(tmp_path):
    on = (time() > 10) & (time() < 32)
    [one] = told(tmp_path, healthy() + sines(50, FIVE) * on, code="hum")
    assert one.start_s == pytest.approx(10, abs=2.1)
    assert one.end_s == pytest.approx(32, abs=2.1)


def test_music_that_hides_a_hum_does_not_end_it(tmp_path):
    """A note on the mains' own tones takes them down by 14 dB for four seconds; the rests are at 11, 23 and 34 s."""
    note = -0.8 * sines(50, FIVE) * ((time() > 16) & (time() < 20))
    [one] = told(tmp_path, healthy() + sines(50, FIVE) + note, code="hum")
    assert one.message.endswith(", all through, also while the source is silent.")


@pytest.mark.parametrize(("stands", "end"), [(True, 9), (False, 5)])
def test_a_rest_without_a_hum_is_behind_its_end(stands, end):
    quiet, present = np.zeros(10, bool), np.zeros(10, bool)
    quiet[[2, 8]] = present[:5] = True
    present[8] = stands
    assert _as_far_as_rests_tell((0, 5), quiet, quiet & present, present) == (0, end)


def _phrases(period: float, share: float) -> np.ndarray:
    gate = (time() % period < period * share).astype(float)
    return np.convolve(gate, np.ones(960) / 960, "same") if gate.any() else gate


@pytest.mark.parametrize(
    "sound",
    [
        pytest.param(lambda: noise(-85), id="noise"),
        pytest.param(lambda: healthy(), id="music"),
        pytest.param(lambda: sines(50, {1: -12}) * (time() < 20) + noise(-85), id="test tone of 50 Hz"),
        pytest.param(lambda: sines(60, {1: -12}) + noise(-85), id="test tone of 60 Hz that never rests"),
        pytest.param(
            lambda: sines(50, {k: -15 - 6 * k for k in range(1, 9)}) * _phrases(2.0, 0.6) + noise(-85), id="bass"
        ),
        pytest.param(
            lambda: sines(60, {k: -15 - 6 * k for k in range(1, 9)}) * _phrases(2.7, 0.8) + noise(-85), id="bass 60"
        ),
        pytest.param(lambda: sines(49.0, {k: -20 - 4 * k for k in range(1, 9)}) + noise(-85), id="drone on G1"),
        pytest.param(lambda: sines(61.74, {k: -20 - 4 * k for k in range(1, 9)}) + noise(-85), id="drone on B1"),
        pytest.param(
            lambda: sines(41.2, {k: -20 - 4 * k for k in range(1, 9)}) * _phrases(9, 0.7) + noise(-85), id="E1"
        ),
    ],
)
def test_what_plays_on_the_mains_notes_does_not_hum(tmp_path, sound):
    findings = told(tmp_path, (sound(), "keys", "line"), music(2) + noise(-80))
    assert [one.code for one in findings if one.code in ("hum", "buzz")] == []


def test_a_hum_too_far_below_the_source_is_not_told(tmp_path):
    faint = {k: level - 16 for k, level in FIVE.items()}
    assert told(tmp_path, healthy(floor_db=-95) + sines(50, faint), code="hum") == []


def test_playback_and_digital_sources_are_not_asked(tmp_path):
    hum = healthy() + sines(50, FIVE)
    assert told(tmp_path, (hum, "playback", "line"), (hum, "keys", "digital"), code="hum") == []
