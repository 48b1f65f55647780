"""Levels that no converter knows: a float stem's residue between its notes has a number, which says nothing."""

from __future__ import annotations

import csv
import io
from dataclasses import replace

import pytest

from replay.desk.model import Levels
from replay.findings.result import Report
from replay.report import as_csv, as_json, as_text
from replay.report.page.channels import rows
from tests.report.shows import report


def with_floor(floor_dbfs: float) -> Report:
    """The small show, the kick's floor being this."""
    made = report()
    kick, *others = made.show.channels
    levels = replace(kick.recorded or Levels(), noise_floor_dbfs=floor_dbfs)
    channels = (replace(kick, recorded=levels), *others)
    return replace(made, show=replace(made.show, channels=channels))


def told(made: Report) -> tuple[str, str, str, float]:
    """The floor in the text, on the page, in channels.csv and in JSON."""
    (line,) = [line for line in as_text.text(made, cells=120).splitlines() if " 1 Kick in" in line and "deck 1" in line]
    page = dict(rows(made)[0].figures)["noise floor"]
    data = as_csv.table(as_csv._CHANNELS, as_csv.channels(made))
    cell = next(csv.DictReader(io.StringIO(data, newline="")))["noise_floor_dbfs"]
    return line.split()[7], page, cell, as_json.document(made)["channels"][0]["recorded"]["noise_floor_dbfs"]


@pytest.mark.parametrize("floor_dbfs", [-216.35, -140.1])
def test_below_what_converters_know_no_figure_is_given(floor_dbfs: float):
    assert told(with_floor(floor_dbfs)) == ("<-140", "below -140 dBFS", "below -140", floor_dbfs)


@pytest.mark.parametrize("floor_dbfs", [-140.0, -127.3, -71.0])
def test_any_other_floor_has_its_figure(floor_dbfs: float):
    text, page, cell, number = told(with_floor(floor_dbfs))
    assert (text, page) == (f"{floor_dbfs:.1f}", f"{floor_dbfs:.1f} dBFS")
    assert float(cell) == number == floor_dbfs
