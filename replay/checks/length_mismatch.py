"""Some tracks start or end at another time than the rest.

What it is
    All tracks of one pass begin and end together. These do not.

Why it matters before a show
    Where a track ends early its channel goes silent before the others. A different length can also mean that the file
    belongs to another take, and then nothing on it fits.

How it is told
    Start and end on the take's clock are compared with those that most tracks have. A warning from one second on, a
    note below (from 10 ms on); certain. Tracks with the same odd length are told once. What a file that is cut short,
    a missing segment or another rate explains is told there.

What can fool it
    Recorders that write track by track stop them a few milliseconds apart. Tracks armed while the take was running.

What to do
    See whether the files belong to this take; copy them again from the recorder's medium.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping

from replay.checks.shared import words
from replay.checks.shared.limit import Limit
from replay.checks.shared.place import of_tracks
from replay.desk.model import Show
from replay.findings.finding import Finding
from replay.take.model import Track
from replay.text import ranges

CODE = "length-mismatch"
TITLE = "tracks differ in length"
LIMITS: Mapping[str, Limit] = {
    "length_mismatch_s": Limit(1.0, "seconds", "from this difference on it is a warning", least=0.01),
}

LEAST_S = 0.01
"""Recorders stop their tracks a few blocks apart; less than one cell of 10 ms is nothing."""


def check(show: Show) -> Iterator[Finding]:
    tracks = show.take.tracks
    rate = show.take.rate
    if len(tracks) < 2:
        return
    start, stop = usual(tracks)
    groups: dict[tuple[float, float] | None, list[int]] = {}
    odds: dict[int, tuple[float, float]] = {}
    for track in tracks:
        late, early = (track.start - start) / rate, (stop - track.stop) / rate
        if max(abs(late), abs(early)) < LEAST_S:
            continue
        odds[track.number] = (late, early)
        small = max(abs(late), abs(early)) < show.limit("length_mismatch_s")
        # All small differences together are one note; large ones are told apart to 10 ms.
        groups.setdefault(None if small else (round(late, 2), round(early, 2)), []).append(track.number)
    for key, numbers in groups.items():
        late, early = max((odds[number] for number in numbers), key=lambda odd: max(abs(odd[0]), abs(odd[1])))
        yield Finding(
            code=CODE,
            severity="note" if key is None else "warning",
            confidence="certain",
            message=_sentence(numbers, late, early, at_most=key is None and len(numbers) > 1),
            action="See whether these files belong to this take, and copy them again from the recorder's medium.",
            amount=round(max(abs(late), abs(early)), 3),
            unit="s",
            **of_tracks(show, numbers),
        )


def usual(tracks: tuple[Track, ...]) -> tuple[int, int]:
    """Start and stop frames that most tracks share; where as many say one as another, the longer way."""
    starts, stops = Counter(track.start for track in tracks), Counter(track.stop for track in tracks)
    start = min(starts, key=lambda frame: (-starts[frame], frame))
    stop = min(stops, key=lambda frame: (-stops[frame], -frame))
    return start, stop


def _sentence(numbers: list[int], late: float, early: float, at_most: bool) -> str:
    one = len(numbers) == 1
    who = f"Track{'' if one else 's'} {ranges(numbers)}"
    upto = "up to " if at_most else ""
    parts = []
    if abs(late) >= LEAST_S:
        verb = "starts" if one else "start"
        parts.append(f"{verb} {upto}{words.span(abs(late))} {'after' if late > 0 else 'before'} the others")
    if abs(early) >= LEAST_S:
        if early > 0:
            parts.append(f"{'ends' if one else 'end'} {upto}{words.span(early)} before the others")
        else:
            parts.append(f"{'runs' if one else 'run'} on {upto}{words.span(-early)} after the others")
    return f"{who} {' and '.join(parts)}."
