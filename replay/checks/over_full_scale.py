"""A float recording goes above full scale.

What it is
    Samples greater than 1.0 in a float file. They are not clipped there, but nothing behind the file can carry them.

Why it matters before a show
    The link to the desk and every converter stop at full scale: on playback the channel clips.

How it is told
    Samples above 1 are counted in the part that is judged: a warning. Where all of them lie outside of it, a note.
    Certain.

What can fool it
    A mix or a player's file among raw tracks.

What to do
    Turn the preamp down and record again, or write the take at a lower gain (`render --gain`) and play that.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

import numpy as np

from replay.checks.shared import words
from replay.checks.shared.fed_wrong import GAIN_WAITS
from replay.checks.shared.level_action import turn
from replay.checks.shared.limit import Limit
from replay.checks.shared.place import of_tracks, views_of
from replay.desk.model import ChannelView, Show
from replay.findings.finding import Finding

CODE = "over-full-scale"
TITLE = "a float recording above full scale"
LIMITS: Mapping[str, Limit] = {}


def check(show: Show) -> Iterator[Finding]:
    for track in show.tracks:
        if not track.measurement.totals.get("over_full_scale", 0):
            continue
        over = track.measurement.column("over").astype(np.int64)
        times = np.arange(over.size) / 10
        judged = (times + 0.1 > show.judged_from_s) & (times < show.judged_to_s)
        inside = int(over[judged].sum())
        hops = np.flatnonzero(over * judged if inside else over)
        first, last = (float(times[hops[0]]), float(times[hops[-1]]) + 0.1) if hops.size else (None, None)
        peak = track.recorded.sample_peak_dbfs if inside else track.whole.sample_peak_dbfs
        views = views_of(show, track)
        number = inside or int(over.sum())
        text = f"{words.count(number, 'sample')} above full scale"
        if peak is not None:
            text += f", up to {words.level(peak, 'dBFS')}"
        if first is not None:
            text += f"; first {words.at(first)}"
        if not inside:
            text += ", outside the part that is judged"
        yield Finding(
            code=CODE,
            severity="warning" if inside else "note",
            confidence="certain",
            message=f"{text}.",
            action=_action(views),
            start_s=first,
            end_s=last,
            amount=peak if peak is not None else float(number),
            unit="dBFS" if peak is not None else "samples",
            **of_tracks(show, [track.track.number]),
        )


def _action(views: Sequence[ChannelView]) -> str:
    if any(view.fed_wrong for view in views):
        return GAIN_WAITS
    how = turn(views[0]) if views else None
    again = f"{how} and record again" if how else "Record it again at a lower gain"
    return f"{again}, or play the take written at a lower gain."
