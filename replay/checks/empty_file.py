"""A file of the take holds no audio at all.

What it is
    A file of zero bytes, or a header with no samples behind it.

Why it matters before a show
    The channel that it should feed stays silent on playback.

How it is told
    By the bytes that are there. A fault, certain. It explains a missing track of the same number.

What can fool it
    A copy that has not begun yet; a recorder that makes its files when it is armed and was never started.

What to do
    Copy the file again from the recorder's medium. If it is empty there, the track was not recorded: record it again.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from replay.checks.shared.files import from_troubles
from replay.checks.shared.limit import Limit
from replay.desk.model import Show
from replay.findings.finding import Finding

CODE = "empty-file"
TITLE = "a file holds no audio"
LIMITS: Mapping[str, Limit] = {}

ACTION = "Copy the file again from the recorder's medium; if it is empty there, record the source again."


def check(show: Show) -> Iterator[Finding]:
    yield from from_troubles(show, CODE, "fault", ACTION)
