"""One side of a pair hears the source later than the other.

What it is
    A delay between two channels on one source: more way through the air, or more through processors and converters.

Why it matters before a show
    Added together they form a comb: the first null lies at half the inverse of the delay (1 ms: 500 Hz).

How it is told
    The peak of the correlation of both tracks, in moments when they sound. A note, with the distance that explains it
    (343 m/s at 20 degrees). Spaced pairs are meant to be apart and are told from 10 ms on.

What can fool it
    Periodic sounds agree at several delays; sides that have little in common are not judged.

What to do
    Delay the earlier channel, or move a microphone, if the two are ever heard together.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from replay.checks.shared import words
from replay.checks.shared.limit import Limit
from replay.checks.shared.pair_sound import compared
from replay.checks.shared.place import channel_name, of_channels
from replay.desk.model import Show
from replay.findings.finding import Finding

CODE = "time-offset"
TITLE = "one side of a pair comes later"
LIMITS: Mapping[str, Limit] = {
    "time_offset_ms": Limit(1.0, "ms", "from this delay on a pair on one source is told", 0.05, 30.0),
}

SPACED_MS = 10.0
SPEED_OF_SOUND = 343.2
"""m/s at 20 degrees, ISO 9613-1."""


def check(show: Show) -> Iterator[Finding]:
    for pair in compared(show):
        late = abs(pair.lag_s) * 1000
        least = (
            max(SPACED_MS, show.limit("time_offset_ms")) if pair.pairing == "spaced" else show.limit("time_offset_ms")
        )
        if not pair.sure or late < least:
            continue
        later, earlier = (pair.right, pair.left) if pair.lag_s > 0 else (pair.left, pair.right)
        yield Finding(
            code=CODE,
            severity="note",
            confidence="likely",
            message=f"{channel_name(later)} comes {words.plain(late)} ms after {channel_name(earlier)}, as if "
            f"{words.plain(late / 1000 * SPEED_OF_SOUND)} m further away.",
            action=f"Delay {channel_name(earlier)} by {words.plain(late)} ms if the two are heard together.",
            amount=round(late, 2),
            unit="ms",
            **of_channels(show, [pair.left.channel.number, pair.right.channel.number]),
        )
