"""From one channel on, every source lies one track (or two) further on or back.

What it is
    One plug too many or too few: all sources behind it lie beside their channels, up to the end of the box or a spare.

Why it matters before a show
    Every channel behind the first wrong one plays back another's source.

How it is told
    As for an exchange, by all evidence together. A shift leaves the line check in order; it shows in kinds that no
    longer fit, in pairs that moved together, in an empty track at its head and a sounding spare at its end.

What can fool it
    A row of sources of one kind (a choir, a row of horns): nothing in the row gives away where the shift begins. Nor
    does anything say where it ends, if what lies behind a spare may hold anything (playback). Then only the channels
    that moved in any case are told, and beside them those that may have moved too.

What to do
    Look for the first plug that does not fit and move all behind it, or correct the input list or the feed's slots.
    `--corrected FILE` writes an input list with the sources where they were heard.
"""

from __future__ import annotations

from collections.abc import Iterator

from replay.checks.shared.misplaced import LIMITS as LIMITS
from replay.checks.shared.misplaced import finding, span
from replay.checks.shared.place import channel_name, source_name
from replay.desk.model import Show
from replay.findings.finding import Finding
from replay.text import ranges

CODE = "shifted"
TITLE = "sources moved along by one or two tracks"


def check(show: Show) -> Iterator[Finding]:
    for one in show.mapping.misplaced:
        if one.shape != "shift" or not one.channels:
            continue
        first = show.view(min((*one.may_begin, *one.channels)))
        way = f"{abs(one.by)} track{'s' * (abs(one.by) > 1)} {'further on' if one.by > 0 else 'further back'}"
        lost = [n for n, track in one.sources.items() if track is None and show.view(n).channel.use == "must"]
        less = f", and {', '.join(channel_name(show.view(n)) for n in lost[:3])} not recorded" if lost else ""
        also = f", perhaps also those of channels {ranges(sorted(one.perhaps))}" if len(one.perhaps) > 1 else ""
        if len(one.perhaps) == 1:
            also = f", perhaps also that of channel {one.perhaps[0]}"
        yield finding(
            show,
            CODE,
            one,
            f"The sources of {span(one)} lie {way}{also}{less}",
            f"Start at {source_name(first)} (channel {channel_name(first)}) and look for the plug too many or too few; "
            "then move all behind it, or correct the input list.",
        )
