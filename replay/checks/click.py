"""Single clicks on a track.

What it is
    For one sample or a few the signal jumps away from where it was going, and comes back.

Why it matters before a show
    A click that was recorded comes back at every playback, and what made it (a digital connection, a converter, a bad
    contact) may do it again in the show.

How it is told
    Each sample is held against what its six neighbours let expect. A click is 10 times larger than anything of that
    kind within 72 samples, reaches -60 dBFS, and leaves the level before and behind it alike. What shows on three or
    more sources at once is the clock or the link (clock-slip) and not told here; what shows on three or more of them
    one after the other, within 50 ms, was a sharp sound in the room. What lies among the bursts of a crackle, at a
    dropout of a radio or where a gain was moved is told there. One click is a note, more are a warning; likely.
    On a player's tracks, where it may be in the programme, a note; possible. What both sides of a pair have at once is
    told once: the source made it, or the clock of the device that feeds both slips.

What can fool it
    Electronic sounds with hard edges between sustained ones. A click inside a loud bright sound is hidden by it.

What to do
    Listen at the given times. Check the source's connection, cable and converter, and record again if it matters.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

import numpy as np

from replay.checks import crackle, gain_moved, rf_mute
from replay.checks.flat_topped import corners
from replay.checks.shared import breaks, words
from replay.checks.shared.history import gain_tried
from replay.checks.shared.instants import PLAYER
from replay.checks.shared.limit import Limit
from replay.checks.shared.machines import heard_as_machine
from replay.checks.shared.place import of_tracks, source_name, views_of
from replay.desk.model import Show, TrackView
from replay.findings.finding import Finding
from replay.text import clock
from replay.units import db

CODE = "click"
TITLE = "clicks"
LIMITS: Mapping[str, Limit] = {
    **breaks.LIMITS,
    "click_many": Limit(2, "clicks", "from so many on it is a warning", least=1),
}

MOVE_S = 1.5
"""How far off the place of a gain move may be that was made while the source plays."""

EDGE_S = 0.1
"""A contact and a radio click beside their bursts and dropouts as well, within so much."""

TOGETHER_FRAMES = 2
TOGETHER_SHARE = 0.8
"""Of a pair's clicks so many come on both sides at once, to the frame or so: one cause."""


def check(show: Show) -> Iterator[Finding]:
    found = breaks.find(show)
    slipping = {number for instant in found.slips for number in instant.tracks}
    own: dict[int, np.ndarray] = {}
    for track in show.tracks:
        number = track.track.number
        events = found.clicks[number]
        views = views_of(show, track)
        if len(events) == 0 or any(view.channel.use == "off" for view in views):
            continue
        if heard_as_machine(show, track):
            continue
        events = events[~corners(show, track, events)]
        events = events[~_of_another_cause(show, track, events["start"] / track.measurement.rate)]
        # One more break where the clock slips is a slip that other sounds hide on all other tracks.
        if len(events) == 0 or (len(events) < show.limit("click_many") and number in slipping):
            continue
        own[number] = events
    tracks = {track.track.number: track for track in show.tracks}
    partner = {number: _other_side(show, tracks[number], own) for number in own}
    for number, events in own.items():
        other = partner[number]
        if other is None or partner[other] != number:
            yield _finding(show, [tracks[number]], events)
        elif number < other:
            more = max((events, own[other]), key=len)
            yield _finding(show, [tracks[number], tracks[other]], more)


def _other_side(show: Show, track: TrackView, own: Mapping[int, np.ndarray]) -> int | None:
    """The track of the pair's other side, where both click at the same instants."""
    partners = {view.channel.pair for view in views_of(show, track)} - {None}
    for view in show.channels:
        other = None if view.track is None else view.track.track.number
        if view.channel.number not in partners or other is None or other not in own or other == track.track.number:
            continue
        here, there = own[track.track.number]["start"], own[other]["start"]
        apart = np.abs(here[:, None] - there[None, :]).min(axis=0 if len(there) > len(here) else 1)
        if (apart <= TOGETHER_FRAMES).mean() >= TOGETHER_SHARE:
            return other
    return None


def _finding(show: Show, tracks: Sequence[TrackView], events: np.ndarray) -> Finding:
    track = tracks[0]
    views = views_of(show, track)
    times = events["start"] / track.measurement.rate
    size = db(float(np.abs(events["value"]).max()) * gain_tried(track))
    noted = track.measurement.event_counts.get("click", 0) > len(track.measurement.events_of("click"))
    where = words.listed([clock(float(time)) for time in times], most=4)
    number = ("at least " if noted else "") + words.count(len(events), "click")
    many = len(events) >= show.limit("click_many")
    made = any(view.channel.kind in PLAYER for view in views)
    where_to = source_name(views[0]) if views else "the source"
    action = f"Listen there; check cable, connection and converter at {where_to}."
    if len(tracks) > 1:
        number += " on both sides at once"
        action = f"Listen there; if the source did not make it, look at the clock of the device at {where_to}."
    return Finding(
        code=CODE,
        severity="warning" if many and not made else "note",
        confidence="possible" if made else "likely",
        message=f"{number} up to {words.level(size, 'dBFS')}, at {where}.",
        action=action,
        start_s=float(times[0]),
        end_s=float(times[-1]),
        amount=float(len(events)),
        unit="clicks",
        **of_tracks(show, [one.track.number for one in tracks]),
    )


def _of_another_cause(show: Show, track: TrackView, times: np.ndarray) -> np.ndarray:
    """bool: clicks that a crackle, a radio or a step of the gain makes. Those farther from all bursts of a crackle than
    its longest pause, and those that no dropout of a radio and no step is near, have a cause of their own."""
    explained = np.zeros(len(times), bool)
    bursts = crackle.bursts_of(show, track) / 100
    if len(bursts):
        pause = float(np.diff(bursts[:, 0]).max(initial=EDGE_S))
        explained |= (times >= bursts[0, 0] - pause) & (times <= bursts[-1, 1] + pause)
    mutes, noises = rf_mute.dropouts_of(show, track)
    for start in (*mutes, *noises):
        explained |= (times >= start - EDGE_S) & (times <= start + rf_mute.LONGEST_S + EDGE_S)
    for move in gain_moved.moves_of(show).get(track.track.number, ()):
        first, last = max(move.first_s - EDGE_S, move.at_s - MOVE_S), min(move.last_s + EDGE_S, move.at_s + MOVE_S)
        explained |= (times >= first) & (times <= last)
    return explained
