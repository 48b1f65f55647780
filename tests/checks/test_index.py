"""The list of checks, their pages and their limits."""

from __future__ import annotations

import ast
import math
import subprocess
import sys
from pathlib import Path

import pytest

import replay.checks
from replay.checks import CHECKS, LIMITS, default_limits, explain, find_all, limits_of
from replay.checks.__main__ import manual
from replay.checks.shared.page import SECTIONS, sections, summary
from replay.errors import CallError, PatchError
from tests.checks.factory import Session

ROOT = Path(replay.checks.__file__).parents[2]
OF_THE_TRADE = [
    "unreadable", "truncated", "empty-file", "not-a-number", "segment-missing", "track-clash", "rate-mismatch",
    "still-recording", "old-take", "depth-mismatch", "channel-count", "length-mismatch", "no-track", "extra-track",
    "not-recorded", "return-mismatch", "shared-socket", "unfed-channel", "clipped", "over-full-scale", "input-over",
    "bus-over", "hot", "low", "silent", "noise-only", "cuts-out", "one-side-dead", "track-order", "unexpected-signal",
    "swapped", "shifted", "moved-block", "name-mismatch", "duplicate", "unlikely-source", "polarity", "time-offset",
    "crackle", "rf-mute", "ringing", "not-raw", "hum", "buzz", "thump", "noise", "dc-offset", "gain-moved",
    "wrong-speed",
    "click", "clock-slip", "dropout", "flat-topped",
    "stale-confirmation", "unread-confirmation", "wrong-by-ear", "wrong-return",
]  # fmt: skip


def test_every_module_of_the_folder_is_a_check_and_listed():
    modules = {path.stem for path in (ROOT / "replay" / "checks").glob("[!_]*.py")}
    listed = {check.CODE.replace("-", "_") for check in CHECKS}
    missing = sorted(modules - listed)
    assert not missing, f"import and list {missing} in CHECKS of replay/checks/__init__.py; helpers go to shared/"
    assert len(CHECKS) == len(listed) == len(modules), "a check's CODE is its module's name, with dashes"


def test_every_code_is_stated_here():
    """Programs go by the codes: none changes or goes unnoticed."""
    codes = {check.CODE for check in CHECKS}
    new = sorted(codes - set(OF_THE_TRADE))
    assert not new, f"state {new} in OF_THE_TRADE above"
    assert sorted(codes) == sorted(OF_THE_TRADE)


def test_every_check_has_a_test():
    """That it speaks where it must, and keeps quiet elsewhere, cannot be told from here; that a test asks it can."""
    asked = set()
    for path in (ROOT / "tests").rglob("test_*.py"):
        if path == Path(__file__) or path.name == "test_settle.py":
            continue
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ImportFrom) and node.module == "replay.checks":
                asked |= {alias.name.replace("_", "-") for alias in node.names}
            elif isinstance(node, ast.Constant):
                asked.add(str(node.value))
    assert sorted({check.CODE for check in CHECKS} - asked) == [], "a test in tests/checks asks each of them"


@pytest.mark.parametrize("check", CHECKS, ids=[check.CODE for check in CHECKS])
class TestEveryCheck:
    def test_has_a_whole_page(self, check):
        assert tuple(sections(check)) == SECTIONS
        assert all(sections(check).values())
        assert summary(check).endswith((".", "?"))
        assert check.TITLE
        assert not check.TITLE.endswith(".")

    def test_is_explained(self, check):
        page = explain(check.CODE)
        assert page.startswith(f"{check.CODE}: {check.TITLE}\n\n{summary(check)}\n\nWhat it is\n    ")
        for name, limit in check.LIMITS.items():
            assert f"{name} = {limit.default:g}  # {limit.what}, in {limit.unit}" in page

    def test_is_quiet_on_the_good_session(self, check):
        assert list(check.check(Session().show())) == []


def test_the_nearest_code_is_offered():
    with pytest.raises(CallError, match=r"^there is no finding 'cliped' \(did you mean 'clipped'\?\)$"):
        explain("cliped")


def test_where_none_is_near_all_are_named():
    with pytest.raises(CallError, match=r"^there is no finding 'xyzzy' \(known are: unreadable, truncated, "):
        explain("xyzzy")


def test_no_limit_belongs_to_two_checks():
    names = [name for check in CHECKS for name in check.LIMITS]
    assert len(names) == len(set(names))


