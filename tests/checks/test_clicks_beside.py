"""Clicks on a track that also crackles, whose radio drops out, or whose tops are clipped: what has a cause of its own
is told beside them, what has none is not told twice."""

from __future__ import annotations

import numpy as np
import pytest

from tests.checks.sick import RATE, healthy, sines, time, told
from tests.checks.test_radio_and_feedback import _muted, _steady_voice
from tests.checks.test_sick_signals import _crackling
from tests.material.midi import render

EARLY = [1.0, 1.9, 2.3, 3.7, 4.4, 6.0, 6.5, 8.1]
CODES = {"click", "crackle", "rf-mute", "gain-moved"}


def _clicking(samples: np.ndarray, times: list[float]) -> np.ndarray:
    """The samples with clicks of two samples, as high as the loudest of all of them."""
    out = samples.copy()
    for at in times:
        first = round(at * RATE)
        out[first : first + 2] += 0.5
    return out


def _codes(folder, samples: np.ndarray, way: str) -> list[tuple[str, float | None]]:
    return [(one.code, one.amount) for one in told(folder, (samples, "vocal", way)) if one.code in CODES]


def test_clicks_far_from_a_crackle_are_told_beside_it(tmp_path):
    crackling = _crackling(healthy(), EARLY)
    [alone] = _codes(tmp_path / "a", crackling, "mic")
    assert alone[0] == "crackle"
    found = _codes(tmp_path / "b", _clicking(crackling, [18.5, 27.0, 31.1]), "mic")
    assert sorted(found) == [("click", 3.0), alone]


def test_clicks_among_the_bursts_of_a_crackle_are_its_own(tmp_path):
    [one] = _codes(tmp_path, _clicking(_crackling(healthy(), EARLY), [2.9, 7.2]), "mic")
    assert one[0] == "crackle"


def test_clicks_far_from_the_mutes_of_a_radio_are_told_beside_them(tmp_path):
    muted = _muted(_steady_voice(), (5, 0.4), (12, 0.05), (28, 1.1))
    assert _codes(tmp_path / "a", muted, "rf") == [("rf-mute", 3.0)]
    found = _codes(tmp_path / "b", _clicking(muted, [9.2, 17.4, 33.1]), "rf")
    assert sorted(found) == [("click", 3.0), ("rf-mute", 3.0)]


def test_clicks_at_the_edges_of_the_mutes_of_a_radio_are_its_own(tmp_path):
    muted = _muted(_steady_voice(), (5, 0.4), (12, 0.3), (28, 1.1))
    assert _codes(tmp_path, _clicking(muted, [5.0, 12.31, 29.1]), "rf") == [("rf-mute", 3.0)]


def _turned(*clicks: float) -> np.ndarray:
    """A preamp that is turned down by 8 dB at once while a low note sounds; clicks elsewhere."""
    held = sines(110, {1: -22, 2: -30}) * np.clip(np.minimum(time() - 15, 21 - time()), 0, 1)
    return _clicking(healthy() * 0.3 + held, list(clicks)) * np.where(time() < 18.002, 1.0, 10 ** (-8 / 20))


def test_the_edge_that_a_turned_preamp_leaves_is_told_with_it(tmp_path):
    turned = [(one.code, one.amount) for one in told(tmp_path / "a", _turned(), *map(healthy, (2, 3, 4)))]
    assert [one for one in turned if one[0] in CODES] == [("gain-moved", -8.0)]


def test_clicks_far_from_where_a_preamp_was_turned_are_told_beside_it(tmp_path):
    turned = [(one.code, one.amount) for one in told(tmp_path, _turned(5.2, 29.3), *map(healthy, (2, 3, 4)))]
    assert sorted(one for one in turned if one[0] in CODES) == [("click", 2.0), ("gain-moved", -8.0)]


SECONDS = 20
TRUMPET, SAXOPHONE, SOPRANO = 56, 65, 53


def _song(program: int, low: int, high: int) -> np.ndarray:
    """Notes at any strength, from close by: more of what is high, so that tops are sharp."""
    rng = np.random.default_rng(2)
    notes, at = [], 0.4
    while at < SECONDS - 1.5:
        length = float(rng.uniform(0.15, 0.8))
        notes.append((at, length, int(rng.integers(low, high + 1)), int(rng.integers(70, 128))))
        at += length + float(rng.choice([0.0, 0.05, 0.4]))
    samples = render(program, tuple(notes), RATE, RATE * SECONDS).mean(axis=0).astype(np.float64)
    samples += 1.5 * np.diff(samples, prepend=0.0)
    return samples / np.abs(samples).max()


@pytest.fixture(scope="module")
def songs() -> list[np.ndarray]:
    return [_song(TRUMPET, 60, 86), _song(SAXOPHONE, 60, 80), _song(SOPRANO, 69, 88)]


def _clipped(samples: np.ndarray, ceiling_db: float, over_db: float) -> np.ndarray:
    """Cut off at a ceiling that its highest top lies above, then the noise of what lies behind."""
    ceiling = 10 ** (ceiling_db / 20)
    noise = 10 ** (-100 / 20) * np.random.default_rng(1).standard_normal(len(samples))
    return np.clip(samples * ceiling * 10 ** (over_db / 20), -ceiling, ceiling) + noise


@pytest.mark.parametrize("ceiling_db", [0.0, -3.0], ids=["at full scale", "before the converter"])
@pytest.mark.parametrize("over_db", [0.5, 1.5, 3.0])
def test_tops_that_are_clipped_for_a_sample_or_two_are_no_clicks(tmp_path, songs, ceiling_db, over_db):
    clipped = [(_clipped(song, ceiling_db, over_db), "brass", "mic") for song in songs]
    assert [(one.channels, one.message) for one in told(tmp_path, *clipped, code="click")] == []


def test_clicks_of_a_contact_are_told_beside_clipped_tops(tmp_path, songs):
    clicking = [(_clicking(_clipped(song, -3.0, 0.5), [5.2, 15.3]), "brass", "mic") for song in songs]
    found = told(tmp_path, *clicking, code="click")
    assert [(one.channels, one.amount) for one in found] == [((1,), 2.0), ((2,), 2.0), ((3,), 2.0)]
