"""A channel goes dead for a while: its floor or the bleed goes, not just the playing.

What it is
    For three seconds or more the track falls to digital silence, or to a steady level far below anything that it has
    otherwise, while the stage plays on.

Why it matters before a show
    A cable, a connector or a link lets go now and then. It will do so in the show.

How it is told
    An open microphone always hears the stage, so a rest in the music is not silence. Two ways, both on 100 ms levels
    of the whole take:
    (1) exact zeros for 3 s or more in the middle of a track that otherwise never rests on zero. Certain.
    (2) stretches of 3 s or more that are steady, lie 8 dB or more below everything else on the track, and in which
    the others play on, in a take whose microphones do hear one another. Likely.
    A fault for microphones. For DI, line and radio inputs only exact zeros are told, as a possible note, since these
    hear no bleed (where microphones go at the same moment, it is the link: one fault for all); a warning, likely, where
    two or more shorter gaps come within half a minute before, as when a transmitter dies. Nothing for digital
    inputs, playback, click and timecode, and nothing that is there from the start of the take on (before arming, before
    the microphone was plugged in).

What can fool it
    Recordings tapped after a gate or a mute. A microphone that was unplugged on purpose while the band played.

What to do
    Move the cable and its connectors while you watch the meter; change what lets go.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

import numpy as np

from replay.checks.shared import words
from replay.checks.shared.heard import only_noise
from replay.checks.shared.history import ZERO_DB, hop_levels, runs_of
from replay.checks.shared.limit import Limit
from replay.checks.shared.machines import heard_as_machine
from replay.checks.shared.place import of_tracks, source_name, views_of
from replay.checks.shared.stage import hears_nothing, stage_of, vote
from replay.desk.model import Show, TrackView
from replay.findings.finding import Finding
from replay.ranks import percentile_of, percentiles
from replay.text import ranges

CODE = "cuts-out"
TITLE = "goes dead for a while"
LIMITS: Mapping[str, Limit] = {
    "cuts_out_s": Limit(3.0, "seconds", "a stretch must last so long", least=0.5),
    "cuts_out_drop": Limit(8.0, "dB", "the stretch lies so much below everything else", least=3, most=100),
}

REST_S = 20.0
"""So much of the track must be alive to know what alive is like."""

STEADY_DB = 4.0
"""5th to 95th percentile of the 100 ms levels in a dead stretch: noise of electronics is steady, bleed is not."""

GATED_GAPS = 3
"""A track with so many shorter rests on zero is gated, or made by a machine: rests on zero are its nature ..."""

OPEN_HOPS, OPEN_DB, OPEN_UNDER_DB = 10, 6.0, 30.0
"""... unless it rests openly for longer (on a floor, far below what it plays), and they come just before it dies."""

STUTTERS, STUTTER_HOPS = 2, 300
"""So many gaps within half a minute before: no hand on a switch does that."""

SHARE_DEAF = 1 / 3
"""Where so many microphones hear nothing of the others, a fall to the floor says nothing."""

PAUSE_HOPS = 20
BLEED_BELOW = 15.0
BLEED_SHARE = 0.1
"""Two seconds of pause show the room's floor. Without pauses: bleed lies so many dB below the loud level, and so much
of the time."""


@dataclass(frozen=True)
class Cut:
    """Dead stretches of one track in hops; `zeros`: digital silence; how far below; how many short gaps come before."""

    track: TrackView
    stretches: tuple[tuple[int, int], ...]
    zeros: bool
    drop_db: float | None
    stutters: int = 0


def check(show: Show) -> Iterator[Finding]:
    tracks = [track for track in show.tracks if _analogue(show, track)]
    microphones = [track for track in tracks if _inputs(show, track) == {"mic"}]
    zeros = _zero_cuts(show, tracks)
    found = {cut.track.track.number for cut in zeros}
    yield from _told(show, zeros)
    yield from _told(show, _falls(show, [track for track in microphones if track.track.number not in found]))


def _analogue(show: Show, track: TrackView) -> bool:
    """Tracks whose floor says something: alive, from a preamp, on a channel in use."""
    views = [view for view in views_of(show, track) if view.channel.use != "off"]
    kinds = {view.channel.kind for view in views}
    if not views or kinds & {"playback", "click", "timecode"} or "digital" in _inputs(show, track):
        return False
    return not track.all_zero and not heard_as_machine(show, track)


def _inputs(show: Show, track: TrackView) -> set[str]:
    return {view.channel.input for view in views_of(show, track)}


def _zero_cuts(show: Show, tracks: list[TrackView]) -> list[Cut]:
    """Stretches of exact zeros inside tracks that otherwise never rest on zero."""
    cuts: list[Cut] = []
    gated = 0
    least = show.limit("cuts_out_s") * 10
    for track in tracks:
        levels = hop_levels(track.measurement, keep_zeros=True)
        alive = np.flatnonzero(levels > ZERO_DB)
        if not alive.size:
            continue
        runs = [(int(a), int(b)) for a, b in runs_of(levels == ZERO_DB)]
        # Before the track comes alive nothing is told; after its last sound only what lasts long enough can be.
        runs = [(a, b) for a, b in runs if a > alive[0]]
        long = tuple(run for run in runs if run[1] - run[0] >= least)
        short = [(a, b) for a, b in runs if b - a < least and b <= alive[-1]]
        stutters = sum(1 for _, b in short if long and 0 <= long[0][0] - b <= STUTTER_HOPS)
        dying = len(short) == stutters and _rests_openly(levels, sum(b - a for a, b in short))
        if len(short) >= GATED_GAPS and not dying:
            gated += 1
        elif long and alive.size >= REST_S * 10:
            cuts.append(Cut(track, long, True, None, stutters))
    if gated > SHARE_DEAF * len(tracks):
        return []
    return _without_common_end(cuts, len(tracks))


def _rests_openly(levels: np.ndarray, closed_hops: int) -> bool:
    """Whether a track's own floor is heard for longer than its short rests on zero last: a gate leaves none."""
    alive = levels[levels > ZERO_DB]
    floor, loud = percentiles(alive, 5, 95)
    if floor > loud - OPEN_UNDER_DB:
        return False
    runs = runs_of((levels > ZERO_DB) & (levels <= floor + OPEN_DB))
    lengths = runs[:, 1] - runs[:, 0]
    return int(lengths[lengths >= OPEN_HOPS].sum()) > max(closed_hops, 3 * OPEN_HOPS)


