"""The two sides of a pair work against each other.

What it is
    Two channels that hear one source (two microphones, microphone and DI, both sides of a stereo source) have opposite
    polarity at the desk, after the polarity switches of the input list.

Why it matters before a show
    Together they sound thin: the low end is gone, and no equaliser brings it back.

How it is told
    Both tracks are held against each other in moments when they sound: the delay first, then the sign at the peak of
    their correlation, then the channels' polarity switches. A warning where the list states a polarity for one of the
    two, and for a stereo source whose sides are each other's inverse (a correlation of 0.98 or more: in mono little is
    left of it); else a note, as an unflipped lower snare microphone is usual before the desk's switch.

What can fool it
    Two microphones far apart hear more room than source; they are not judged. Neither are sides that have little in
    common.

What to do
    Flip the polarity switch of one of the two channels, or repair the cable that is wired the other way round.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from replay.checks.shared import words
from replay.checks.shared.limit import Limit
from replay.checks.shared.pair_sound import compared
from replay.checks.shared.place import channel_name, of_channels
from replay.desk.model import Show
from replay.findings.finding import Finding

CODE = "polarity"
TITLE = "a pair works against itself"
LIMITS: Mapping[str, Limit] = {
    "polarity_lag_ms": Limit(2.5, "ms", "pairs further apart in time are not judged", 0.0, 30.0),
}

CANCELS = 0.98
"""Sides of one level with so much in common leave 2 (1 - 0.98) of one side's power in mono, 14 dB below it."""


def check(show: Show) -> Iterator[Finding]:
    for pair in compared(show):
        if not pair.sure or not pair.opposed or abs(pair.lag_s) * 1000 > show.limit("polarity_lag_ms"):
            continue
        if pair.pairing == "spaced" and pair.height < 0.7:
            continue
        stated = pair.left.channel.polarity_stated or pair.right.channel.polarity_stated
        cancels = pair.pairing == "stereo" and pair.height >= CANCELS
        yield Finding(
            code=CODE,
            severity="warning" if stated or cancels else "note",
            confidence="likely",
            message=f"Opposite polarity at the desk, after the switches of the input list (a correlation "
            f"of {pair.height:.2f} at {words.plain(abs(pair.lag_s) * 1000)} ms apart).",
            action=f"Flip the polarity of {channel_name(pair.right)} or of {channel_name(pair.left)}, and listen.",
            amount=round(pair.height, 2),
            unit="correlation",
            **of_channels(show, [pair.left.channel.number, pair.right.channel.number]),
        )