def test_the_limits_are_those_of_common_practice():
    assert default_limits() == {
        "crackle_bursts": 6,
        "dc_offset_note": -60,
        "dc_offset_warning": -40,
        "gain_moved_db": 3,
        "buzz_below_played": 66,
        "buzz_level": -84,
        "hum_below_played": 50,
        "hum_level": -78,
        "noise_closer": 15,
        "noise_distance": 50,
        "not_raw_rests": 4,
        "rf_mute_times": 2,
        "ringing_rise": 10,
        "thump_below_played": 6,
        "length_mismatch_s": 1,
        "old_take_hours": 36,
        "noise_only_active_s": 1,
        "noise_only_peak": -45,
        "noise_only_bleed": -20,
        "noise_only_spread": 6,
        "cuts_out_s": 3,
        "cuts_out_drop": 8,
        "one_side_dead_drop": 25,
        "one_side_low_drop": 9,
        "clipped_runs": 3,
        "clipped_ms": 0.5,
        "input_over_above": 0,
        "hot_above": -1,
        "low_below": -24,
        "low_active_s": 2,
        "duplicate_residual": -40,
        "click_ratio": 10,
        "click_least": -60,
        "click_many": 2,
        "clock_slip_many": 3,
        "clock_slip_tracks": 8,
        "dropout_many": 5,
        "dropout_s": 1,
        "dropout_rest_ms": 10,
        "flat_topped_times": 4,
        "polarity_lag_ms": 2.5,
        "time_offset_ms": 1,
    }


def test_a_patch_overrides_some():
    limits = limits_of({"hot_above": -3, "clipped_runs": 1})
    assert limits == {**default_limits(), "hot_above": -3.0, "clipped_runs": 1.0}


@pytest.mark.parametrize("name", LIMITS)
def test_every_default_makes_sense_itself(name):
    assert limits_of({name: LIMITS[name].default}) == default_limits()


@pytest.mark.parametrize(
    ("written", "message"),
    [
        ({"hot_abov": -3}, "patch.toml, limits.hot_abov: there is no limit 'hot_abov' (did you mean 'hot_above'?)"),
        ({"clipped_runs": 0}, "patch.toml, limits.clipped_runs: 0 runs makes no sense here (it is at least 1)"),
        ({"clipped_ms": -1}, "patch.toml, limits.clipped_ms: -1 milliseconds makes no sense here (it is at least 0)"),
        ({"hot_above": 90}, "patch.toml, limits.hot_above: 90 dBTP makes no sense here (it lies between -40 and 20)"),
        (
            {"hot_above": "loud"},
            "patch.toml, limits.hot_above: 'loud' is not a number (an expected show peak above this is told; in dBTP)",
        ),
        (
            {"clipped_runs": True},
            "patch.toml, limits.clipped_runs: True is not a number (from so many runs on it is a fault; in runs)",
        ),
        (
            {"clipped_runs": math.nan},
            "patch.toml, limits.clipped_runs: nan is not a number (from so many runs on it is a fault; in runs)",
        ),
    ],
)
def test_refused_limits(written, message):
    with pytest.raises(PatchError) as refused:
        limits_of(written, "patch.toml")
    assert str(refused.value) == message


def test_all_refused_limits_are_told_at_once():
    with pytest.raises(PatchError) as refused:
        limits_of({"nonsense": 1, "clipped_runs": 0, "hot_above": -2})
    assert [problem.place.key for problem in refused.value.problems] == ["limits.nonsense", "limits.clipped_runs"]


def test_find_all_keeps_the_order_of_the_list():
    session = Session()
    session.age_h = 100
    session.silence(7)
    session.tracks[6].played = 0.0
    assert [finding.code for finding in find_all(session.show())] == ["old-take", "silent", "hot"]


def test_the_committed_manual_is_current():
    current = (ROOT / "docs" / "findings.md").read_text(encoding="utf-8") == manual()
    assert current, "make it anew: python -m replay.checks > docs/findings.md"


def test_the_command_prints_the_manual():
    run = subprocess.run([sys.executable, "-m", "replay.checks"], capture_output=True, cwd=ROOT, check=True)
    assert run.stdout.decode("utf-8") == manual()


def test_the_manual_has_every_code_in_its_table():
    for check in CHECKS:
        assert f"| [{check.CODE}](#{check.CODE}) | {check.TITLE} |" in manual()


def test_checks_load_no_heavy_package():
    """`explain` and a kept `check` must answer at once."""
    heavy = ("scipy", "numba", "soundfile", "pyloudnorm")
    code = f"import sys, replay.checks; print([m for m in {heavy} if m in sys.modules])"
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, cwd=ROOT, check=True)
    assert run.stdout.strip() == "[]"
