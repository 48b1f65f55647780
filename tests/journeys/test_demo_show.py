"""The demo show tells of its planted faults whatever its length, and never that a plug is where it is not."""

from __future__ import annotations

from pathlib import Path

from replay.demo import write_demo
from replay.simulate import check

PLANTED = {"clipped", "hot", "noise-only", "bus-over", "not-recorded"}
"""What the scenario has wrong with it, as docs/demo.md tells it; the low fiddle is advice, and no warning."""


def test_four_minutes_tell_the_planted_faults_and_nothing_else(tmp_path: Path) -> None:
    """As long as the take that the pictures of docs/page.md show; the documents' examples run one to three minutes."""
    write_demo(tmp_path / "show", minutes=4)
    report = check(tmp_path / "show", keep=False)
    told = {finding.code for finding in report.findings if finding.severity in ("fault", "warning")}
    assert told == PLANTED
    assert report.show.mapping is not None
    assert report.show.mapping.misplaced == ()
    assert "went by the input list" in report.show.mapping.line_check
