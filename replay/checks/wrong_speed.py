"""The take runs at the wrong speed.

What it is
    Timecode on a track runs at a rate that no timecode has, and that one has when the sample rate is taken for what it
    really was: 44.1 for 48 kHz or the other way round, or half or double.

Why it matters before a show
    Everything plays too fast or too slow and out of tune, and the desk may refuse the files.

How it is told
    The distance of the timecode's sync words, against 24, 25 and 30 frames a second and 1000/1001 of 24 and 30. A
    warning, likely.

What can fool it
    Timecode that was sent at another speed on purpose.

What to do
    Ask at which rate the recorder's clock ran, and have the files' rate corrected (not converted) before playback.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from replay.checks.finding import Finding
from replay.checks.limit import Limit
from replay.checks.place import of_tracks
from replay.desk.model import Show

CODE = "wrong-speed"
TITLE = "the take runs at the wrong speed"
LIMITS: Mapping[str, Limit] = {}

RATES = (24000 / 1001, 24.0, 25.0, 30000 / 1001, 30.0)
RIGHT_WITHIN = 0.002
"""Machines on their own clock, and 1000/1001 taken for 1."""

RATIOS = ((48000, 44100), (44100, 48000), (96000, 48000), (48000, 96000), (88200, 96000), (96000, 88200))
NEAR = 0.0006


def check(show: Show) -> Iterator[Finding]:
    wrong = {}
    for number, code in sorted(show.timecode.items()):
        fps = code.frames_per_second
        if any(abs(fps / rate - 1) <= RIGHT_WITHIN for rate in RATES):
            continue
        real = _real(fps, show.take.rate)
        if real is not None:
            wrong[number] = (fps, *real)
    if not wrong:
        return
    number, (fps, nominal, rate) = next(iter(wrong.items()))
    yield Finding(
        code=CODE,
        severity="warning",
        confidence="likely",
        message=f"The timecode on track {number} runs at {fps:.2f} frames a second, which none does: it is {nominal:g} "
        f"where the files ran at {rate} Hz and not at the {show.take.rate} Hz that they claim.",
        action="Ask at which rate the recorder's clock ran, and correct (do not convert) the files' rate.",
        amount=round(100 * (show.take.rate / rate - 1), 1),
        unit="%",
        **of_tracks(show, list(wrong)),
    )


def _real(fps: float, claimed: int) -> tuple[float, int] | None:
    """The timecode's own rate and the sample rate that makes it right; the common rates first."""
    for one, other in RATIOS:
        for nominal in (25.0, 30.0, 24.0, 30000 / 1001, 24000 / 1001):
            if abs(fps / (nominal * one / other) - 1) <= NEAR:
                return nominal, round(claimed * other / one)
    return None
