"""Some tracks have another word length than the others.

What it is
    Most files of the take have, say, 24 bits, some have 16 or 32.

Why it matters before a show
    It plays all the same, but files of another kind often come from another recording, and some players refuse a mix.

How it is told
    By the headers. A note, certain.

What can fool it
    Nothing that matters: the container's word length is compared, not the one that the samples really use.

What to do
    See whether these files belong to this take; set all tracks alike on the recorder next time.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from replay.checks.shared.files import from_troubles
from replay.checks.shared.limit import Limit
from replay.desk.model import Show
from replay.findings.finding import Finding

CODE = "depth-mismatch"
TITLE = "word lengths differ"
LIMITS: Mapping[str, Limit] = {}

ACTION = "See whether these files belong to this take, and set all tracks alike on the recorder next time."


def check(show: Show) -> Iterator[Finding]:
    yield from from_troubles(show, CODE, "note", ACTION)
