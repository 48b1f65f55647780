"""Two files claim to be the same track.

What it is
    The names or the metadata of two files give one track number, at the same time of the take.

Why it matters before a show
    Only one of them can come back on the channel, and nobody knows which one the player takes.

How it is told
    By the track numbers in names and metadata. A fault, certain.

What can fool it
    A copy or an edit ("Kick (2).wav") beside the original; two takes in one folder.

What to do
    Move the file that does not belong out of the folder, or say in the patch under `[take.tracks]` which file is on
    which slot.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from replay.checks.shared.files import from_troubles
from replay.checks.shared.limit import Limit
from replay.desk.model import Show
from replay.findings.finding import Finding

CODE = "track-clash"
TITLE = "two files claim one track"
LIMITS: Mapping[str, Limit] = {}

ACTION = "Move the file that does not belong out of the folder, or place the files by name under [take.tracks]."


def check(show: Show) -> Iterator[Finding]:
    yield from from_troubles(show, CODE, "fault", ACTION)
