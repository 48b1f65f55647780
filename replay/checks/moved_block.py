"""A block of a box landed on another block's slots.

What it is
    Four, eight or sixteen sources in a row lie on the tracks of another row, and these on theirs: two multicores, two
    halves of a box or two feeds exchanged.

Why it matters before a show
    All channels of both blocks play back the wrong sources.

How it is told
    As for an exchange, by all evidence together; the order of the line check shows it at once.

What can fool it
    Blocks of sources of the same kinds in the same order.

What to do
    Exchange the two multicores or the two feeds, or correct the input list. `--corrected FILE` writes one with the
    sources where they were heard.
"""

from __future__ import annotations

from collections.abc import Iterator

from replay.checks.shared.misplaced import LIMITS as LIMITS
from replay.checks.shared.misplaced import finding, span
from replay.desk.model import Show
from replay.findings.finding import Finding
from replay.text import ranges

CODE = "moved-block"
TITLE = "a block of sources on another block's tracks"


def check(show: Show) -> Iterator[Finding]:
    for one in show.mapping.misplaced:
        if one.shape == "block" and one.channels:
            tracks = ranges(sorted(track for track in one.sources.values() if track is not None))
            yield finding(
                show,
                CODE,
                one,
                f"Blocks exchanged: the sources of {span(one)} lie in other blocks of tracks {tracks}",
                "Exchange the two multicores or feeds, or correct the input list or the feeds' slots.",
            )
