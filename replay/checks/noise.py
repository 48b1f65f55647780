"""A channel hisses more than its like.

What it is
    The floor between the notes is white noise, and much closer to the source's level than on the other channels of that
    input.

Why it matters before a show
    A preamp turned far up for a source that is far too low, a pad left in, a noisy pedal or a failing microphone: in
    the mix it is heard as soon as the fader goes up.

How it is told
    The noise floor against the track's own played peak: 15 dB or more closer than the middle of the take's other
    channels of the same kind of input (three or more), less than 50 dB, and rising toward high frequencies as white
    noise does (3 dB an octave from 1.5 kHz on). A note, likely.

What can fool it
    A source that was hardly played. A gas lamp or an air outlet near a microphone.

What to do
    Look for a pad or a low output at the source, raise the source, lower the preamp; try another microphone or DI.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np

from replay.checks.shared import words
from replay.checks.shared.heard import has_source, rises_as_white
from replay.checks.shared.history import hop_levels
from replay.checks.shared.limit import Limit
from replay.checks.shared.machines import heard_as_machine
from replay.checks.shared.place import of_tracks, source_name, views_of
from replay.desk.model import Show, TrackView
from replay.findings.finding import Finding

CODE = "noise"
TITLE = "noisier than its like"
LIMITS: Mapping[str, Limit] = {
    "noise_closer": Limit(15.0, "dB", "so much closer to the source than on other channels the floor must be", 3, 100),
    "noise_distance": Limit(50.0, "dB", "a floor further below the played peak is not told", 0, 120),
}

FEWEST_OTHERS = 3
FLOOR_PERCENTILE = 5


def check(show: Show) -> Iterator[Finding]:
    distances: dict[str, list[tuple[TrackView, float]]] = {}
    for track in show.tracks:
        views = [view for view in views_of(show, track) if view.channel.use != "off"]
        if not views or not has_source(show, track) or heard_as_machine(show, track):
            continue
        kind, entry = views[0].channel.kind, views[0].channel.input
        if kind in ("timecode", "click", "playback", "ambience", "talkback") or entry == "digital":
            continue
        peak, floor = track.whole.played_peak_dbtp, track.whole.noise_floor_dbfs
        if peak is not None and floor is not None:
            distances.setdefault(entry, []).append((track, peak - floor))
    for group in distances.values():
        for track, distance in group:
            others = [other for one, other in group if one is not track]
            if len(others) < FEWEST_OTHERS or distance > show.limit("noise_distance"):
                continue
            closer = float(np.median(others)) - distance
            if closer < show.limit("noise_closer") or not _hisses(track):
                continue
            where = source_name(views_of(show, track)[0])
            yield Finding(
                code=CODE,
                severity="note",
                confidence="likely",
                message=f"Its floor hisses {words.plain(distance)} dB below the played peak, {words.plain(closer)} dB "
                "closer than on the other channels of that input.",
                action=f"Look for a pad, a low output or a noisy unit before {where}; raise the source first.",
                amount=round(closer, 1),
                unit="dB",
                **of_tracks(show, [track.track.number]),
            )


def _hisses(track: TrackView) -> bool:
    """Whether the quiet moments hold white noise."""
    levels = hop_levels(track.measurement)
    if not np.isfinite(levels).any():
        return False
    quiet = levels <= np.nanpercentile(levels, FLOOR_PERCENTILE) + 1.0
    octaves = [float(track.measurement.column(f"band_{band}")[quiet].mean()) for band in (6, 7, 8, 9)]
    return rises_as_white(octaves)