def _without_common_end(cuts: list[Cut], tracks: int) -> list[Cut]:
    """Where every track ends on zeros, the recording was over; that is no cut."""
    ending = [cut for cut in cuts if cut.stretches[-1][1] >= cut.track.measurement.hops - 1]
    if len(ending) < tracks or len(ending) < 2:
        return cuts
    shorter = [replace(cut, stretches=cut.stretches[:-1]) for cut in cuts]
    return [cut for cut in shorter if cut.stretches]


def _falls(show: Show, tracks: list[TrackView]) -> list[Cut]:
    """Steady stretches far below all else, while the others play on; `tracks` are microphones."""
    tracks = [track for track in tracks if not only_noise(show, track)]
    if len(tracks) < 3:
        return []
    stage = stage_of(tracks, max(track.measurement.hops for track in tracks))
    cuts, deaf = [], set()
    for track in tracks:
        levels = hop_levels(track.measurement, keep_zeros=True)
        plays = stage.plays_without(vote(levels))[: levels.size]
        if (cut := _fall(show, track, levels, plays)) is not None:
            cuts.append(cut)
        if hears_nothing(levels, plays):
            deaf.add(track.track.number)
    if len(cuts) > max(SHARE_DEAF * len(tracks), 1):
        return []
    return [cut for cut in cuts if len(deaf - {cut.track.track.number}) <= SHARE_DEAF * (len(tracks) - 1)]


def _fall(show: Show, track: TrackView, levels: np.ndarray, plays: np.ndarray) -> Cut | None:
    drop, least = show.limit("cuts_out_drop"), round(show.limit("cuts_out_s") * 10)
    there = np.isfinite(levels)
    played = np.concatenate(([0], np.cumsum(plays)))
    before: np.ndarray | None = None
    steady: dict[tuple[int, int], bool] = {}
    for threshold in _thresholds(levels[there], drop, least):
        runs = runs_of(there & (levels < threshold))
        runs = runs[runs[:, 1] - runs[:, 0] >= least]
        if before is not None and np.array_equal(runs, before):
            continue
        before = runs
        # The cheap question first: most falls are pauses of the whole band, or were there from the start.
        asked = runs[(runs[:, 0] > np.argmax(there)) & (played[runs[:, 1]] - played[runs[:, 0]] >= least)]
        for run in map(tuple, asked.tolist()):
            if run not in steady:
                steady[run] = _is_steady(levels[slice(*run)])
        dead = tuple(run for run in map(tuple, asked.tolist()) if steady[run])
        if not dead:
            continue
        inside = np.zeros(levels.size, bool)
        for a, b in runs:
            inside[a:b] = True
        rest = levels[there & ~inside]
        if rest.size < REST_S * 10:
            continue
        floor, ceiling = np.percentile(rest, 1), np.percentile(levels[inside], 99)
        if floor - ceiling >= drop and _knows_better(levels, inside, plays):
            return Cut(track, dead, False, float(floor - ceiling))
    return None


