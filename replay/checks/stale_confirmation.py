"""Answers of `replay confirm` that do not hold any more: the take or the patch has changed since.

What it is
    `confirmed.csv` in the show's folder holds answers about this take as it was, or about channels as they were.

Why it matters before a show
    What was signed off by ear is not what would be played now, so these channels count as not confirmed.

How it is told
    Every answer is kept with a fingerprint of the take (places and lengths of all tracks, and bytes from all parts of
    every file), of its own track, and with the channel's name and track number. One note, certain, for all such
    answers. Answers about another take hold for that one and are not told, and neither are channels that were answered
    anew.

What can fool it
    Other names or comments written into the files change their bytes, and a channel that is only called otherwise may
    be the same source. A change of some samples in the middle of a long file may be missed.

What to do
    Call `replay confirm` again: it asks about these channels only.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from replay.checks.shared import by_ear, words
from replay.checks.shared.limit import Limit
from replay.checks.shared.place import of_channels
from replay.desk.model import Show
from replay.ear import CHANGED, GONE, MOVED, RENAMED, Stale
from replay.findings.finding import Finding
from replay.text import ranges

CODE = "stale-confirmation"
TITLE = "confirmed before something changed"
LIMITS: Mapping[str, Limit] = {}


def check(show: Show) -> Iterator[Finding]:
    stale = show.ear.stale
    if not stale:
        return
    numbers = [one.answer.channel for one in stale]
    there = {view.channel.number for view in show.channels}
    told = words.count(len(stale), "answer")
    given = by_ear.on(one.answer for one in stale)
    one = len(stale) == 1
    yield Finding(
        code=CODE,
        severity="note",
        confidence="certain",
        message=f"{told} by ear (channel{'' if one else 's'} {ranges(numbers)}{', last ' + given if given else ''}) "
        f"count{'s' if one else ''} no more: {words.listed(_changes(show, stale), most=5)}.",
        action=f"Confirm {'it' if one else 'them'} again: replay confirm asks about {'it' if one else 'them'} only.",
        amount=float(len(stale)),
        unit="answers",
        **of_channels(show, [number for number in numbers if number in there]),
    )


def _changes(show: Show, stale: Sequence[Stale]) -> list[str]:
    """What has changed, one clause each."""
    said = []
    changed = [one for one in stale if one.why == CHANGED]
    if changed:
        numbers = sorted({number for one in changed if (number := one.answer.track) is not None and not one.same_track})
        lost = [number for number in numbers if show.take.track(number) is None]
        other = [number for number in numbers if number not in lost]
        if lost:
            said.append(f"the take has no track{_s(lost)} {ranges(lost)} any more")
        if other:
            said.append(f"track{_s(other)} {ranges(other)} {'holds' if len(other) == 1 else 'hold'} something else now")
        if any(one.answer.track is None for one in changed):
            said.append("the take is not what it was")
        elif not numbers:
            said.append("other tracks of the take have changed, come or gone, and theirs are as they were")
    moved = [one.answer.channel for one in stale if one.why == MOVED]
    if moved:
        several = len(moved) > 1
        tracks = "other tracks" if several else "another track"
        said.append(f"by the patch channel{_s(moved)} {ranges(moved)} come{'' if several else 's'} from {tracks} now")
    renamed = [one.answer.channel for one in stale if one.why == RENAMED]
    if renamed:
        several = len(renamed) > 1
        names = "other names" if several else "another name"
        said.append(f"channel{_s(renamed)} {ranges(renamed)} {'have' if several else 'has'} {names} in the patch")
    gone = [one.answer.channel for one in stale if one.why == GONE]
    if gone:
        said.append(f"the patch has no channel{_s(gone)} {ranges(gone)} any more")
    return said


def _s(numbers: Sequence[int]) -> str:
    return "" if len(numbers) == 1 else "s"
