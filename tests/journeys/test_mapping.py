"""Takes as an engineer would see them: clean, two plugs exchanged (unlike and like), all plugs from one on shifted."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest

from replay.report import as_corrected
from replay.simulate import check
from tests.material.cast import LINES
from tests.material.recording import Recording
from tests.material.show import write_show
from tests.material.stage import record

NAMES = (
    "Kick", "Snare Top", "Hi-hat", "Floor Tom", "Bass DI", "Guitar 1", "Keys L", "Keys R", "Trumpet", "Vox Lead",
    "Caller", "Spare 1",
)  # fmt: skip


@pytest.fixture(scope="module")
def band() -> Recording:
    by_name = {line.name: line for line in LINES}
    return record(seed=71, seconds=30, line_check=True, chosen=[by_name[name] for name in NAMES])


def report_on(recording: Recording, folder: Path):
    return check(write_show(folder / "show", recording, of="show"), kept_in=folder / "kept")


def test_clean(band: Recording, tmp_path: Path) -> None:
    report = report_on(band, tmp_path)
    assert report.verdict == "ready"
    assert [one.message for one in report.findings if one.severity != "note"] == []
    assert report.show.mapping.line_check.endswith("went by the input list")
    statuses = {view.channel.name: view.mapping.status for view in report.show.channels}
    assert statuses.pop("Spare 1") == "unknown"
    assert set(statuses.values()) == {"heard"}


def test_exchanged(band: Recording, tmp_path: Path) -> None:
    wrong = band.copy()
    wrong.tracks[[5, 9]] = wrong.tracks[[9, 5]]
    report = report_on(wrong, tmp_path)
    assert report.verdict == "not-ready"
    (finding,) = [one for one in report.findings if one.severity != "note"]
    assert (finding.code, finding.severity, finding.channels) == ("swapped", "fault", (6, 10))
    assert report.show.view(6).mapping.status == "contradicted"
    assert report.show.view(6).mapping.found_on == 10
    assert report.show.view(1).mapping.status == "heard"
    as_corrected.write(report, str(tmp_path / "corrected.csv"))
    with open(tmp_path / "corrected.csv", newline="", encoding="utf-8") as file:
        rows = {row["name"]: row for row in csv.DictReader(file)}
    assert (rows["Guitar 1"]["socket"], rows["Vox Lead"]["socket"]) == ("10", "6")


def test_no_preamp_is_turned_for_a_source_that_lies_on_its_track_by_mistake(band: Recording, tmp_path: Path) -> None:
    wrong = band.copy()
    wrong.tracks[5] *= 0.97 / np.abs(wrong.tracks[5]).max()
    view = report_on(wrong, tmp_path / "hot").show.view(6)
    assert view.advice is not None
    assert not view.advice_waits
    wrong.tracks[[5, 9]] = wrong.tracks[[9, 5]]
    report = report_on(wrong, tmp_path / "exchanged")
    view = report.show.view(10)
    assert view.advice is None
    assert view.advice_waits
    (swap,) = [one for one in report.findings if one.code == "swapped"]
    assert "Record again after that: what gain channels 6, 10 need can be told only then." in swap.action


def test_shifted(band: Recording, tmp_path: Path) -> None:
    wrong = band.copy()
    noise = wrong.tracks[11].copy()
    wrong.tracks[5:12] = np.concatenate([noise[None], band.tracks[5:11]])
    report = report_on(wrong, tmp_path)
    (finding,) = [one for one in report.findings if one.severity == "fault"]
    assert finding.code == "shifted"
    assert set(range(6, 12)) <= set(finding.channels)
    assert report.show.view(10).mapping.found_on == 11


def test_two_voices_beside_each_other_that_were_exchanged_are_not_said_to_be_heard(tmp_path: Path) -> None:
    """One of them may have been asked for out of turn, and they sound alike: nothing is told, and nothing confirmed."""
    by_name = {line.name: line for line in LINES}
    names = ("Kick", "Snare Top", "Bass DI", "Guitar 1", "Trumpet", "Vox Lead", "BV Left", "BV Right", "Click")
    singing = record(seed=72, seconds=30, line_check=True, chosen=[by_name[name] for name in names])
    wrong = singing.copy()
    wrong.tracks[[6, 7]] = wrong.tracks[[7, 6]]
    for recording, status in ((singing, "heard"), (wrong, "named")):
        report = report_on(recording, tmp_path / status)
        assert report.show.mapping.misplaced == ()
        statuses = {view.channel.name: view.mapping.status for view in report.show.channels}
        assert (statuses.pop("BV Left"), statuses.pop("BV Right")) == (status, status)
        assert set(statuses.values()) == {"heard"}
