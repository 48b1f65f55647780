"""The take is still being written; it was measured up to now.

What it is
    Files that grew while they were read, or whose header is not finished as it is while a recorder runs.

Why it matters before a show
    What comes after this moment has not been looked at.

How it is told
    By the size of the files before and after reading, and by lengths in headers that are not written yet. A note,
    certain, one for the whole take. Lengths that differ by less than a second are explained by it.

What can fool it
    A copy under way. A recorder that lost its power leaves unfinished headers too; the files then no longer grow.

What to do
    Stop the recorder and check again.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from replay.checks.shared.files import from_troubles
from replay.checks.shared.limit import Limit
from replay.desk.model import Show
from replay.findings.finding import Finding

CODE = "still-recording"
TITLE = "the take is still being recorded"
LIMITS: Mapping[str, Limit] = {}

ACTION = "Stop the recorder, then check again."


def check(show: Show) -> Iterator[Finding]:
    yield from from_troubles(show, CODE, "note", ACTION, together=lambda trouble: None)
