"""A file is shorter than its header says: the rest is lost.

What it is
    The header promises more audio than the file holds, as after a power cut, a full medium or a copy that broke off.

Why it matters before a show
    Playback stops early on that channel, or the player refuses the file.

How it is told
    The length in the header is compared with the bytes that are there. A fault, certain. What is there is measured;
    the finding says how many seconds are missing. Several files cut short by the same time are told once.

What can fool it
    Recorders that write the length only when they stop: a length of 0, or the greatest possible one, is not taken as
    a promise.

What to do
    Copy the file again. If it is as short on the recorder's medium, what is lost must be recorded again.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from replay.checks.shared.files import from_troubles
from replay.checks.shared.limit import Limit
from replay.desk.model import Show
from replay.findings.finding import Finding
from replay.take.model import FileTrouble

CODE = "truncated"
TITLE = "a file is cut short"
LIMITS: Mapping[str, Limit] = {}

ACTION = "Copy the file again from the recorder's medium; what is lost there must be recorded again."


def check(show: Show) -> Iterator[Finding]:
    yield from from_troubles(show, CODE, "fault", ACTION, together=_lost)


def _lost(trouble: FileTrouble) -> object:
    """A power cut takes the same time from every file."""
    return trouble.detail if trouble.lost_s is None else round(trouble.lost_s, 1)
