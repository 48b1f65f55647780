"""One side of a pair is far below the other.

What it is
    Two channels are declared a stereo or spaced pair, and one of them hardly sounds while the other does.

Why it matters before a show
    The picture leans to one side, and the fault hides behind the side that works.

How it is told
    100 ms levels of both tracks, wherever the louder side is active (within 20 dB of its loud moments); the median
    difference, and the difference of their loud moments, is 25 dB or more. A warning, likely.

What can fool it
    A stereo source that was played hard to one side all the time.

What to do
    Check cable, microphone or output of the weak side.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np

from replay.checks.shared import words
from replay.checks.shared.history import hop_levels
from replay.checks.shared.limit import Limit
from replay.checks.shared.place import channel_name, of_channels, source_name
from replay.desk.model import ChannelView, Show
from replay.findings.finding import Finding

CODE = "one-side-dead"
TITLE = "one side of a pair is dead"
LIMITS: Mapping[str, Limit] = {
    "one_side_dead_drop": Limit(25.0, "dB", "a side that is so much below its partner is told", least=6, most=120),
}

ACTIVE_WITHIN = 20.0
LEAST_HOPS = 20
LEAST_LEVEL = -70.0
"""Where the louder side is no louder than this, neither side holds anything to compare."""


def check(show: Show) -> Iterator[Finding]:
    views = {view.channel.number: view for view in show.channels}
    for pair in show.pairs:
        if pair.pairing not in ("stereo", "spaced") or not {pair.left, pair.right} <= views.keys():
            continue
        found = _difference(views[pair.left], views[pair.right])
        if found is None or abs(found) < show.limit("one_side_dead_drop"):
            continue
        weak, strong = (views[pair.right], views[pair.left]) if found > 0 else (views[pair.left], views[pair.right])
        if weak.channel.use == "off" or weak.track is None or weak.track.all_zero:
            continue
        yield Finding(
            code=CODE,
            severity="warning",
            confidence="likely",
            message=f"{words.plain(abs(found))} dB below its other side, channel {channel_name(strong)}, "
            "while that one plays.",
            action=f"Check cable and source at {source_name(weak)}, then record again.",
            amount=round(abs(found), 1),
            unit="dB",
            **of_channels(show, [weak.channel.number]),
        )


def _difference(left: ChannelView, right: ChannelView) -> float | None:
    """Median level of left less right in dB over the moments in which the louder side is active; None: not told."""
    if left.track is None or right.track is None or left.track.track.number == right.track.track.number:
        return None
    a = hop_levels(left.track.measurement, keep_zeros=True)
    b = hop_levels(right.track.measurement, keep_zeros=True)
    hops = min(a.size, b.size)
    a, b = a[:hops], b[:hops]
    both = np.isfinite(a) & np.isfinite(b)
    a, b = a[both], b[both]
    if a.size < LEAST_HOPS:
        return None
    # A side that is loud now and then is not dead: its loud moments must be as far below as the median is.
    loud_a, loud_b = (float(np.percentile(side, 95)) for side in (a, b))
    if max(loud_a, loud_b) < LEAST_LEVEL:
        return None
    louder = np.maximum(a, b)
    active = louder >= max(loud_a, loud_b) - ACTIVE_WITHIN
    if active.sum() < LEAST_HOPS:
        return None
    median, loud = float(np.median((a - b)[active])), loud_a - loud_b
    return min(median, loud, key=abs) if median * loud > 0 else 0.0
