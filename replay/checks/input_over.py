"""The channel goes over full scale after its trim, though the recording does not.

What it is
    The digital gain of the channel lifts the track above 0 dBFS at the channel's input.

Why it matters before a show
    What follows in the channel may clip, with a recording that is perfectly good.

How it is told
    True peak of the track in the part that is judged, plus the channel's trim, is above 0 dBTP while the track itself
    is not. A warning, certain.

What can fool it
    Desks that calculate in floating point do not clip there; the next fixed stage does.

What to do
    Pull the trim down by what is too much.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping

from replay.checks.shared import words
from replay.checks.shared.limit import Limit
from replay.checks.shared.place import of_channels
from replay.desk.model import Show
from replay.findings.finding import Finding

CODE = "input-over"
TITLE = "over full scale after the trim"
LIMITS: Mapping[str, Limit] = {
    "input_over_above": Limit(0.0, "dBTP", "a channel that peaks higher after its trim is told", -60, 20),
}


def check(show: Show) -> Iterator[Finding]:
    ceiling = show.limit("input_over_above")
    for view in show.channels:
        if view.input is None or view.recorded is None or view.channel.kind == "timecode":
            continue
        peak, recorded = view.input.true_peak_dbtp, view.recorded.true_peak_dbtp
        if peak is None or recorded is None or peak <= ceiling or recorded > ceiling:
            continue
        over = peak - ceiling
        trim = _lower(view.channel.trim, over, show.patch.desk.trim.step)
        when = "" if view.input.true_peak_s is None else f" {words.at(view.input.true_peak_s)}"
        yield Finding(
            code=CODE,
            severity="warning",
            confidence="certain",
            message=f"Peaks at {words.level(peak)} after its trim of {view.channel.trim:+g} dB{when}; "
            f"the track itself peaks at {words.level(recorded)}.",
            action=f"Pull the trim down to {trim:+g} dB or lower." if trim else "Take the trim out (0 dB).",
            start_s=view.input.true_peak_s,
            amount=round(over, 2),
            unit="dB",
            **of_channels(show, [view.channel.number]),
        )


def _lower(trim: float, over: float, step: float) -> float:
    """The highest setting of the trim that takes `over` dB off, rounded away from full scale."""
    steps = math.ceil(round(over / step, 6))
    return round(trim - steps * step, 6) + 0.0
