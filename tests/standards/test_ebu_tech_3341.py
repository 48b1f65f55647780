"""EBU Tech 3341 V4 (November 2023), Table 1: the minimum requirements of an "EBU Mode" meter.

Cases 1 to 5 and 9 to 23, each with the document's tolerance: loudness +-0.1 LU, true peak +0.2/-0.4 dB. Case 6 is a
5.0 signal and cases 7 and 8 are programme; none of them is a stereo signal that can be synthesised.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from tests.standards.probe import FORMS, check, stereo, stereo_series, stereo_show
from tests.standards.signals import case_3341, cases_3341, sine

LOUDNESS = 0.1
TRUE_PEAK_ABOVE, TRUE_PEAK_BELOW = 0.2, 0.4

both_forms = pytest.mark.parametrize("form", FORMS)
both_encodings = pytest.mark.parametrize("encoding", ["f32", "s24"])


def within(reading: float | None, target: float) -> bool:
    return reading is not None and abs(reading - target) <= LOUDNESS


def peak_within(reading: float | None, target: float) -> bool:
    return reading is not None and -TRUE_PEAK_BELOW <= reading - target <= TRUE_PEAK_ABOVE


@both_encodings
@both_forms
def test_ebu3341_case_01_steady_tone_at_minus_23(tmp_path, form, encoding):
    pair = stereo(tmp_path / "show", case_3341(1), form, encoding=encoding)
    assert within(pair.momentary_max_lufs, -23.0)
    assert within(pair.short_term_max_lufs, -23.0)
    assert within(pair.integrated_lufs, -23.0)
    # Tighter than the document: what the published coefficients give for 1 kHz (-23 + 0.698 - 0.691).
    assert pair.integrated_lufs == pytest.approx(-22.993, abs=0.002)


@both_encodings
@both_forms
def test_ebu3341_case_02_steady_tone_at_minus_33(tmp_path, form, encoding):
    pair = stereo(tmp_path / "show", case_3341(2), form, encoding=encoding)
    assert within(pair.momentary_max_lufs, -33.0)
    assert within(pair.short_term_max_lufs, -33.0)
    assert within(pair.integrated_lufs, -33.0)


@both_forms
def test_ebu3341_case_03_relative_gate(tmp_path, form):
    pair = stereo(tmp_path / "show", case_3341(3), form)
    assert within(pair.integrated_lufs, -23.0)
    assert pair.integrated_lufs == pytest.approx(-23.014, abs=0.002)


@both_forms
def test_ebu3341_case_04_both_gates(tmp_path, form):
    pair = stereo(tmp_path / "show", case_3341(4), form)
    assert within(pair.integrated_lufs, -23.0)


@both_forms
def test_ebu3341_case_05_nothing_gated(tmp_path, form):
    pair = stereo(tmp_path / "show", case_3341(5), form)
    assert within(pair.integrated_lufs, -23.0)


@both_forms
def test_ebu3341_case_09_short_term_constant_after_3_s(tmp_path, form):
    report = check(stereo_show(tmp_path / "show", [case_3341(9)], form))
    series = stereo_series(report, 3.0)
    assert len(series) == 1500 - 300 + 1
    assert np.abs(series + 23.0).max() <= LOUDNESS
    assert within(report.show.pairs[0].short_term_max_lufs, -23.0)


@both_forms
def test_ebu3341_case_10_short_term_maximum_of_20_files(tmp_path, form):
    pairs = check(stereo_show(tmp_path / "show", cases_3341(10), form)).show.pairs
    assert len(pairs) == 20
    assert [within(pair.short_term_max_lufs, -23.0) for pair in pairs] == [True] * 20


@both_forms
def test_ebu3341_case_11_short_term_maximum_of_20_stretches(tmp_path, form):
    show = stereo_show(tmp_path / "show", [case_3341(11)], form)
    series = stereo_series(check(show), 3.0)
    for i in range(20):
        # Windows that begin within the unit and end within it.
        assert within(float(series[600 * i : 600 * i + 301].max()), -38.0 + i), i
        pair = check(show, from_s=round(6.0 * i, 1), to_s=round(6.0 * (i + 1), 1)).show.pairs[0]
        assert within(pair.short_term_max_lufs, -38.0 + i), i


@both_forms
def test_ebu3341_case_12_momentary_constant_after_1_s(tmp_path, form):
    report = check(stereo_show(tmp_path / "show", [case_3341(12)], form))
    series = stereo_series(report, 0.4)
    assert len(series) == 1000 - 40 + 1
    assert np.abs(series[60:] + 23.0).max() <= LOUDNESS
    assert within(report.show.pairs[0].momentary_max_lufs, -23.0)


@both_forms
def test_ebu3341_case_13_momentary_maximum_of_20_files(tmp_path, form):
    pairs = check(stereo_show(tmp_path / "show", cases_3341(13), form)).show.pairs
    assert len(pairs) == 20
    assert [within(pair.momentary_max_lufs, -23.0) for pair in pairs] == [True] * 20


@both_forms
def test_ebu3341_case_14_momentary_maximum_of_20_stretches(tmp_path, form):
    show = stereo_show(tmp_path / "show", [case_3341(14)], form)
    series = stereo_series(check(show), 0.4)
    for i in range(20):
        assert within(float(series[80 * i : 80 * i + 41].max()), -38.0 + i), i
        pair = check(show, from_s=round(0.8 * i, 1), to_s=round(0.8 * (i + 1), 1)).show.pairs[0]
        assert within(pair.momentary_max_lufs, -38.0 + i), i


@both_forms
def test_ebu3341_case_15_true_peak_quarter_rate_0_degrees(tmp_path, form):
    assert peak_within(stereo(tmp_path / "show", case_3341(15), form).true_peak_dbtp, -6.0)


@both_forms
def test_ebu3341_case_16_true_peak_quarter_rate_45_degrees(tmp_path, form):
    assert peak_within(stereo(tmp_path / "show", case_3341(16), form).true_peak_dbtp, -6.0)


@both_forms
def test_ebu3341_case_17_true_peak_sixth_rate_60_degrees(tmp_path, form):
    assert peak_within(stereo(tmp_path / "show", case_3341(17), form).true_peak_dbtp, -6.0)


@both_forms
def test_ebu3341_case_18_true_peak_eighth_rate_67_5_degrees(tmp_path, form):
    assert peak_within(stereo(tmp_path / "show", case_3341(18), form).true_peak_dbtp, -6.0)


@both_forms
def test_ebu3341_case_19_true_peak_above_full_scale(tmp_path, form):
    # Amplitude 1.41 in samples that reach 1.0: at 45 degrees no sample is over, so float and 24 bits can hold it.
    assert peak_within(stereo(tmp_path / "show", case_3341(19), form).true_peak_dbtp, 3.0)


@pytest.mark.parametrize("case", [20, 21, 22, 23])
@both_forms
def test_ebu3341_cases_20_to_23_true_peak_of_one_period(tmp_path, form, case):
    assert peak_within(stereo(tmp_path / "show", case_3341(case), form).true_peak_dbtp, 0.0)


@pytest.mark.parametrize("case", [15, 16, 17, 18, 19, 20, 21, 22, 23])
def test_true_peaks_are_nearer_than_the_document_asks(tmp_path, case):
    """Within 0.05 dB of a 32 times oversampled reading of the same samples."""
    from tests.standards.exact import true_peak_db

    signal = case_3341(case).astype(np.float32).astype(float)
    pair = stereo(tmp_path / "show", signal, "mono")
    assert pair.true_peak_dbtp == pytest.approx(true_peak_db(signal[:, 0]), abs=0.05)


@both_forms
def test_ebu3341_section_2_9_calibration(tmp_path, form):
    pair = stereo(tmp_path / "show", sine((20, -18.0)), form)
    assert within(pair.integrated_lufs, -18.0)


@pytest.mark.parametrize("rate", [44100, 88200, 96000, 192000])
def test_other_rates_read_case_01_and_case_05_alike(tmp_path, rate):
    # BS.1770-5 Annex 1 asks for the response of the 48 kHz filters; bilinear designs drift up to 0.05 dB.
    steady = sine((20, -23.0), rate=rate)
    stepped = sine((20, -26.0), (20.1, -20.0), (20, -26.0), rate=rate)
    one, five = check(stereo_show(tmp_path / "show", [steady, stepped], "mono", rate=rate)).show.pairs
    assert one.integrated_lufs == pytest.approx(-22.993, abs=0.05)
    assert one.momentary_max_lufs == pytest.approx(-22.993, abs=0.05)
    assert five.integrated_lufs == pytest.approx(-22.979, abs=0.05)


def test_mono_reads_3_01_lu_below_the_same_signal_on_both_sides(tmp_path):
    report = check(stereo_show(tmp_path / "show", [case_3341(1)], "mono"))
    both = report.show.pairs[0].integrated_lufs
    for number in (1, 2):
        alone = report.show.view(number).recorded.integrated_lufs
        assert both - alone == pytest.approx(10 * math.log10(2), abs=1e-6)
