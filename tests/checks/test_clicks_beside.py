"""Clicks on a track that also crackles, or whose radio drops out: what has a cause of its own is told beside them, what
has none is not told twice."""

from __future__ import annotations

import numpy as np

from tests.checks.sick import RATE, healthy, sines, time, told
from tests.checks.test_radio_and_feedback import _muted, _steady_voice
from tests.checks.test_sick_signals import _crackling

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
