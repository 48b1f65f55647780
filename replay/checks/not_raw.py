"""The tracks were tapped after processing.

What it is
    Microphones that rest on digital silence between the notes, or whose levels step together: gates, mutes or faders
    lie between the preamp and the recorder.

Why it matters before a show
    What a gate has cut is lost, and on playback the channel's own processing works a second time on top.

How it is told
    An open microphone always hears the stage, and its preamp has noise. Told where a microphone or DI rests on exact
    zeros four times or more, and the sound before each rest has died away (what is cut off in the middle is a dropout);
    or where the gain of four or more of them steps at the same moments, by the same amount (a fader or mute group). A
    warning, likely; all tracks together.

What can fool it
    A noise gate in a microphone system or an instrument's own output.

What to do
    Take the recording feed before the gate, the mute and the fader: at the preamp. Record again.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np

from replay.checks.shared import words
from replay.checks.shared.history import ZERO_DB, hop_levels, runs_of
from replay.checks.shared.limit import Limit
from replay.checks.shared.machines import heard_as_machine
from replay.checks.shared.place import of_tracks, views_of
from replay.desk.model import Show, TrackView
from replay.desk.moves import large_moves
from replay.evidence.gain_moves import MANY, in_step
from replay.findings.finding import Finding
from replay.ranks import percentiles

CODE = "not-raw"
TITLE = "tapped after processing"
LIMITS: Mapping[str, Limit] = {"not_raw_rests": Limit(4, "rests", "so many rests on digital silence", least=2)}

FADED_DB = 12.0


def check(show: Show) -> Iterator[Finding]:
    gated = {}
    for track in show.tracks:
        views = [view for view in views_of(show, track) if view.channel.use != "off"]
        inputs = {view.channel.input for view in views}
        kinds = {view.channel.kind for view in views}
        if not views or not inputs <= {"mic", "di"} or kinds & {"playback", "click", "timecode", "talkback"}:
            continue
        if heard_as_machine(show, track):
            continue
        rests = _rests(track)
        if rests >= show.limit("not_raw_rests"):
            gated[track.track.number] = rests
    if gated:
        number, rests = max(gated.items(), key=lambda item: item[1])
        many = f"{words.count(len(gated), 'track')} rest on digital silence, track {number} {rests} times"
        yield Finding(
            code=CODE,
            severity="warning",
            confidence="likely",
            message=(many if len(gated) > 1 else f"It rests on digital silence {rests} times")
            + ": a gate or a mute lies before the recorder.",
            action="Take the recording feed at the preamp, before gates, mutes and faders; record again.",
            amount=float(rests),
            unit="rests",
            **of_tracks(show, sorted(gated)),
        )
    yield from _in_step(show)


def _rests(track: TrackView) -> int:
    """How often a track falls to exact zeros and comes back, its sound having died away before."""
    levels = hop_levels(track.measurement, keep_zeros=True)
    sounding = levels[np.isfinite(levels) & (levels > ZERO_DB)]
    if sounding.size < 20:
        return 0
    loud = float(percentiles(sounding, 90)[0])
    inner = [(a, b) for a, b in runs_of(levels == ZERO_DB) if a > 0 and b < levels.size]
    before = [levels[a - 1] for a, _ in inner if np.isfinite(levels[a - 1])]
    if not before or np.median(before) > loud - FADED_DB:
        return 0
    return len(inner)


def _in_step(show: Show) -> Iterator[Finding]:
    by_track = large_moves(show.patch, show.routes, show.gain_moves, show.limit("gain_moved_db"))
    for move in sorted((one for moves in by_track.values() for one in moves), key=lambda one: (one.at_s, one.track)):
        group = sorted(in_step(by_track, move))
        if len(group) < MANY:
            continue
        same = [one for number in group for one in by_track[number] if one.db == move.db]
        first, last = max(one.first_s for one in same), min(one.last_s for one in same)
        at = min(max(float(np.median([one.at_s for one in same])), first), max(first, last))
        yield Finding(
            code=CODE,
            severity="warning",
            confidence="likely",
            message=f"{len(group)} tracks step by {move.db:+g} dB at one moment, about {words.at(at)}: a fader lies "
            "before the recorder.",
            action="Take the recording feed at the preamp, before gates, mutes and faders; record again.",
            start_s=first if first <= last else at,
            end_s=last if first <= last else at,
            amount=move.db,
            unit="dB",
            key="step",
            **of_tracks(show, group),
        )
        return
