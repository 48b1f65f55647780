"""Skips with a reason where a machine lacks a program or package; failures instead where everything must run.

`.ci/run` sets REPLAY_NO_SKIPS=1: there, what is missing is a defect of the machine's set-up and not a reason to skip.
"""

from __future__ import annotations

import importlib.util
import os
import shutil
from pathlib import Path

import pytest


def missing(what: str) -> None:
    """Skip the test for want of something, or fail where everything must run."""
    if os.environ.get("REPLAY_NO_SKIPS") == "1":
        pytest.fail(f"{what} is missing, and skips are failures here")
    pytest.skip(f"needs {what}, which this machine does not have")


def need(*programs: str) -> None:
    """Skip the test unless all programs are on the path."""
    for program in programs:
        if shutil.which(program) is None:
            missing(program)


def need_package(*names: str) -> None:
    """Skip the test unless all Python packages can be imported."""
    for name in names:
        if importlib.util.find_spec(name) is None:
            missing(f"the Python package {name}")


def need_path(path: Path, what: str) -> Path:
    """The path, or skip the test where it does not exist."""
    if not path.exists():
        missing(what)
    return path
