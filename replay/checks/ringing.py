"""Feedback: one tone grows and holds.

What it is
    A wedge feeds a microphone: a single line grows evenly, in decibels per second, until something limits it.

Why it matters before a show
    It will ring again at the same frequency as soon as the monitors are up.

How it is told
    In one octave the level rises along a straight line in decibels by 10 dB or more over at least 0.3 s, then holds
    within 1 dB for 0.6 s or more, and is then seven tenths of all that the microphone hears. 7 dB are enough where it
    holds for a second or more and what else is heard comes and goes under it. The octave above does not
    rise with it: an instrument that swells has overtones. A warning, likely, for microphones; several that ring at one
    moment are told together, the loudest one named. Under 2 s on a player of winds, strings or keys it may be a note
    that swells: then it is a note, possible; so it is where nearly all that such a player plays is single tones, as an
    ocarina's. Nothing for guitars and bass (whose feedback is played), playback and lines.

What can fool it
    A test tone faded in evenly, in decibels, and held; rarely a whistle or an ocarina. What begins with a jump is a
    note (on a player, so is what grows by more than 12 dB in 0.1 s), and a note that a player lets grow rises ever less
    before it holds: none of these is told.

What to do
    Find the tone in the monitors, turn it down there, and move the microphone or the wedge.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np

from replay.checks.shared import words
from replay.checks.shared.limit import Limit
from replay.checks.shared.machines import heard_as_machine
from replay.checks.shared.place import of_tracks, views_of
from replay.desk.model import Show, TrackView
from replay.findings.finding import Finding
from replay.meters.model import Measurement
from replay.text import ranges

CODE = "ringing"
TITLE = "feedback"
LIMITS: Mapping[str, Limit] = {"ringing_rise": Limit(10.0, "dB", "so much the tone must grow", least=6, most=60)}

Ring = tuple[float, float, int, float, int]
"""Start and end in seconds, band, level in dBFS, track."""

ONE_END_S = 0.5

BANDS = (3, 4, 5, 6, 7, 8)
NAMES = {
    3: "190 and 375",
    4: "375 and 750",
    5: "750 and 1500",
    6: "1500 and 3000",
    7: "3000 and 6000",
    8: "6000 and 12000",
}
RISE_HOPS = 3
MOST_RISE_HOPS = 40
HOLD_HOPS = 6
HOLD_DB = 1.0
SHARED_DB = 1.0
SHARED_SHARE = 0.6
SHARED = 0.25
STRAIGHT_DB = 2.0
UNBENT = 0.75
"""A player's note that is let grow rises ever less in decibels; where a source covers the beginning, ever more."""

ONSET_HOPS = 3
ONSET_DB = 12.0
"""Where the octave jumps by so much just before it grows, a note has begun. So it has where a player's octave grows by
more than that in every hop: a wind's attack of a tenth of a second, cut in two by the grid of hops."""

PLAYED = frozenset({"brass", "woodwind", "strings", "keys", "acoustic"})
PLAYED_HOLD_S = 2.0
"""What these play swells and holds a single pure note now and then; feedback goes on until somebody turns it down."""

SINE_SHARE = 0.9
"""Where so much of what else is loud on a track is a single tone too, that is how its instrument sounds: an ocarina, a
whistle. Voices, brass and flutes stay below 0.85."""

LOUD_WITHIN_DB = 15.0
AROUND_HOPS = 5
LEAST_LOUD_HOPS = 30

UNDER_HOPS, UNDER_DB, UNDER_SHARE = 10, 10.0, 0.7
"""Where a tone holds for a second or more while what else is heard moves by so much, the source plays on under it and
hid its beginning: then this share of the rise is enough. Under a note that somebody holds nothing moves but bleed."""

ALONE = 0.7
OVERTONES = 0.1
TINY = 1e-14


def check(show: Show) -> Iterator[Finding]:
    rung: list[Ring] = []
    players: set[int] = set()
    sines: set[int] = set()
    for track in show.tracks:
        views = [view for view in views_of(show, track) if view.channel.use != "off"]
        if not views or not {view.channel.input for view in views} <= {"mic", "rf"}:
            continue
        if {view.channel.kind for view in views} & {"guitar", "bass", "playback", "timecode", "click"}:
            continue
        if heard_as_machine(show, track):
            continue
        played = bool({view.channel.kind for view in views} & PLAYED)
        found, like_it = _rings(track, show.limit("ringing_rise"), played)
        if played:
            players.add(track.track.number)
            if like_it >= SINE_SHARE:
                sines.add(track.track.number)
        for start, end, band, level in found:
            rung.append((start, end, band, level, track.track.number))
    tones: dict[tuple[int, int, bool], list[list[Ring]]] = {}
    while rung:
        first = max(rung, key=lambda one: one[3])
        group = [one for one in rung if _same_tone(one, first)]
        rung = [one for one in rung if one not in group]
        swells = first[4] in sines or (first[4] in players and first[1] - first[0] < PLAYED_HOLD_S)
        # The microphone that hears it loudest stands first. One tone that comes back is told once.
        tones.setdefault((first[4], first[2], swells), []).append([first, *(one for one in group if one != first)])
    for (number, band, swells), times in tones.items():
        yield _finding(show, number, band, swells, sorted(times))


