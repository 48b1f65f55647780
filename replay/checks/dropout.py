"""Audio was lost: gaps, held values, buffers played twice.

What it is
    For a moment the recorder or the link had no data and put something in its place: zeros, the last value, or the
    block before once more.

Why it matters before a show
    The take has holes, and the same link, computer or disk carries the show's recording.

How it is told
    24 or more equal samples in a row with the signal in full motion up to both ends (from 5 ms on in any
    signal, where a preamp's noise never lets the track rest); or a block of 32 to 4096 samples
    (a multiple of 8) that repeats the one before it bit for bit and then stops. A hole that was made before the take
    was brought to 16 bits with dither holds a step of noise: told from 5 ms to a second, behind a hard end. A warning;
    a fault from five on, from one second in all, or where three or more sources have it at the same time, which is
    then told once, with all tracks that have it: there a gap counts on what rests on exact zero too, and what was
    silent says nothing. Certain.

What can fool it
    Editing: a hole cut into a programme. A source that rests on exact zero (a player, a gate) is only told for gaps
    under 10 ms between sounds of like level; fewer than three of them may be its own: a note, possible. With dither in
    the hole, so is what may be electronic (keys, a line, samples, drums by DI), and a radio is not judged. Clicks and
    timecode have holes of their own and are not judged. The mutes of a radio are told as such.

What to do
    Listen at the given times. Where many tracks have it, look at the link, the computer's load and the disk; where one
    has it, at that track's path. Record again.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence

from replay.checks import rf_mute
from replay.checks.shared import words
from replay.checks.shared.limit import Limit
from replay.checks.shared.lost import Lost, dropouts, is_silent
from replay.checks.shared.lost_together import lost_together
from replay.checks.shared.place import of_tracks
from replay.desk.model import Show
from replay.findings.finding import Finding
from replay.text import clock, ranges

CODE = "dropout"
TITLE = "audio was lost"
LIMITS: Mapping[str, Limit] = {
    "dropout_many": Limit(5, "dropouts", "from so many on a track it is a fault", least=1),
    "dropout_s": Limit(1.0, "seconds", "from so much in all it is a fault", least=0),
    "dropout_rest_ms": Limit(10.0, "milliseconds", "longer gaps are rest on a track that rests on exact zero", least=0),
}
KINDS = {
    "zero": ("gap", "gaps"),
    "value": ("held value", "held values"),
    "repeat": ("repeated block", "repeated blocks"),
}

MUTE_EDGE_S = 0.03
"""Mutes of a radio are found in cells of 10 ms, by a fall over two of them."""


def check(show: Show) -> Iterator[Finding]:
    lost = {track.track.number: dropouts(show, track) for track in show.tracks}
    shared = lost_together(show, lost)
    if shared:
        yield _shared(show, shared)
    for track in show.tracks:
        number = track.track.number
        here = {one.start for group in shared for one in [group.get(number)] if one is not None}
        muted = rf_mute.dropouts_of(show, track)[0]
        own = [one for one in lost[number] if one.start not in here and not _of_radio(one, muted, show.take.rate)]
        if own:
            yield _alone(show, number, own, "alone" if here else "")


def _of_radio(one: Lost, muted: Sequence[float], rate: int) -> bool:
    """Whether a gap is that of a receiver that mutes to digital silence: told there."""
    return one.what != "repeat" and any(abs(one.start / rate - start) <= MUTE_EDGE_S for start in muted)


def _shared(show: Show, groups: Sequence[Mapping[int, Lost]]) -> Finding:
    numbers = sorted({number for group in groups for number in group})
    silent = [
        all(is_silent(track, *_place(group)) for group in groups)
        for track in show.tracks
        if track.track.number not in numbers
    ]
    if not silent:
        text = f"Lost on all {len(numbers)} tracks at the same time: "
    elif all(silent):
        text = f"Lost at the same time on all {len(numbers)} tracks that sounded ({ranges(numbers)}): "
    else:
        text = f"Lost on {len(numbers)} tracks at the same time ({ranges(numbers)}): "
    # One gap on many tracks is one gap.
    times = [{what: _longest(group, what) for what in KINDS} for group in groups]
    found = [one for kinds in times for one in kinds.values() if one is not None]
    action = "Look at the link, the recorder's load and its disk, then record again."
    return _finding(show, numbers, text, found, len(groups), "fault", action, "")


def _longest(group: Mapping[int, Lost], what: str) -> Lost | None:
    return max((one for one in group.values() if one.what == what), key=lambda one: one.length, default=None)


def _place(group: Mapping[int, Lost]) -> tuple[int, int]:
    first = min(one.start for one in group.values())
    return first, max(one.start + one.length for one in group.values()) - first


def _alone(show: Show, number: int, own: Sequence[Lost], key: str) -> Finding:
    seconds = sum(one.length for one in own) / show.take.rate
    many = len(own) >= show.limit("dropout_many") or seconds >= show.limit("dropout_s")
    severity = "note" if all(one.doubtful for one in own) else "fault" if many else "warning"
    action = "Listen there; look at the track's path to the recorder, then record again."
    return _finding(show, [number], "", own, len(own), severity, action, key)


def _finding(
    show: Show,
    numbers: Sequence[int],
    text: str,
    lost: Sequence[Lost],
    times: int,
    severity: str,
    action: str,
    key: str,
) -> Finding:
    rate = show.take.rate
    found = sorted(lost, key=lambda one: one.start)
    longest = max(found, key=lambda one: one.length)
    first = found[0].start / rate
    counts = Counter(one.what for one in found)
    kinds = [words.count(counts[what], *named) for what, named in KINDS.items() if counts[what]]
    text += f"{words.listed(kinds)}, the longest {words.span(longest.length / rate)} at {clock(longest.start / rate)}"
    if len(found) > 1:
        text += f"; first at {clock(first)}"
    return Finding(
        code=CODE,
        severity=severity,
        confidence="possible" if severity == "note" else "certain",
        message=f"{text}.",
        action=action,
        start_s=first,
        end_s=(found[-1].start + found[-1].length) / rate,
        amount=float(times),
        unit="dropouts",
        key=key,
        **of_tracks(show, numbers),
    )
