"""The bench's arithmetic, tables and plan. What it measures passes or fails nothing."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from tests.bench.figures import (
    BEGIN,
    COST_HEAD,
    END,
    Cost,
    cost_row,
    markdown,
    middle,
    ns_a_sample,
    number,
    splice,
    write_into,
)
from tests.bench.plan import FULL, QUICK, Plan, Spec
from tests.bench.running import MAXRSS_UNIT, FailedError, repeated, run
from tests.bench.tools import NAMES, TOOLS


def test_ns_a_sample():
    # 56 tracks of five minutes at 48 kHz are 806.4 million samples.
    assert FULL.main_samples == 806_400_000
    assert ns_a_sample(4.032, FULL.main_samples) == pytest.approx(5.0)


def test_the_cost_without_a_fixed_one():
    assert Cost(5.0, 3.0, 7).without(Cost(1.5, 1.0, 9)) == Cost(3.5, 2.0, 7)
    assert Cost(1.0, 1.0, 7).without(Cost(1.5, 0.5, 9)) == Cost(0.0, 0.5, 7)


def test_modules_are_kept_compiled_as_installed_ones_are(monkeypatch):
    monkeypatch.setenv("PYTHONDONTWRITEBYTECODE", "1")
    run([[sys.executable, "-c", "import sys; sys.exit(sys.dont_write_bytecode)"]])


def test_the_run_in_the_middle_by_the_clock():
    runs = [Cost(9, 3.0, 0), Cost(5, 1.0, 0), Cost(7, 2.0, 0)]
    assert middle(runs) == runs[2]
    assert middle(runs[:2]) == runs[1]


@pytest.mark.parametrize(
    ("value", "shown"), [(None, "–"), (0.0, "0.00"), (1.234, "1.23"), (12.34, "12.3"), (123.4, "123"), (-0.5, "-0.50")]
)
def test_numbers_in_tables(value, shown):
    assert number(value) == shown


def test_a_table():
    assert markdown(("", "CPU s"), [["a tool", "1.5"], ["b", "100"]]) == (
        "|        | CPU s |\n| ------ | ----: |\n| a tool |   1.5 |\n| b      |   100 |\n"
    )
    with pytest.raises(ValueError, match=r"^3 cells under 2 heads: \['a', 'b', 'c'\]$"):
        markdown(("", "x"), [["a", "b", "c"]])


def test_a_row_of_costs():
    yardstick = Cost(40.0, 20.0, 0)
    row = cost_row("x", Cost(4.0, 2.0, 250_000_000), 800_000_000, yardstick)
    assert row == ["x", "4.00", "2.00", "5.00", "2.50", "250", "0.100"]
    assert cost_row("x", Cost(4.0, 2.0, 0), None, yardstick) == ["x", "4.00", "2.00", "–", "–", "0", "–"]
    assert len(row) == len(COST_HEAD)


def test_a_page_gets_its_figures_between_the_markers():
    page = f"before\n{BEGIN}\nold\n{END}\nafter\n"
    new = splice(page, "\nnew\n")
    assert new == f"before\n{BEGIN}\n\nnew\n\n{END}\nafter\n"
    assert splice(new, "new") == new


@pytest.mark.parametrize("page", ["", BEGIN, f"{END} {BEGIN}", f"{BEGIN}{BEGIN}{END}"])
def test_a_page_without_its_markers_is_refused(tmp_path, page):
    (tmp_path / "page.md").write_text(page)
    with pytest.raises(ValueError, match=r"^the page needs one line <!-- figures: begin --> and, behind it, one line"):
        write_into(tmp_path / "page.md", "new")
    assert (tmp_path / "page.md").read_text() == page


def test_the_page_on_speed_has_its_markers():
    page = (Path(__file__).resolve().parents[2] / "docs" / "speed.md").read_text(encoding="utf-8")
    assert splice(page, "x") != page


@pytest.mark.parametrize("plan", [FULL, QUICK], ids=["full", "quick"])
def test_plans_hold_what_they_promise(plan: Plan):
    names = [spec.name for spec in plan.specs]
    assert len(set(names)) == len(names)
    assert set(plan.growing) <= set(names)
    for place, spec in enumerate(plan.specs):
        # RIFF's sizes end at 4 GiB, and links follow what they point to.
        in_one_file = spec.tracks if spec.form == "polyphonic" else 1
        assert round(spec.minutes * 60 * 48000) * in_one_file * 3 < 2**32
        assert spec.form in ("mono", "polyphonic") or spec.form[3:] in names[:place]
        assert spec.real <= min(spec.tracks, 56)
        assert set(spec.used_by) <= set(NAMES)
        assert len(spec.words.split(":")) == 5
    assert {line.name for line in TOOLS} <= set(NAMES)


def test_the_full_plan_stays_under_20_gb_of_disk_and_asks_what_was_promised():
    assert sum(spec.bytes for spec in FULL.specs) < 20e9
    sizes = {(spec.minutes, spec.tracks) for spec in FULL.specs if spec.name in FULL.growing}
    assert {minutes for minutes, _ in sizes} >= {1, 5, 20, 60}
    assert {tracks for _, tracks in sizes} >= {8, 32, 56, 128}


def test_a_spec_is_read_as_it_is_written():
    from tests.bench.shows import Spec as Read

    spec = Spec("second", 1 / 60, 56, 56, "mono", ())
    read = Read.read(spec.words)
    assert (read.name, read.minutes, read.tracks, read.real, read.form) == ("second", 1 / 60, 56, 56, "mono")


def python(program: str) -> list[str]:
    return [sys.executable, "-S", "-c", program]


def test_a_command_s_cost_is_its_own():
    # Half a second of processor time, asked of the system itself, and 100 MB that are really touched.
    busy = "import time\nwhile time.process_time() < 0.5: pass\nx = bytearray(b'x' * 100_000_000)"
    cost = run([python(busy)])
    assert 0.5 <= cost.cpu_s < 30
    assert cost.wall_s >= 0.5
    assert cost.peak_bytes > 100_000_000
    assert MAXRSS_UNIT in (1, 1024)


def test_commands_side_by_side_add_up():
    once = run([python("x = bytearray(b'x' * 50_000_000)")])
    twice = run([python("x = bytearray(b'x' * 50_000_000)")] * 4, side_by_side=2)
    assert twice.peak_bytes > 1.8 * once.peak_bytes
    assert twice.peak_bytes < 2.6 * once.peak_bytes


def test_a_command_that_fails_is_told_with_what_it_said():
    with pytest.raises(FailedError, match=r"ended with 3:\n.*no such thing"):
        run([python("import sys; print('no such thing', file=sys.stderr); sys.exit(3)")])
    run([python("raise SystemExit(1)")], statuses=(0, 1))


def test_what_is_quick_is_run_three_times():
    costs = iter([Cost(1, 3.0, 0), Cost(1, 1.0, 0), Cost(1, 2.0, 0), Cost(1, 16.0, 0), Cost(1, 9.0, 0)])
    assert repeated(lambda: next(costs), again=True).wall_s == 2.0
    assert repeated(lambda: next(costs), again=True).wall_s == 16.0
    assert repeated(lambda: next(costs), again=False).wall_s == 9.0