def _thresholds(levels: np.ndarray, drop: float, least: int) -> np.ndarray:
    """Levels with next to nothing on the track within `drop` dB above them: only there can a fall be seen."""
    if levels.size < REST_S * 10 + least:
        return np.empty(0)
    edges = np.arange(np.floor(levels.min()) - 1, np.ceil(levels.max()) + 2)
    upto = np.concatenate(([0], np.cumsum(np.histogram(levels, edges)[0])))
    wide = max(round(drop) - 1, 1)
    between = upto[wide:] - upto[:-wide]
    empty = between <= 0.02 * levels.size
    useful = (upto[:-wide] >= 0.9 * least) & (upto[wide:] <= levels.size - REST_S * 9)
    return edges[:-wide][empty & useful] + wide / 2


def _knows_better(levels: np.ndarray, dead: np.ndarray, plays: np.ndarray) -> bool:
    """True where the track shows elsewhere that it hears more than its own source: a floor in the band's pauses that
    is not the dead one, or, in a take without pauses, moments with far less than its loud level and still alive."""
    there = np.isfinite(levels)
    pause = there & ~plays
    if pause.sum() >= PAUSE_HOPS:
        return bool((pause & ~dead).sum() >= 0.5 * pause.sum())
    alive = levels[there & ~dead]
    return bool(np.mean(alive <= np.percentile(alive, 95) - BLEED_BELOW) >= BLEED_SHARE)


def _is_steady(levels: np.ndarray) -> bool:
    # Asked of every pause of an hour, some tens of values each: numpy's percentile takes ten times as long for so few.
    ranked = np.sort(levels)
    return percentile_of(ranked, 0.95) - percentile_of(ranked, 0.05) <= STEADY_DB


def _told(show: Show, cuts: list[Cut]) -> Iterator[Finding]:
    """Cuts at the same moments have one cause and are told once."""
    groups: dict[tuple[tuple[int, int], ...], list[Cut]] = {}
    for cut in cuts:
        for stretches, group in groups.items():
            if _same(stretches, cut.stretches):
                group.append(cut)
                break
        else:
            groups[cut.stretches] = [cut]
    for group in groups.values():
        inputs = set().union(*(_inputs(show, cut.track) for cut in group))
        yield _finding(show, group, inputs)


def _same(one: tuple[tuple[int, int], ...], other: tuple[tuple[int, int], ...]) -> bool:
    return len(one) == len(other) and all(
        abs(a - c) <= 1 and abs(b - d) <= 1 for (a, b), (c, d) in zip(one, other, strict=True)
    )


def _finding(show: Show, group: list[Cut], inputs: set[str]) -> Finding:
    cut, fault = group[0], "mic" in inputs
    numbers = [one.track.track.number for one in group]
    total = sum(stop - start for start, stop in cut.stretches) / 10
    longest = max(cut.stretches, key=lambda stretch: stretch[1] - stretch[0])
    who = "" if len(group) == 1 else f"Tracks {ranges(numbers)} together: "
    times = len(cut.stretches)
    if times == 1:
        text = f"dead for {words.span(total)} {words.at(longest[0] / 10)}"
    else:
        length = words.span((longest[1] - longest[0]) / 10)
        text = f"dead {times} times, {words.span(total)} in all, the longest {length} {words.at(longest[0] / 10)}"
    dies = len(group) == 1 and cut.stutters >= STUTTERS
    if cut.zeros:
        text += ": digital silence, though no preamp is ever that quiet"
        text += f", after {cut.stutters} short gaps" if dies else ""
    else:
        text += f": {words.plain(cut.drop_db or 0.0)} dB below its quietest otherwise, while the others play on"
    text = who + (text if who else text[0].upper() + text[1:])
    where = source_name(views_of(show, cut.track)[0])
    if len(group) > 1:
        action = "Look for what these tracks share: the link, the box, its power."
    elif dies and inputs == {"rf"}:
        action = f"See to the transmitter and its battery, then to the receiver and its line at {where}."
    elif cut.zeros:
        action = f"Check the way from {where} to the recorder: the link, the box, a mute on the way."
    else:
        action = f"Move the cable and connectors at {where} while you watch the meter, and change what lets go."
    return Finding(
        code=CODE,
        severity="fault" if fault else "warning" if dies else "note",
        confidence=("certain" if cut.zeros else "likely") if fault else "likely" if dies else "possible",
        message=f"{text}.",
        action=action,
        start_s=cut.stretches[0][0] / 10,
        end_s=cut.stretches[-1][1] / 10,
        amount=round(total, 1),
        unit="s",
        **of_tracks(show, numbers),
    )
