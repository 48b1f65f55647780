"""Report ITU-R BS.2217-2 (10/2016): compliance material for BS.1770 meters that can be synthesised; +-0.1 LKFS.

Levels and lengths of the gate tests are those of the report's files. The tones' levels follow from the tables of
BS.1770-5: target + 0.691 - gain of the K-weighting at that frequency.
"""

from __future__ import annotations

import pytest

from tests.standards.probe import FORMS, check, stereo, stereo_show
from tests.standards.signals import absolute_gate, relative_gate, sine

TOLERANCE = 0.1
TONES = {25: -11.916, 100: -21.176, 500: -22.352, 1000: -23.007, 2000: -25.380, 10000: -26.351}
"""dBFS peak of each channel that reads -23.0 LKFS."""

both_forms = pytest.mark.parametrize("form", FORMS)


@both_forms
def test_bs2217_relative_gate(tmp_path, form):
    # A gate at -8 LU would read -7.94, no relative gate -10.98.
    pair = stereo(tmp_path / "show", relative_gate(), form)
    assert pair.integrated_lufs == pytest.approx(-10.0, abs=TOLERANCE)


@both_forms
def test_bs2217_absolute_gate(tmp_path, form):
    # Without the absolute gate it would read -73.36.
    pair = stereo(tmp_path / "show", absolute_gate(), form)
    assert pair.integrated_lufs == pytest.approx(-69.5, abs=TOLERANCE)


@both_forms
def test_bs2217_gates_in_24_bits(tmp_path, form):
    # The quiet stretches at -90.3 dBFS are 256 steps of 24 bits: still a tone.
    relative, absolute = check(
        stereo_show(tmp_path / "show", [relative_gate(), absolute_gate()], form, encoding="s24")
    ).show.pairs
    assert relative.integrated_lufs == pytest.approx(-10.0, abs=TOLERANCE)
    assert absolute.integrated_lufs == pytest.approx(-69.5, abs=TOLERANCE)


@both_forms
@pytest.mark.parametrize("target", [-23.0, -24.0])
def test_bs2217_tones(tmp_path, form, target):
    signals = [sine((20, level + target + 23.0), hertz=hertz) for hertz, level in TONES.items()]
    pairs = check(stereo_show(tmp_path / "show", signals, form)).show.pairs
    assert [pair.integrated_lufs for pair in pairs] == pytest.approx([target] * len(TONES), abs=TOLERANCE)


def test_bs2217_one_channel_at_a_time(tmp_path):
    # A tone in left or right alone reads 3.01 below the same tone in both.
    import numpy as np

    tone = sine((20, -23.0 + 3.01))
    left, right = tone * np.array([1.0, 0.0]), tone * np.array([0.0, 1.0])
    pairs = check(stereo_show(tmp_path / "show", [left, right], "two-channel")).show.pairs
    assert [pair.integrated_lufs for pair in pairs] == pytest.approx([-23.0, -23.0], abs=TOLERANCE)
