"""One side of a pair is far below the other.

What it is
    Two channels are declared a stereo or spaced pair, and one of them hardly sounds while the other does.

Why it matters before a show
    The picture leans to one side, and the fault hides behind the side that works.

How it is told
    100 ms levels of both tracks, wherever the louder side is active (within 20 dB of its loud moments); the median
    difference, and the difference of their loud moments, is 25 dB or more. A warning, likely. From 9 dB on it is told
    too, where it stays all through the part that is judged: two thirds of the differences lie within 6 dB, 19 in 20
    beyond 6 dB, and the trims do not make up for it. So much does one gain differ, or a pad that was left in (10 to
    20 dB). A warning, likely, from 13 dB on; below that a note, possible.

What can fool it
    A stereo source that was played hard to one side all the time, or whose sound leans to one side by nature; one
    microphone of a pair that stands much nearer.

What to do
    Check cable, microphone or output of the weak side; gain and pad, where it is not dead.
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
TITLE = "one side of a pair is dead or far too low"
LIMITS: Mapping[str, Limit] = {
    "one_side_dead_drop": Limit(25.0, "dB", "a side that is so much below its partner is told", least=6, most=120),
    "one_side_low_drop": Limit(9.0, "dB", "one that stays so much below it is told", least=6, most=120),
}

ACTIVE_WITHIN = 20.0
LEAST_HOPS = 20
LEAST_LEVEL = -70.0
"""Where the louder side is no louder than this, neither side holds anything to compare."""


SURE_DB = 13.0
"""Microphones of which one stands nearer, and sounds that lean to one side, may differ by 10 dB. More is hardly meant:
common practice, no source."""

STEADY_DB = 6.0
"""Two thirds of a pair's differences lie within 4 dB where both sides hear the same, one of them turned down; where
they play by turns, within 12 or more (sampled instruments, the demo's accordion)."""

LEAST_DB = 6.0
"""... and 19 in 20 lie beyond this: where the weak side's own noise makes up for some, too."""

PADS_DB = (10.0, 15.0, 20.0)
PAD_WITHIN_DB = 2.0
"""Pads of microphones, DI boxes and preamps; common practice."""


def check(show: Show) -> Iterator[Finding]:
    views = {view.channel.number: view for view in show.channels}
    for pair in show.pairs:
        if pair.pairing not in ("stereo", "spaced") or not {pair.left, pair.right} <= views.keys():
            continue
        left, right = views[pair.left], views[pair.right]
        found = _difference(left, right)
        dead = found is not None and abs(found) >= show.limit("one_side_dead_drop")
        if not dead:
            found = _stays(show, left, right)
        if found is None or abs(found) < show.limit("one_side_low_drop"):
            continue
        weak, strong = (right, left) if found > 0 else (left, right)
        if weak.channel.use == "off" or weak.track is None or weak.track.all_zero:
            continue
        yield _dead(show, weak, strong, abs(found)) if dead else _low(show, weak, strong, abs(found))


def _dead(show: Show, weak: ChannelView, strong: ChannelView, drop: float) -> Finding:
    return Finding(
        code=CODE,
        severity="warning",
        confidence="likely",
        message=f"{words.plain(drop)} dB below its other side, channel {channel_name(strong)}, while that one plays.",
        action=f"Check cable and source at {source_name(weak)}, then record again.",
        amount=round(drop, 1),
        unit="dB",
        **of_channels(show, [weak.channel.number]),
    )


def _low(show: Show, weak: ChannelView, strong: ChannelView, drop: float) -> Finding:
    sure = drop >= SURE_DB
    text = f"{words.plain(drop)} dB below its other side, channel {channel_name(strong)}, all the time"
    stated = show.patch.box(weak.channel.socket.box).pad if weak.channel.socket is not None else None
    near = [pad for pad in (stated, *PADS_DB) if pad and abs(drop - pad) <= PAD_WITHIN_DB]
    if near and not weak.channel.pad:
        text += f", as a pad of {words.plain(min(near, key=lambda pad: abs(drop - pad)))} dB left in would make it"
    here, there = weak.channel.gain, strong.channel.gain
    if here is not None and there is not None and here != there:
        text += f" (the list has gains of {words.plain(here)} and {words.plain(there)} dB)"
    return Finding(
        code=CODE,
        severity="warning" if sure else "note",
        confidence="likely" if sure else "possible",
        message=f"{text}.",
        action=f"Compare pad and gain of {source_name(weak)} with those of {source_name(strong)}, then the source.",
        amount=round(drop, 1),
        unit="dB",
        key="low",
        **of_channels(show, [weak.channel.number]),
    )


def _difference(left: ChannelView, right: ChannelView) -> float | None:
    """Median level of left less right in dB over the moments in which the louder side is active; None: not told."""
    both = _while_active(left, right, 0, None)
    if both is None:
        return None
    # A side that is loud now and then is not dead: its loud moments must be as far below as the median is.
    differences, loud = both
    median = float(np.median(differences))
    return min(median, loud, key=abs) if median * loud > 0 else 0.0


def _stays(show: Show, left: ChannelView, right: ChannelView) -> float | None:
    """By how much left lies above right all through the part that is judged, in dB, on the tracks and behind the trims;
    None where it does not stay."""
    both = _while_active(left, right, round(10 * show.judged_from_s), round(10 * show.judged_to_s))
    if both is None:
        return None
    differences, loud = both
    least, low, median, high, most = (float(value) for value in np.percentile(differences, [5, 16, 50, 84, 95]))
    nearest = least if median > 0 else -most
    if high - low > STEADY_DB or nearest < LEAST_DB or median * loud <= 0:
        return None
    found = min(median, loud, key=abs)
    behind = found + left.channel.trim - right.channel.trim
    return min(found, behind, key=abs) if found * behind > 0 else 0.0


def _while_active(
    left: ChannelView, right: ChannelView, first: int, last: int | None
) -> tuple[np.ndarray, float] | None:
    """Levels of left less right in dB in the moments in which the louder side is active, and the difference of their
    loud moments, in hops `first` to `last` - 1; None where there are too few."""
    if left.track is None or right.track is None or left.track.track.number == right.track.track.number:
        return None
    a = hop_levels(left.track.measurement, keep_zeros=True)
    b = hop_levels(right.track.measurement, keep_zeros=True)
    hops = min(a.size, b.size)
    a, b = a[:hops][first:last], b[:hops][first:last]
    both = np.isfinite(a) & np.isfinite(b)
    a, b = a[both], b[both]
    if a.size < LEAST_HOPS:
        return None
    loud_a, loud_b = (float(np.percentile(side, 95)) for side in (a, b))
    if max(loud_a, loud_b) < LEAST_LEVEL:
        return None
    active = np.maximum(a, b) >= max(loud_a, loud_b) - ACTIVE_WITHIN
    return ((a - b)[active], loud_a - loud_b) if active.sum() >= LEAST_HOPS else None
