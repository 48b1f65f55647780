"""Two patches at a changeover."""

from __future__ import annotations

from replay.compare.options import Options
from replay.errors import CallError


def compare(first: str, second: str, options: Options) -> int:
    """Say what changes from one patch to the other."""
    raise CallError("two patches cannot be compared yet")
