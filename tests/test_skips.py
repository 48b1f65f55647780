"""Where everything must run, nothing is skipped in silence."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

HERE = Path(__file__).parent.parent

SKIPS = """
import pytest
from tests.need import need

def test_asks():
    need("a-program-that-does-not-exist")

def test_skips_by_itself():
    pytest.skip("tired")

@pytest.mark.skip(reason="marked")
def test_is_marked():
    pass

@pytest.mark.xfail(strict=True)
def test_is_expected_to_fail():
    assert False
"""
MODULE = "import pytest\npytest.skip('the whole file', allow_module_level=True)\n"


def run(folder: Path, forbidden: bool) -> subprocess.CompletedProcess[str]:
    (folder / "test_some.py").write_text(SKIPS)
    (folder / "test_module.py").write_text(MODULE)
    environment = {**os.environ, "REPLAY_NO_SKIPS": "1" if forbidden else "0", "PYTHONPATH": str(HERE)}
    command = [sys.executable, "-m", "pytest", "-q", "-p", "tests.conftest", "-p", "no:cacheprovider"]
    command += ["--continue-on-collection-errors", str(folder)]
    return subprocess.run(command, cwd=folder, env=environment, capture_output=True, text=True, timeout=120)


def test_skips_are_skips_by_default(tmp_path):
    done = run(tmp_path, forbidden=False)
    assert done.returncode == 0, done.stdout
    assert "4 skipped, 1 xfailed" in done.stdout


def test_skips_are_failures_where_they_are_forbidden(tmp_path):
    done = run(tmp_path, forbidden=True)
    assert done.returncode != pytest.ExitCode.OK
    assert "skipped" not in done.stdout.splitlines()[-1]
    assert "a-program-that-does-not-exist is missing" in done.stdout
    assert "skips are failures here (REPLAY_NO_SKIPS=1): " in done.stdout
    for reason in ("tired", "marked", "the whole file"):
        assert reason in done.stdout
