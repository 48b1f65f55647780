"""The clock or the link slips: many tracks break at the same samples.

What it is
    Samples are dropped or repeated on many tracks at once, because two devices do not run on one clock or a link loses
    data.

Why it matters before a show
    The same clock and link carry the show. The recording clicks wherever it happened, on every track, and no gain or
    cable at a socket is the cause.

How it is told
    Breaks of single samples (far weaker ones than count as clicks) that lie within one sample of each other on three or
    more sources; both sides of a pair count as one source, and so do all tracks of a player. Where there are so many
    breaks that chance would bring three together, more are asked for; where they come in trains, as the waves of a
    brass note do, eight. Loud bright sounds hide a slip, so the tracks named are those on which it shows. A warning, or
    a fault from three instants or eight tracks on. Likely.

What can fool it
    One sound recorded on several tracks without any delay, such as several outputs of one instrument.

What to do
    See that there is one clock master and that all else follows it; then check the link's cable and its receiver.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np

from replay.checks import breaks, words
from replay.checks.finding import Finding
from replay.checks.limit import Limit
from replay.checks.place import of_tracks
from replay.desk.model import Show
from replay.text import clock, ranges

CODE = "clock-slip"
TITLE = "the clock or the link slips"
LIMITS: Mapping[str, Limit] = {
    "clock_slip_many": Limit(3, "instants", "from so many on it is a fault", least=1),
    "clock_slip_tracks": Limit(8, "tracks", "on so many tracks one instant is a fault", least=3),
}

EVEN = 0.2
"""Spread of the intervals over their mean up to which instants come evenly."""


def check(show: Show) -> Iterator[Finding]:
    slips = breaks.find(show).slips
    if not slips:
        return
    tracks = sorted({track for instant in slips for track in instant.tracks})
    times = np.array([instant.frame for instant in slips]) / show.take.rate
    many = len(slips) >= show.limit("clock_slip_many") or len(tracks) >= show.limit("clock_slip_tracks")
    message = f"The same break shows on {words.count(len(tracks), 'track')} at once ({ranges(tracks)})"
    if len(slips) == 1:
        message += f", {words.at(float(times[0]))}."
    else:
        a_minute = 60 * len(slips) / max(show.take.duration_s, 1e-9)
        message += (
            f", at {len(slips)} instants ({words.plain(a_minute)} a minute), the first at {clock(float(times[0]))}"
        )
        message += f", the last at {clock(float(times[-1]))}{_regular(times, show.take.rate)}."
    yield Finding(
        code=CODE,
        severity="fault" if many else "warning",
        confidence="likely",
        message=message,
        action="See that all devices follow one clock master, check the link, then record again.",
        start_s=float(times[0]),
        end_s=float(times[-1]),
        amount=float(len(slips)),
        unit="instants",
        **of_tracks(show, tracks),
    )


def _regular(times: np.ndarray, rate: int) -> str:
    """Clocks that run apart slip a sample each time; said where the instants come evenly."""
    steps = np.diff(times)
    if len(steps) < 3 or float(steps.std()) > EVEN * float(steps.mean()):
        return ""
    apart = 1e6 / (float(steps.mean()) * rate)
    return f"; they come evenly, as from two clocks {words.plain(apart)} ppm apart"
