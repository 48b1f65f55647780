"""The track does not swing around zero.

What it is
    A constant that is added to every sample.

Why it matters before a show
    It costs headroom, thumps wherever the channel is switched, and tells of a faulty preamp, converter or DI.

How it is told
    The mean of all samples in the part that is judged, above -60 dBFS, and steady: at least three quarters of all
    100 ms have the same sign and half of it or more, and it is still there where the track is quietest. A note; above
    -40 dBFS a warning. Certain.

What can fool it
    A signal that is lopsided by nature moves the mean only while it sounds: an organ or a synthesiser's pad that never
    rests is not told from a constant. Timecode and clicks are left out.

What to do
    Try the source on another socket: does it move with the source or stay with the preamp? Switch the channel's
    high-pass in.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np

from replay.checks.shared import words
from replay.checks.shared.limit import Limit
from replay.checks.shared.machines import is_machine
from replay.checks.shared.place import of_tracks, source_name, views_of
from replay.desk.model import Show
from replay.findings.finding import Finding
from replay.meters.model import Measurement

CODE = "dc-offset"
TITLE = "a constant offset"
LIMITS: Mapping[str, Limit] = {
    "dc_offset_note": Limit(-60.0, "dBFS", "an offset above this is told", -200, 0),
    "dc_offset_warning": Limit(-40.0, "dBFS", "an offset above this is a warning", -200, 0),
}

STEADY_SHARE = 0.75
QUIET_PERCENTILE = 10


def check(show: Show) -> Iterator[Finding]:
    for track in show.tracks:
        views = [view for view in views_of(show, track) if view.channel.use != "off"]
        level = track.recorded.dc_dbfs
        if not views or level is None or level < show.limit("dc_offset_note"):
            continue
        if is_machine(show, track):
            continue
        # A gate or a radio's mute takes a constant away with the sound; a player that rests shows that there is none.
        mutes = bool({view.channel.input for view in views} & {"mic", "rf"})
        middle = _constant(track.measurement, mutes=mutes)
        if middle is None:
            continue
        strong = level >= show.limit("dc_offset_warning")
        where = source_name(views[0])
        yield Finding(
            code=CODE,
            severity="warning" if strong else "note",
            confidence="certain",
            message=f"The samples swing around {words.level(level, 'dBFS')} and not around zero "
            f"(to the {'positive' if middle > 0 else 'negative'} side).",
            action=f"Try the source of {where} on another socket: does it move along? Keep the channel's high-pass in.",
            amount=round(level, 1),
            unit="dBFS",
            **of_tracks(show, [track.track.number]),
        )


def _constant(measurement: Measurement, *, mutes: bool) -> float | None:
    """The middle of the means of all 100 ms, where it holds throughout and also while the sound rests; else None. With
    `mutes`, digital silence is no rest."""
    frames = measurement.present()
    there = frames > 0
    means = measurement.column("sum")[there] / frames[there]
    middle = float(np.median(means)) if means.size else 0.0
    if middle == 0 or np.mean(means / middle >= 0.5) < STEADY_SHARE:
        return None
    # What a lopsided sound adds goes with it.
    power = measurement.column("energy")[there] / frames[there]
    kept = power > 0 if mutes else np.ones(len(power), bool)
    sound = (power - means**2)[kept]
    quiet = means[kept][sound <= np.percentile(sound, QUIET_PERCENTILE)]
    return middle if np.median(quiet) / middle >= 0.5 else None
