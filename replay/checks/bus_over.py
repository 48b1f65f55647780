"""A bus goes over its ceiling.

What it is
    The sum of the channels, at the levels that the input list gives, peaks higher than the bus may.

Why it matters before a show
    The bus clips or works its limiter, although every channel in it looks right.

How it is told
    The channels are added as the desk would add them, sample by sample, over the part that is judged; the true peak
    of the sum is held against the bus's `ceiling`. A warning, only for buses with levels. Certain for these levels.

What can fool it
    Levels in the list that nobody uses; panning and processing on the desk, which are not modeled.

What to do
    Pull the bus or the loudest levels in it down by what is too much.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping

from replay.checks.shared import words
from replay.checks.shared.limit import Limit
from replay.checks.shared.place import channel_name, nowhere
from replay.desk.model import Show
from replay.findings.finding import Finding
from replay.text import harmless

CODE = "bus-over"
TITLE = "a bus over its ceiling"
LIMITS: Mapping[str, Limit] = {}


def check(show: Show) -> Iterator[Finding]:
    for view in show.buses:
        peak = view.true_peak_dbtp
        if peak is None or not view.channels or peak <= view.bus.ceiling:
            continue
        over = peak - view.bus.ceiling
        name = harmless(view.bus.name, 60)
        when = "" if view.true_peak_s is None else f" {words.at(view.true_peak_s)}"
        loudest = words.listed([channel_name(show.view(number)) for number in view.loudest], most=4)
        whose = f"; loudest in it: {loudest}" if loudest else ""
        less = words.plain(math.ceil(round(over * 10, 6)) / 10)
        yield Finding(
            code=CODE,
            severity="warning",
            confidence="certain",
            message=f"The bus {name} peaks at {words.level(peak)}{when}, {words.plain(over)} dB over its ceiling of "
            f"{view.bus.ceiling:g}{whose}.",
            action=f"Pull {name} down by {less} dB, or the levels that go into it.",
            start_s=view.true_peak_s,
            amount=round(over, 2),
            unit="dB",
            key=words.slug(view.bus.name),
            **nowhere(),
        )
