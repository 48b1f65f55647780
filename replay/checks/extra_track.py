"""The take has tracks that the patch does not know.

What it is
    A track whose slot no channel is recorded on and none comes back from.

Why it matters before a show
    An empty one is nothing. One with a signal on it is a source that nobody put into the patch: it will be missing on
    the desk, or it belongs to another channel.

How it is told
    A warning for each track with a signal (active for a second, peaks above -45 dBTP: the limits of `noise-only`);
    one note for all the empty ones. Certain.

What can fool it
    An open microphone that nobody uses still hears the stage. Recorders that always write all of their tracks.

What to do
    Listen to it, and give it a channel in the input list or take it off the recorder.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from replay.checks.shared import words
from replay.checks.shared.heard import has_source, peak_of
from replay.checks.shared.limit import Limit
from replay.checks.shared.place import of_tracks
from replay.desk.model import Show, TrackView
from replay.findings.finding import Finding
from replay.patch.model import Socket
from replay.text import harmless, ranges

CODE = "extra-track"
TITLE = "a track that the patch does not know"
LIMITS: Mapping[str, Limit] = {}


def check(show: Show) -> Iterator[Finding]:
    empty = []
    for track in show.tracks:
        if track.channels or (track.slot is not None and show.routes.recorded_from(track.slot)):
            continue
        number = track.track.number
        if not has_source(show, track):
            empty.append(number)
            continue
        peak = peak_of(track)
        yield Finding(
            code=CODE,
            severity="warning",
            confidence="certain",
            message=f"Track {number}{_name(show, track)} holds a signal (played peak {words.level(peak or 0.0)}), "
            "and no channel uses it.",
            action=f"Listen to track {number}, and give it a channel in the input list or leave it off the recorder.",
            amount=peak,
            unit="dBTP",
            **of_tracks(show, [number]),
        )
    if empty:
        yield Finding(
            code=CODE,
            severity="note",
            confidence="certain",
            message=f"Track{'s' if len(empty) > 1 else ''} {ranges(empty)} "
            f"{'are' if len(empty) > 1 else 'is'} in the take, no channel uses "
            f"{'them' if len(empty) > 1 else 'it'}, and nothing is on {'them' if len(empty) > 1 else 'it'}.",
            action="Nothing, if these inputs are meant to be free.",
            amount=float(len(empty)),
            unit="tracks",
            key="empty",
            **of_tracks(show, empty),
        )


def _name(show: Show, track: TrackView) -> str:
    source = show.routes.sources.get(track.slot) if track.slot is not None else None
    if isinstance(source, Socket):
        return f" ({harmless(str(source), 60)})"
    return f" ({harmless(track.track.name, 60)})" if track.track.name else ""
