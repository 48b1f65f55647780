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
    a fault from three instants or eight tracks on. Likely. How much was lost or repeated is read from timecode, where a
    track holds some that runs across the instant and is numbered on both sides of it: the addresses of its bits a
    second before and behind are carried on to the instant and compared. Without timecode nothing tells it.

What can fool it
    One sound recorded on several tracks without any delay, such as several outputs of one instrument.

What to do
    See that there is one clock master and that all else follows it; then check the link's cable and its receiver.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping

import numpy as np

from replay.checks.shared import breaks, words
from replay.checks.shared.limit import Limit
from replay.checks.shared.place import of_tracks, slot_name
from replay.desk.model import Show
from replay.evidence.timecode_slips import Slip
from replay.findings.finding import Finding
from replay.text import clock, ranges

CODE = "clock-slip"
TITLE = "the clock or the link slips"
LIMITS: Mapping[str, Limit] = {
    "clock_slip_many": Limit(3, "instants", "from so many on it is a fault", least=1),
    "clock_slip_tracks": Limit(8, "tracks", "on so many tracks one instant is a fault", least=3),
}

MOST_TOLD = 4

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
        message += f", the last at {clock(float(times[-1]))}{_regular(times, show)}."
    yield Finding(
        code=CODE,
        severity="fault" if many else "warning",
        confidence="likely",
        message=f"{message}{_by_timecode(show, len(slips))}",
        action="See that all devices follow one clock master, check the link, then record again.",
        start_s=float(times[0]),
        end_s=float(times[-1]),
        amount=float(len(slips)),
        unit="instants",
        **of_tracks(show, tracks),
    )


def instants(show: Show) -> list[int]:
    """The instants that are told, as frames on the take's clock."""
    return [instant.frame for instant in breaks.find(show).slips]


def _read(show: Show) -> list[Slip]:
    """What timecode says; of several tracks, the one that can be read at most instants."""
    count = Counter(slip.track for slip in show.slips)
    number = max(count, key=lambda one: (count[one], -one), default=0)
    return [slip for slip in show.slips if slip.track == number]


def _by_timecode(show: Show, told: int) -> str:
    slips = _read(show)
    if not slips:
        return ""
    number = slips[0].track
    slot = show.routes.slot_of(number)
    where = f"track {number}" if slot is None else slot_name(show, slot)
    rate = show.take.rate
    if all(slip.exact and slip.lost == slips[0].lost for slip in slips) and len(slips) > 1:
        every = "each time" if slips[0].lost else "at any of them"
        said = f"{_lost(slips[0], rate)} {every if len(slips) == told else f'at each of {len(slips)} of them'}"
    else:
        said = words.listed(
            [f"{_lost(slip, rate)} at {words.millisecond(slip.frame / rate)}" for slip in slips], most=MOST_TOLD
        )
    return f" Timecode on {where} says {said}."


def _lost(slip: Slip, rate: int) -> str:
    """`64 samples (1.3 ms) were lost`."""
    if slip.lost == 0:
        return "nothing was lost"
    what = "lost" if slip.lost > 0 else "repeated"
    span = _milliseconds(1000 * abs(slip.lost) / rate)
    if not slip.exact:
        return f"about {span} were {what}"
    number = round(abs(slip.lost))
    return f"{words.count(number, 'sample')} ({span}) {'was' if number == 1 else 'were'} {what}"


def _milliseconds(value: float) -> str:
    return f"{value:.2f} ms" if value < 0.2 else f"{words.plain(value)} ms"


def _regular(times: np.ndarray, show: Show) -> str:
    """Clocks that run apart slip a sample each time, or as many as timecode says; told where the instants come evenly
    and that many are alike."""
    steps, rate = np.diff(times), show.take.rate
    lost = {slip.lost for slip in _read(show)} or {1.0}
    if len(steps) < 3 or float(steps.std()) > EVEN * float(steps.mean()):
        return ""
    if len(lost) > 1 or lost == {0.0}:
        return "; they come evenly"
    apart = 1e6 * abs(lost.pop()) / (float(steps.mean()) * rate)
    return f"; they come evenly, as from two clocks {words.plain(apart)} ppm apart"
