"""Signs kept between runs are the signs that were found."""

from __future__ import annotations

import numpy as np

from replay.evidence.signs import Signs, known
from replay.measuring.store import Store
from tests.checks.sick import RATE, healthy, sines
from tests.material.ltc import ltc
from tests.tracks import measure_samples


def test_kept_signs_are_the_same_and_read_no_audio(tmp_path):
    turned = healthy() * 0.3
    turned[round(12.5 * RATE) :] *= 0.5
    humming = healthy(3, -88) + sines(54.42, {1: -50, 2: -53, 3: -56, 5: -60})
    measurements, tracks = measure_samples(tmp_path, turned, ltc(RATE, 0, len(turned), peak=0.3), healthy(2), humming)
    by_number = {one.track: one for one in measurements}
    (tmp_path / "kept").mkdir()
    store = Store(tmp_path / "kept")
    keys = {track.number: f"{track.number:040d}" for track in tracks}
    found = known(tracks, by_number, RATE, store, keys)
    assert list(found.timecode) == [2]
    assert [move.db for move in found.gain_moves[1]] == [-6.0]
    assert 2 not in found.gain_moves
    assert 3 not in found.gain_moves
    assert {number: one.nominal for number, one in found.off_mains.items()} == {4: 50.0}
    for track in tracks:
        track.segments[0].file.path.unlink()
    assert known(tracks, by_number, RATE, store, keys) == found


def test_without_a_place_to_keep_them_they_are_found_as_well(tmp_path):
    measurements, tracks = measure_samples(tmp_path, np.zeros(RATE * 20))
    assert known(tracks, {one.track: one for one in measurements}, RATE, None, {}) == Signs()