def _finding(show: Show, number: int, band: int, swells: bool, times: list[list[Ring]]) -> Finding:
    firsts = [group[0] for group in times]
    numbers = {one[4] for group in times for one in group}
    many = f" (tracks {ranges(sorted(numbers))} hear it)" if len(numbers) > 1 else ""
    longest = max(one[1] - one[0] for one in firsts)
    when = f"{words.at(firsts[0][0])}, for {words.span(longest)}"
    if len(firsts) > 1:
        when = f"{words.count(len(firsts), 'time')}, first {words.at(firsts[0][0])}, for up to {words.span(longest)}"
    return Finding(
        code=CODE,
        severity="note" if swells else "warning",
        confidence="possible" if swells else "likely",
        message=f"A single tone between {NAMES[band]} Hz grows evenly and holds {when}{many}: "
        f"{'feedback, or a note that swells' if swells else 'feedback'}.",
        action="Find the tone in the monitors and turn it down there; move the microphone or the wedge.",
        start_s=min(one[0] for group in times for one in group),
        end_s=max(one[1] for group in times for one in group),
        amount=round(max(one[3] for one in firsts), 1),
        unit="dBFS",
        key=f"{firsts[0][0]:.0f}s",
        **of_tracks(show, [number]),
    )


def _same_tone(one: Ring, other: Ring) -> bool:
    """Whether two microphones hear one tone: at one time in one octave, or across an edge with one end."""
    if one[0] > other[1] or one[1] < other[0]:
        return False
    return one[2] == other[2] or (abs(one[2] - other[2]) == 1 and abs(one[1] - other[1]) <= ONE_END_S)


def _rings(track: TrackView, least_rise: float, played: bool) -> tuple[list[tuple[float, float, int, float]], float]:
    """Start and end in seconds, band, and level in dBFS of every tone that grows and holds; and which share of what
    else is loud on the track is a single tone as well."""
    found, like_it = track.measurement.once(
        f"rings {least_rise!r} {played}", lambda: list(_rings_of(track.measurement, least_rise, played))
    )
    return [(start, end, band, level) for start, end, band, level in found], like_it


def _rings_of(
    measurement: Measurement, least_rise: float, played: bool
) -> tuple[list[tuple[float, float, int, float]], float]:
    octaves = [measurement.column(f"band_{band}").astype(np.float64) for band in range(11)]
    edges = {band: octaves[band] + TINY for band in range(2, 11)}
    # What lies on an edge between octaves loses up to half in both: so the octaves' own sum is all that there is.
    energy = np.sum(octaves, axis=0) + TINY
    mean = measurement.column("energy") / (measurement.rate / 10)
    found: list[tuple[float, float, int, float]] = []
    single = np.zeros(len(mean), bool)
    for band in BANDS:
        # Near an edge the tone lies in two octaves, always in the same proportion.
        for near in (band, band + 1):
            tone = edges[band] if near == band else edges[band] + edges[near]
            if near != band and band == BANDS[-1]:
                continue
            above = edges[near + 1]
            pure = (tone >= ALONE * energy) & (above <= OVERTONES * tone) & (mean > 1e-6)
            single |= pure
            found += _held(tone, energy, pure, mean, band, least_rise, edges if near != band else None, played)
    unique: list[tuple[float, float, int, float]] = []
    for one in sorted(found):
        if not unique or one[0] > unique[-1][1]:
            unique.append(one)
    return unique, _share_of_single(single, mean, unique)


def _share_of_single(single: np.ndarray, mean: np.ndarray, rings: list[tuple[float, float, int, float]]) -> float:
    """How much of what is loud besides the rings is a single tone; 0 where too little is loud to say."""
    loud = mean >= np.percentile(mean, 95) * 10 ** (-LOUD_WITHIN_DB / 10)
    for start, end, _, _ in rings:
        loud[max(0, round(start * 10) - AROUND_HOPS) : round(end * 10) + AROUND_HOPS] = False
    return float(single[loud].mean()) if loud.sum() >= LEAST_LOUD_HOPS else 0.0


