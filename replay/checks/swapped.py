"""Two sources lie on each other's tracks (or two pairs, or three in a ring).

What it is
    What is heard on one channel's track is the source of another channel, and the other way round.

Why it matters before a show
    The engineer would work on the vocal with the guitar's signal, and at the show every setting is on the wrong
    channel.

How it is told
    All evidence together explains an exchange better than the patch as it stands: the order of the line check, what the
    tracks sound like in the moments when they stand out, what they hear of the others, who is silent, which tracks
    belong together, and names. A fault where the line check proves it or two kinds of evidence agree, else a warning.
    Names alone are never enough. What you answered in `replay confirm` counts more than all of it: two channels that
    you said are each other are an exchange, a fault, whatever the sound says; and one that you called right makes what
    the sound says a warning. Where ears and sound disagree, both are told, with the date of your answer.

What can fool it
    Two sources of one kind (two guitars, two voices) sound alike: without a line check their exchange is not seen. A
    line check that jumps about says nothing about single channels. A slip of a finger in `confirm`: `replay confirm
    SHOW 7 --again` asks once more.

What to do
    Exchange the plugs, or correct the input list if the stage is right; then record a few seconds and check again.
    `--corrected FILE` writes an input list with the sources where they were heard.
"""

from __future__ import annotations

from collections.abc import Iterator

from replay.checks.shared.misplaced import LIMITS as LIMITS
from replay.checks.shared.misplaced import finding, places, sources
from replay.desk.model import Show
from replay.findings.finding import Finding

CODE = "swapped"
TITLE = "sources on each other's tracks"


def check(show: Show) -> Iterator[Finding]:
    for one in show.mapping.misplaced:
        if one.shape in ("exchange", "pairs", "cycle"):
            what = {"exchange": "Exchanged", "pairs": "Two pairs exchanged", "cycle": "Exchanged in a ring"}[one.shape]
            yield finding(
                show,
                CODE,
                one,
                f"{what}: the source of {sources(show, one)}",
                f"Listen to them, then exchange the plugs at {places(show, one)}, or correct the input list.",
            )
