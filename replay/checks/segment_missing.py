"""A piece of a track is missing between two others.

What it is
    Recorders split long tracks into segment files. One of them is not there, or its start time leaves a hole.

Why it matters before a show
    The channel goes silent in the hole, and in some players everything after the hole comes too early.

How it is told
    By gaps in the numbers of the segments and in their start times, or by other tracks that have a segment there.
    A fault, certain. The finding says where the hole begins and how long it is.

What can fool it
    Files of two takes in one folder; segments that were renamed by hand.

What to do
    Find the missing segment on the recorder's medium and put it beside the others.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from replay.checks.shared.files import from_troubles
from replay.checks.shared.limit import Limit
from replay.desk.model import Show
from replay.findings.finding import Finding

CODE = "segment-missing"
TITLE = "a piece of a track is missing"
LIMITS: Mapping[str, Limit] = {}

ACTION = "Find the missing segment on the recorder's medium and put it beside the others."


def check(show: Show) -> Iterator[Finding]:
    yield from from_troubles(show, CODE, "fault", ACTION)
