"""Steady noise at any level is no source; what merely holds on, or hisses as it lives, is one."""

from __future__ import annotations

import numpy as np
import pytest

from tests.checks.sick import RATE, SECONDS, healthy, noise, sines, time, told


def coloured(level_db: float, slope: float, seed: int = 3) -> np.ndarray:
    """Noise whose power falls as frequency to the `slope`; 0 is white, 1 pink. RMS in dB re 1."""
    spectrum = np.fft.rfft(np.random.default_rng(seed).standard_normal(SECONDS * RATE))
    hertz = np.fft.rfftfreq(SECONDS * RATE, 1 / RATE)
    spectrum *= np.maximum(hertz, 15.0) ** (-slope / 2)
    out = np.fft.irfft(spectrum)
    return out * 10 ** (level_db / 20) / out.std()


@pytest.mark.parametrize("slope", [0.0, 0.5, 1.0])
@pytest.mark.parametrize("level", [-20.0, -38.0])
def test_noise_from_white_to_pink_is_told_once(tmp_path, slope, level):
    findings = told(tmp_path, (coloured(level, slope), "vocal", "mic"), (healthy(2), "vocal", "mic"))
    [one] = [one for one in findings if 1 in one.channels and one.severity in ("fault", "warning")]
    assert (one.code, one.severity, one.confidence) == ("noise-only", "warning", "likely")
    assert one.message.startswith("Track 1 holds nothing but steady noise from end to end")


def test_what_lies_below_hearing_does_not_hide_it(tmp_path):
    """A generator that is pink down to a tenth of a hertz, and a converter's offset."""
    clock = time()
    swell = 0.05 * np.sin(2 * np.pi * 0.3 * clock) + 0.03 * np.sin(2 * np.pi * 4 * clock) + 0.02
    findings = told(tmp_path, coloured(-30, 1.0) + swell, healthy(2), code="noise-only")
    assert [one.channels for one in findings] == [(1,)]


def rain() -> np.ndarray:
    """Drops: noise whose level wanders by some decibels within seconds."""
    wander = np.interp(time(), np.arange(SECONDS + 1), np.random.default_rng(1).normal(0, 2.5, SECONDS + 1))
    return coloured(-22, 0.5) * 10 ** (wander / 20)


def shaker() -> np.ndarray:
    """Eighth notes of noise that never quite stop."""
    beat = (time() * 4) % 1.0
    return coloured(-24, -0.5) * (0.3 + np.exp(-6 * beat))


def drone() -> np.ndarray:
    """A hurdy-gurdy's strings: rich, held, with a little beating, and a preamp's noise."""
    rich = {k: -18 - 20 * np.log10(k) for k in range(1, 40)}
    return sines(98.0, rich) + sines(147.3, rich) + noise(-75, 4)


def pad() -> np.ndarray:
    """A synthesiser's pad of seven saws out of tune."""
    rich = {k: -26 - 20 * np.log10(k) for k in range(1, 60)}
    return sum(sines(110.0 * 2 ** (cents / 1200), rich) for cents in (-19, -11, -6, 0, 5, 12, 20))


@pytest.mark.parametrize("made", [rain, shaker, drone, pad, healthy])
def test_what_lives_or_rings_is_a_source(tmp_path, made):
    assert told(tmp_path, made(), healthy(5), code="noise-only") == []


@pytest.mark.parametrize("kind", ["ambience", "playback"])
def test_what_may_hold_noise_by_nature_is_not_asked(tmp_path, kind):
    assert told(tmp_path, (coloured(-20, 1), kind, "line"), healthy(5), code="noise-only") == []


def test_noise_that_a_source_joins_is_a_source(tmp_path):
    assert told(tmp_path, coloured(-40, 1) + healthy(2), healthy(5), code="noise-only") == []
