"""Track names do not fit the input list.

What it is
    The name that the recorder gave a track belongs to another channel of the list; or the names say nothing at all, or
    belong to another show.

Why it matters before a show
    Either the take was made under another input list, or the recorder's labels are old. Names prove nothing by
    themselves, but one of the two lists is wrong.

How it is told
    Names are compared with the trade's abbreviations (kick or BD, snr, OH, vox, gtr, bv, L and R, top and bottom). A
    warning where a name fits another channel; a note where the sound itself or your ears confirm the channel, so that
    only the label is old; one note for a take whose names say nothing or fit another show.

What can fool it
    House abbreviations that nobody else uses.

What to do
    Look at the tracks named, by ear; then correct the recorder's labels or the input list.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from replay.checks.shared import words
from replay.checks.shared.limit import Limit
from replay.checks.shared.misplaced import sources
from replay.checks.shared.place import channel_name, nowhere, of_channels
from replay.desk.model import Show
from replay.ear import RIGHT
from replay.findings.finding import Finding
from replay.text import harmless

CODE = "name-mismatch"
TITLE = "track names that do not fit the input list"
LIMITS: Mapping[str, Limit] = {}


def check(show: Show) -> Iterator[Finding]:
    mapping = show.mapping
    if mapping.names:
        yield Finding(
            code=CODE,
            severity="note",
            confidence="certain",
            message=f"{mapping.names[:1].upper()}{mapping.names[1:]}: nothing there confirms or contradicts the list.",
            action="Nothing for tonight; label the recorder's tracks from the input list next time.",
            key="names",
            **nowhere(),
        )
    for one in mapping.by_names:
        if all(show.ear.says(number) == RIGHT for number in one.channels):
            # Ears said of every one that it is what the list says: only the labels are old.
            continue
        yield Finding(
            code=CODE,
            severity="warning",
            confidence="likely",
            message=f"By their names the tracks hold other sources: {sources(show, one)}; the sound neither confirms "
            "nor contradicts it.",
            action="Listen to these tracks, then correct the recorder's labels or the input list.",
            **of_channels(show, one.channels),
        )
    heard = [
        one for one in mapping.misnamed if show.view(one[1]).mapping.status == "heard" or show.ear.says(one[1]) == RIGHT
    ]
    others = [one for one in mapping.misnamed if one not in heard]
    for some, severity, end in (
        (others, "warning", "the sound neither confirms nor contradicts it."),
        (heard, "note", "but they are what the input list has, by sound or by ear: only the labels are old."),
    ):
        if some:
            parts = [
                f"track {track} ({channel_name(show.view(number))}) is named like {harmless(name, 40)}"
                for track, number, name in some
            ]
            text = words.listed(parts, most=4)
            yield Finding(
                code=CODE,
                severity=severity,
                confidence="likely",
                message=f"{text[:1].upper()}{text[1:]}; {end}",
                action="Listen to these tracks, then correct the recorder's labels or the input list.",
                key="labels" if severity == "note" else "",
                **of_channels(show, sorted(number for _, number, _ in some)),
            )
