"""EBU Tech 3342 V4 (November 2023), Table 1: loudness range, each case with the document's tolerance of +-1 LU."""

from __future__ import annotations

import pytest

from tests.standards.probe import FORMS, stereo
from tests.standards.signals import CASES_3342, case_3342

TOLERANCE = 1.0
EXACT = 0.02
"""What an exact meter is off on these signals: windows across the steps land on either side of a percentile's rank."""

both_forms = pytest.mark.parametrize("form", FORMS)


def read(folder, case: int, form: str) -> float | None:
    return stereo(folder / "show", case_3342(case), form).loudness_range_lu


@both_forms
def test_ebu3342_case_01_steps_of_10_lu(tmp_path, form):
    assert read(tmp_path, 1, form) == pytest.approx(10.0, abs=TOLERANCE)


@both_forms
def test_ebu3342_case_02_steps_of_5_lu(tmp_path, form):
    assert read(tmp_path, 2, form) == pytest.approx(5.0, abs=TOLERANCE)


@both_forms
def test_ebu3342_case_03_at_the_relative_gate(tmp_path, form):
    assert read(tmp_path, 3, form) == pytest.approx(20.0, abs=TOLERANCE)


@both_forms
def test_ebu3342_case_04_up_and_down(tmp_path, form):
    assert read(tmp_path, 4, form) == pytest.approx(15.0, abs=TOLERANCE)


@pytest.mark.parametrize("case", CASES_3342)
def test_nearer_than_the_document_asks(tmp_path, case):
    assert read(tmp_path, case, "mono") == pytest.approx(CASES_3342[case][1], abs=EXACT)
