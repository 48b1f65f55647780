"""The test signals are those of the documents: a meter written literally from BS.1770 reads on them what it must.

Nothing of the program is used here. The readings are those of exact meters (libebur128 1.2.6 agrees to 0.001) and are
far inside the documents' tolerances; beside them stands what wrong meters would read, which shows that the signal can
tell them apart.
"""

from __future__ import annotations

import numpy as np
import pytest

from tests.need import need_package
from tests.standards import exact
from tests.standards.signals import (
    CASES_3342,
    absolute_gate,
    case_3341,
    case_3342,
    cases_3341,
    relative_gate,
    sine,
)


@pytest.mark.parametrize(("case", "reading"), [(1, -22.993), (2, -32.993), (3, -23.014), (4, -23.014), (5, -22.979)])
def test_integrated_readings(case, reading):
    assert exact.integrated(case_3341(case)) == pytest.approx(reading, abs=0.001)


def test_what_wrong_gates_would_read():
    assert exact.integrated(case_3341(3), relative_lu=None) == pytest.approx(-24.16, abs=0.01)
    assert exact.integrated(case_3341(4), relative_lu=None, absolute=None) == pytest.approx(-25.13, abs=0.01)
    assert exact.integrated(relative_gate()) == pytest.approx(-10.029, abs=0.001)
    assert exact.integrated(relative_gate(), relative_lu=-8) == pytest.approx(-7.94, abs=0.01)
    assert exact.integrated(relative_gate(), relative_lu=None) == pytest.approx(-10.98, abs=0.01)
    assert exact.integrated(absolute_gate()) == pytest.approx(-69.493, abs=0.001)
    assert exact.integrated(absolute_gate(), relative_lu=None, absolute=None) == pytest.approx(-73.36, abs=0.01)


def test_case_13_needs_a_fine_hop():
    signals = cases_3341(13)
    assert len(signals) == 20
    coarse = [exact.loudness(float(exact.sliding(exact.weighted_power(one), 0.4, 0.1).max())) for one in signals]
    assert min(coarse) == pytest.approx(-23.451, abs=0.002)
    fine = [exact.momentary_max(one) for one in signals]
    assert fine == pytest.approx([-22.994] * 20, abs=0.002)


def test_case_10_short_term():
    assert [exact.short_term_max(one) for one in cases_3341(10)] == pytest.approx([-22.993] * 20, abs=0.002)


@pytest.mark.parametrize(
    ("case", "sample_peak", "true_peak"),
    [
        (15, -6.021, -6.021),
        (16, -9.03, -6.020),
        (17, -7.27, -6.019),
        (18, -6.71, -6.019),
        (19, -0.03, 2.985),
        (20, -0.13, -0.08),
        (21, -0.46, -0.08),
        (22, -2.50, -0.08),
        (23, -0.46, -0.08),
    ],
)
def test_true_peak_readings(case, sample_peak, true_peak):
    signal = case_3341(case)[:, 0]
    assert 20 * np.log10(np.abs(signal).max()) == pytest.approx(sample_peak, abs=0.01)
    assert exact.true_peak_db(signal) == pytest.approx(true_peak, abs=0.01)


@pytest.mark.parametrize("case", CASES_3342)
def test_loudness_range_readings(case):
    assert exact.loudness_range(case_3342(case)) == pytest.approx(CASES_3342[case][1], abs=0.001)


def test_libebur128_agrees_with_the_literal_meter():
    need_package("pyebur128")  # 0.1.1 with libebur128 1.2.6
    import pyebur128

    mode = pyebur128.MeasurementMode.MODE_I
    for signal in (case_3341(3), case_3341(5), relative_gate(), absolute_gate()):
        state = pyebur128.R128State(2, 48000, mode)
        state.add_frames(np.ascontiguousarray(signal).ravel(), len(signal))
        assert exact.integrated(signal) == pytest.approx(pyebur128.get_loudness_global(state), abs=0.001)


def test_the_phase_runs_on_where_the_level_changes():
    steps = np.abs(np.diff(sine((0.123, -20.0), (0.2, -20.0))[:, 0]))
    assert steps.max() < 2 * np.pi * 1000 / 48000 * 0.1 + 1e-9
