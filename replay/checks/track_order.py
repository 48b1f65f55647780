"""The files' names did not settle which track is which.

What it is
    Names without numbers, with several numbers, or metadata that say something else than the names. The order was
    chosen by a rule, and this note says by which.

Why it matters before a show
    If the order is wrong, every channel plays somebody else.

How it is told
    The take says how it numbered the tracks wherever that was not plain. A note, certain.

What can fool it
    Nothing; it is a statement of what was done.

What to do
    Compare two or three tracks by ear or name (`replay routes`); where they are wrong, say under `[take.tracks]` in
    the patch which file is on which slot.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from replay.checks.shared.files import from_troubles
from replay.checks.shared.limit import Limit
from replay.desk.model import Show
from replay.findings.finding import Finding

CODE = "track-order"
TITLE = "track numbers were not plain"
LIMITS: Mapping[str, Limit] = {}

ACTION = (
    "Compare two or three tracks with the input list; if they are wrong, place the files by name under [take.tracks]."
)


def check(show: Show) -> Iterator[Finding]:
    yield from from_troubles(show, CODE, "note", ACTION)
