"""The take runs at the wrong speed.

What it is
    Timecode on a track runs at a rate that no timecode has, and that one has when the sample rate is taken for what it
    really was: 44.1 for 48 kHz or the other way round, or half or double. Or the mains hum at a frequency that none
    have: 45.94 or 54.42 Hz instead of 50, 55.13 or 65.31 instead of 60.

Why it matters before a show
    Everything plays too fast or too slow and out of tune, and the desk may refuse the files.

How it is told
    The distance of the timecode's sync words, against 24, 25 and 30 frames a second and 1000/1001 of 24 and 30. A
    warning, likely. Where there is no timecode: three or more multiples of one fundamental within 0.4 % (60 Hz: 0.1 %)
    of what the mains become between 44.1 and 48 kHz and their doubles, alike in the quietest stretches of two or three
    thirds of the take, on tracks that no player feeds, while no track hums at 50 or 60 Hz. On three tracks or more a
    warning, likely; on two a note, possible; on one nothing. A hum of even multiples alone tells nothing.

What can fool it
    Timecode that was sent at another speed on purpose. A drone that is tuned to such a frequency and never rests; power
    from a small generator.

What to do
    Ask at which rate the recorder's clock ran, and have the files' rate corrected (not converted) before playback.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from replay.checks.shared.limit import Limit
from replay.checks.shared.mains import lines_of
from replay.checks.shared.place import of_tracks, views_of
from replay.desk.model import Show, TrackView
from replay.evidence.off_mains import OffMains
from replay.findings.finding import Finding
from replay.text import ranges

CODE = "wrong-speed"
TITLE = "the take runs at the wrong speed"
LIMITS: Mapping[str, Limit] = {}

RATES = (24000 / 1001, 24.0, 25.0, 30000 / 1001, 30.0)
RIGHT_WITHIN = 0.002
"""Machines on their own clock, and 1000/1001 taken for 1."""

RATIOS = ((48000, 44100), (44100, 48000), (96000, 48000), (48000, 96000), (88200, 96000), (96000, 88200))
NEAR = 0.0006

COMMON = (44100, 48000, 88200, 96000, 176400, 192000)

LEAST_HUMMING, SURE_HUMMING = 2, 3
"""Mains hum on several tracks of a stage, or can hardly be told from a note."""


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
        if not show.timecode:
            yield from _by_mains(show)
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


def _by_mains(show: Show) -> Iterator[Finding]:
    """What the hum of several tracks says, where none hums as it should."""
    groups: dict[tuple[float, float], list[OffMains]] = {}
    for track in show.tracks:
        one = show.off_mains.get(track.track.number)
        if one is not None and round(show.take.rate / one.ratio) in COMMON and _hums(show, track):
            groups.setdefault((one.nominal, one.ratio), []).append(one)
    group = max(groups.values(), key=len, default=[])
    if len(group) < LEAST_HUMMING or any(lines_of(track) is not None for track in show.tracks):
        return
    first = group[0]
    sure = len(group) >= SURE_HUMMING
    numbers = [one.track for one in group]
    rate = round(show.take.rate / first.ratio)
    yield Finding(
        code=CODE,
        severity="warning" if sure else "note",
        confidence="likely" if sure else "possible",
        message=f"The mains hum at {first.hz:.2f} Hz on tracks {ranges(numbers)}, which none do: it is "
        f"{first.nominal:g} where the files ran at {rate} Hz and not at the {show.take.rate} Hz that they claim.",
        action="Ask at which rate the recorder's clock ran, and correct (do not convert) the files' rate.",
        amount=round(100 * (first.ratio - 1), 1),
        unit="%",
        key="mains",
        **of_tracks(show, numbers),
    )


def _hums(show: Show, track: TrackView) -> bool:
    """Whether mains can reach a track: it comes from a preamp, or from nobody knows where."""
    channels = [view.channel for view in views_of(show, track)]
    return not any(one.input == "digital" or one.kind in ("playback", "click", "timecode") for one in channels)
