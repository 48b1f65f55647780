"""A thump: a strong pulse below the range of music.

What it is
    A plug pushed in, phantom power switched, a stand kicked, wind on a microphone.

Why it matters before a show
    It moves the speakers' cones, and its peak must not be taken for the source's level. The played peak leaves it out.

How it is told
    A hop of 100 ms with 60 % or more of its energy in the lowest octave (below 47 Hz at 48 kHz), 10 dB above what that
    octave mostly holds, rare on this track (at most one in ten seconds, and eight), and with a peak no less than 6 dB
    below the played peak. A note, likely.
    Nothing for bass drum, toms, bass, keys, percussion, playback, ambience and timecode, which may sound like that.

What can fool it
    A low drum in an open microphone.

What to do
    Mute a channel before plugging it or switching its phantom power. Where nobody did, look at the stand, the shock
    mount or the wind screen.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np

from replay.checks.shared import words
from replay.checks.shared.limit import Limit
from replay.checks.shared.place import of_tracks, views_of
from replay.desk.model import Show
from replay.desk.views import LOW_BY_NATURE
from replay.findings.finding import Finding
from replay.meters.thumps import thumps
from replay.units import db

CODE = "thump"
TITLE = "a thump"
LIMITS: Mapping[str, Limit] = {
    "thump_below_played": Limit(6.0, "dB", "thumps further below the played peak are not told", 0, 60)
}


def check(show: Show) -> Iterator[Finding]:
    for track in show.tracks:
        views = [view for view in views_of(show, track) if view.channel.use != "off"]
        if not views or any(view.channel.kind in LOW_BY_NATURE for view in views):
            continue
        played = track.whole.played_peak_dbtp
        if played is None:
            continue
        measurement = track.measurement
        peaks = np.maximum(measurement.column("high"), -measurement.column("low"))
        told = []
        for start, stop in thumps(measurement):
            level = db(float(peaks[start:stop].max()))
            if level is not None and level >= played - show.limit("thump_below_played"):
                told.append((start / 10, stop / 10, level))
        if not told:
            continue
        start, stop, level = max(told, key=lambda one: one[2])
        yield Finding(
            code=CODE,
            severity="note",
            confidence="likely",
            message=f"{words.count(len(told), 'thump')}, the strongest {words.at(start)}, "
            f"{words.level(level, 'dBFS')}: a plug, a switch or a kick at the stand. "
            f"The played peak ({words.level(played)}) leaves it out.",
            action="Mute the channel before plugging or switching phantom power; else look at stand and wind screen.",
            start_s=told[0][0],
            end_s=told[-1][1],
            amount=float(len(told)),
            unit="thumps",
            **of_tracks(show, [track.track.number]),
        )