def _held(
    tone: np.ndarray,
    energy: np.ndarray,
    pure: np.ndarray,
    mean: np.ndarray,
    band: int,
    least_rise: float,
    edges: Mapping[int, np.ndarray] | None,
    played: bool,
) -> list[tuple[float, float, int, float]]:
    # Holds are rare: only where a run of pure hops is long enough is anything else looked at.
    counts = np.concatenate([[0], np.cumsum(pure)])
    likely = np.flatnonzero(counts[HOLD_HOPS:] - counts[:-HOLD_HOPS] == HOLD_HOPS)
    if len(likely) == 0:
        return []
    levels = 10 * np.log10(tone)
    # Right at an edge an octave's energy beats with the grid of its samples; the whole of the hop does not.
    total = 10 * np.log10(np.maximum(mean, TINY))
    found = []
    at = 0
    hops = len(levels)
    for first in likely.tolist():
        hold = slice(first, first + HOLD_HOPS)
        if first < at or first + HOLD_HOPS >= hops or min(np.ptp(levels[hold]), np.ptp(total[hold])) > HOLD_DB:
            continue
        at = first
        steadier = total if np.ptp(total[hold]) < np.ptp(levels[hold]) else levels
        stop = at + HOLD_HOPS
        while stop < hops and pure[stop] and abs(steadier[stop] - steadier[at + 1]) <= HOLD_DB:
            stop += 1
        least = least_rise * (UNDER_SHARE if _sounds_on(np.maximum(energy[at:stop] - tone[at:stop], TINY)) else 1.0)
        rise = _began(levels, at, least, played)
        if rise is None and edges is not None and not played:
            # Where a voice covers one of the two octaves, the other shows the line alone; so would a player's note that
            # begins with a jump.
            shared = [one for one in (band, band + 1) if edges[one][at:stop].sum() >= SHARED * tone[at:stop].sum()]
            alone = [_began(_smoothed(edges[one]), at, least, played) for one in shared]
            rise = next((one for one in alone if one is not None), None)
        steady = np.ptp(total[hold]) <= HOLD_DB / 2
        if edges is not None and not steady:
            steady = _shared_alike(edges[band][at:stop] / edges[band + 1][at:stop])
        if rise is not None and (edges is None or steady):
            # What lies on the edge of two octaves is called by the one that holds more of it.
            share = 0.0 if edges is None else edges[band + 1][at:stop].sum() / tone[at:stop].sum()
            called = band + 1 if share > 0.5 else band
            found.append((rise / 10, stop / 10, called, float(10 * np.log10(mean[at:stop].mean()) + 3.01)))
        at = stop
    return found


def _sounds_on(rest: np.ndarray) -> bool:
    """Whether what else is heard comes and goes while a tone holds: then it is no note of the one who plays."""
    return len(rest) >= UNDER_HOPS and bool(np.ptp(np.percentile(10 * np.log10(rest), [10, 90])) >= UNDER_DB)


def _shared_alike(proportions: np.ndarray) -> bool:
    """Whether two octaves share a tone in one proportion all the time, but for what the source adds."""
    ordered = np.sort(proportions)
    most = int(np.ceil(SHARED_SHARE * len(ordered)))
    return bool(np.min(ordered[most - 1 :] / ordered[: len(ordered) - most + 1]) <= 10 ** (SHARED_DB / 10))


def _smoothed(energy: np.ndarray) -> np.ndarray:
    """Levels of an octave of which the edge's beats are taken out: a straight line stays one."""
    return 10 * np.log10(np.convolve(np.pad(energy, 1, "edge"), (0.25, 0.5, 0.25), "valid"))


def _began(levels: np.ndarray, at: int, least_rise: float, played: bool) -> int | None:
    """The hop from which the level rises by so much along a straight line to the hold at `at`."""
    rise = _rise(levels, at, played)
    if rise is None:
        rise = _rise(levels, at + 1, played)
    return rise if rise is not None and levels[at] - levels[rise] >= least_rise else None


def _rise(levels: np.ndarray, top: int, played: bool) -> int | None:
    """The hop from which the level rises along a straight line to the hold at `top`; None where it does not."""
    # The last step into the hold may be shorter: the line bends where the limit is reached.
    end = top
    start = end - 1
    while start > 0 and levels[start] - levels[start - 1] >= 0.3 and end - start < MOST_RISE_HOPS:
        start -= 1
    # Where the tone comes out of what else is heard, the line begins a little later.
    for first in range(start, end - RISE_HOPS + 1):
        hops = np.arange(first, end)
        if len(hops) < RISE_HOPS:
            break
        line = np.polyfit(hops, levels[first:end], 1)
        steps = np.diff(levels[first:end])
        half = len(steps) // 2
        # The last step may be cut short by the limit: it counts only where there are few.
        early, late = steps[:half].mean(), steps[half : len(steps) - (len(steps) > 5)].mean()
        straight = np.abs(np.polyval(line, hops) - levels[first:end]).max() <= STRAIGHT_DB
        onset = np.diff(levels[max(0, first - ONSET_HOPS) : first + 1]).max(initial=0.0) > max(ONSET_DB, 2 * line[0])
        onset |= played and line[0] > ONSET_DB
        if straight and line[0] > 0.3 and late >= UNBENT * early and not onset:
            return first
    return None
