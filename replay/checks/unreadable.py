"""A file of the take cannot be read, so its track cannot come back.

What it is
    A file with an audio name that is no audio file, is damaged in its header, is of a kind that nothing here can
    decode, or may not be opened.

Why it matters before a show
    The channel that it should feed stays silent on playback.

How it is told
    The header and the first samples are read by our own reader and, where that does not know the format, by the
    audio file library. A fault, certain. It explains a missing track of the same number.

What can fool it
    A file that is still being copied. Files that have nothing to do with the recording but lie in its folder.

What to do
    Copy the file again from the recorder's medium. Where that fails too, record the source again.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from replay.checks.shared.files import from_troubles
from replay.checks.shared.limit import Limit
from replay.desk.model import Show
from replay.findings.finding import Finding

CODE = "unreadable"
TITLE = "a file cannot be read"
LIMITS: Mapping[str, Limit] = {}

ACTION = "Copy the file again from the recorder's medium; if that fails too, record the source again."


def check(show: Show) -> Iterator[Finding]:
    yield from from_troubles(show, CODE, "fault", ACTION)
