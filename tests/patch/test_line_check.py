"""When the line check was, and in which order it went, as the patch says it."""

from __future__ import annotations

from pathlib import Path

from replay.patch.from_toml import read_patch
from tests.patch.good import Show


def test_times_and_order(tmp_path: Path) -> None:
    show = Show(tmp_path)
    show.write()
    text = (tmp_path / "patch.toml").read_text() + '\n[line_check]\nfrom = "0:10"\nto = "2:05"\norder = "3-5, 1"\n'
    plan = show.read(patch=text.encode()).line_check
    assert plan is not None
    assert (plan.from_s, plan.to_s, plan.order) == (10.0, 125.0, (3, 4, 5, 1))


def test_without_the_table_there_is_none(tmp_path: Path) -> None:
    show = Show(tmp_path)
    show.write()
    assert read_patch(tmp_path).line_check is None


def test_what_is_wrong_is_told(tmp_path: Path) -> None:
    show = Show(tmp_path)
    show.write()
    text = (tmp_path / "patch.toml").read_text() + '\n[line_check]\nfrom = 20\nto = 10\norder = "1, 99, 1"\n'
    told = " / ".join(show.problems(patch=text))
    assert "line_check.from: 0:20 is not before to, 0:10" in told
    assert "line_check.order: has a channel twice" in told
    assert "line_check.order: there is no channel 99 in the input list" in told
