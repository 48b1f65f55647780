"""What a sound speaks for, where it was recognised for certain."""

from __future__ import annotations

from dataclasses import replace

import pytest

from replay.evidence.sound import Sound
from replay.mapping.content import NEUTRAL, WORST, best_family, fit, fits
from replay.mapping.weigh import MISFIT

VOICE = Sound(
    moments=8, standing_out_db=15.0, bands=(0.0, 0.01, 0.15, 0.15, 0.3, 0.25, 0.1, 0.03, 0.01), half_hz=680.0,
    crest_db=12.5, strike_db=7.0, voicing=0.8, pitch_hz=220.0, steady=0.4,
)  # fmt: skip


def test_a_recognised_click_is_a_click_whatever_its_figures_are():
    heard = fits(replace(VOICE, click=True))
    assert best_family(heard) == "a click"
    assert fit(heard, "click") == 0.0
    assert {fit(heard, kind) for kind in ("vocal", "backing", "snare", "guitar", "bass")} == {WORST}
    assert fit(fits(VOICE), "vocal") > -1.0


@pytest.mark.parametrize("kind", ["playback", "other", "timecode", "talkback", "overhead"])
def test_kinds_that_may_hold_anything_say_nothing_of_it(kind):
    assert fit(fits(replace(VOICE, click=True)), kind) == NEUTRAL


def test_timecode_sounds_like_timecode_alone():
    coded = fits(replace(VOICE, timecode=True))
    assert fit(coded, "timecode") == 0.0
    assert {fit(coded, kind) for kind in ("keys", "guitar", "vocal", "click", "kick")} == {WORST}
    assert fit(coded, "playback") == NEUTRAL
    assert best_family(coded) == "timecode"


def test_low_winds_play_where_a_bass_does():
    """A tuba rendered from a General MIDI sound font read half its energy under 120 Hz, and no strike."""
    low = (0.35, 0.3, 0.2, 0.1, 0.04, 0.01, 0.0, 0.0, 0.0)
    tuba = fits(replace(VOICE, bands=low, half_hz=105.0, crest_db=10.5, strike_db=4.0, voicing=0.6, steady=0.7))
    assert best_family(tuba) == "bass"
    assert fit(tuba, "brass") == fit(tuba, "woodwind") == -4.0
    assert fit(tuba, "vocal") < -6.0


def test_a_dark_voice_is_a_voice():
    """Rendered voices that sang on dark vowels had 9 tenths of their energy from 120 to 500 Hz, where keys have it."""
    dark = (0.0, 0.0, 0.45, 0.42, 0.08, 0.04, 0.01, 0.0, 0.0)
    heard = fits(replace(VOICE, bands=dark, half_hz=300.0, crest_db=9.0, strike_db=5.0, voicing=0.97, steady=0.6))
    assert fit(heard, "vocal") > -2.0
    assert fit(heard, "backing") > -2.0
    assert fit(heard, "kick") < -5.0


@pytest.mark.parametrize(
    "mandolin",
    [
        replace(
            VOICE, bands=(0.0, 0.0, 0.02, 0.19, 0.39, 0.36, 0.02, 0.01, 0.0), half_hz=1020.0, crest_db=13.6,
            strike_db=7.3, voicing=0.89, pitch_hz=87.0, steady=0.44,
        ),
        replace(
            VOICE, bands=(0.0, 0.0, 0.0, 0.08, 0.26, 0.5, 0.13, 0.03, 0.0), half_hz=1111.0, crest_db=15.8,
            strike_db=10.1, voicing=0.7, pitch_hz=69.0, steady=0.29,
        ),
    ],
)  # fmt: skip
def test_a_mandolin_is_an_acoustic_instrument(mandolin: Sound):
    """Above a guitar by an octave (open strings from 196 to 659 Hz), in tremolo, as two rendered ones read (the pitch
    of chords is that of what their notes have in common)."""
    heard = fits(mandolin)
    assert fit(heard, "acoustic") > -1.0
    assert best_family(heard) in ("a voice", "plucked strings")
    assert fit(heard, "bass") < -6.0


def test_a_harpsichord_is_a_keyboard():
    plucked = (0.0, 0.01, 0.12, 0.24, 0.24, 0.16, 0.14, 0.07, 0.02)
    heard = fits(replace(VOICE, bands=plucked, half_hz=620.0, crest_db=13.5, strike_db=6.3, voicing=0.61, steady=0.47))
    assert fit(heard, "keys") > -2.5


def test_a_choirs_microphone_that_hears_one_singer_gives_no_reason_to_move_it():
    assert fit(fits(VOICE), "choir") > MISFIT
