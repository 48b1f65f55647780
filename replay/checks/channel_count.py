"""The take has more or fewer tracks than the patch uses.

What it is
    The number of tracks in the take against the number of slots that the channels of the patch are recorded on or
    come back from.

Why it matters before a show
    It is the quickest sign that a take and a patch do not belong together.

How it is told
    By counting. A note, certain, and only where missing and extra tracks do not tell it better: then it stands with
    them as swallowed.

What can fool it
    A recorder that always writes all of its tracks, armed or not.

What to do
    See whether patch and take are of the same show.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from replay.checks.shared import words
from replay.checks.shared.limit import Limit
from replay.checks.shared.place import nowhere
from replay.desk.model import Show
from replay.findings.finding import Finding
from replay.patch.model import Slot

CODE = "channel-count"
TITLE = "more or fewer tracks than the patch uses"
LIMITS: Mapping[str, Limit] = {}


def check(show: Show) -> Iterator[Finding]:
    used = {slot for route in show.routes.routes for slot in route.slots}
    used |= {route.playback for route in show.routes.routes if isinstance(route.playback, Slot)}
    tracks = len(show.take.tracks)
    if tracks == len(used):
        return
    yield Finding(
        code=CODE,
        severity="note",
        confidence="certain",
        message=f"The take has {words.count(tracks, 'track')}, the patch uses {words.count(len(used), 'slot')}.",
        action="See whether this patch and this take are of the same show.",
        amount=float(tracks - len(used)),
        unit="tracks",
        **nowhere(),
    )
