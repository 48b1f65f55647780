"""A float track holds samples that are not numbers.

What it is
    NaN or infinite values in a float file: something in the recording chain failed.

Why it matters before a show
    Players and desks turn such samples into full-scale clicks, or mute the channel for good.

How it is told
    They are counted and replaced by 0 for all other figures. A fault, certain.

What can fool it
    Nothing. Raw 24-bit data read as float has such samples by the thousand, and then nothing in the file is right.

What to do
    Copy the file again; if they are on the recorder's medium too, record the source again, in 24 bit.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np

from replay.checks.shared import words
from replay.checks.shared.limit import Limit
from replay.checks.shared.place import of_tracks
from replay.desk.model import Show
from replay.findings.finding import Finding

CODE = "not-a-number"
TITLE = "samples that are not numbers"
LIMITS: Mapping[str, Limit] = {}


def check(show: Show) -> Iterator[Finding]:
    for track in show.tracks:
        number = int(track.measurement.totals.get("not_a_number", 0))
        if not number:
            continue
        hops = np.flatnonzero(track.measurement.column("not_a_number"))
        first, last = (float(hops[0]) / 10, float(hops[-1] + 1) / 10) if hops.size else (None, None)
        when = "" if first is None else f", the first {words.at(first)}"
        yield Finding(
            code=CODE,
            severity="fault",
            confidence="certain",
            message=f"Track {track.track.number} has {words.count(number, 'sample')} that "
            f"{'is not a number' if number == 1 else 'are not numbers'}{when}.",
            action="Copy the file again; if they are on the recorder's medium too, record the source again.",
            start_s=first,
            end_s=last,
            amount=float(number),
            unit="samples",
            **of_tracks(show, [track.track.number]),
        )
