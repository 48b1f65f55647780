"""Two takes of one show."""

from __future__ import annotations

from replay.compare.options import Options
from replay.errors import CallError


def compare(first: str, second: str, options: Options) -> int:
    """Say what changed from one take to the other."""
    raise CallError("two takes cannot be compared yet")
