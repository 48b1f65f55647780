"""In the show this channel will be too hot.

What it is
    The recording is clean, but the show will be louder, and then the preamp has no room left.

Why it matters before a show
    People play and sing louder in front of an audience. What peaks at -4 in the afternoon clips in the evening.

How it is told
    Played peak (the peak that recurs, in the part that is judged) plus the rise expected for the kind of source gives
    the expected show peak; above -1 dBTP it is told. A warning, likely: the rise is common practice and not measured.
    Not for a take of a line check, for channels that are off, for timecode, nor for players on digital inputs.

What can fool it
    A band that gave everything at the soundcheck; a source of another kind than the input list says.

What to do
    Turn the preamp down as advised and give the channel's trim what was taken.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping

from replay.checks.shared import words
from replay.checks.shared.fed_wrong import GAIN_WAITS
from replay.checks.shared.level_action import rest_of, turn
from replay.checks.shared.limit import Limit
from replay.checks.shared.place import of_channels, source_name
from replay.desk.model import Show
from replay.findings.finding import Finding

CODE = "hot"
TITLE = "too hot for the show"
LIMITS: Mapping[str, Limit] = {
    "hot_above": Limit(-1.0, "dBTP", "an expected show peak above this is told", -40, 20),
}


def check(show: Show) -> Iterator[Finding]:
    if show.patch.take.of == "line-check":
        return
    for view in show.channels:
        expected = view.expected_peak_dbtp
        if view.channel.use == "off" or view.channel.kind == "timecode" or expected is None:
            continue
        if view.channel.kind in ("playback", "click") and view.channel.input == "digital":
            # A player is as loud in the show as now, and there is no preamp that could run out of room.
            continue
        if expected <= show.limit("hot_above"):
            continue
        less = max(math.ceil(round(expected - show.patch.headroom.show_peak, 6)), 1)
        how = turn(view) or f"Turn {source_name(view)} down by {less} dB"
        yield Finding(
            code=CODE,
            severity="warning",
            confidence="likely",
            message=f"Expected to peak at {words.level(expected)} in the show{rest_of(view)}.",
            action=GAIN_WAITS if view.fed_wrong else f"{how}.",
            amount=round(expected, 2),
            unit="dBTP",
            **of_channels(show, [view.channel.number]),
        )
