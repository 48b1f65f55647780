"""Which of the noted clicks are breaks of the signal: sorted once for the checks that tell them.

Left out are the edges of what other checks tell (clipped and flat tops, held values, repeats), and what a source does
by itself: an onset or a hard end (the level goes on differently), a tone with edges (the same break over and over), a
sound in the room that is as sharp as a click (microphones hear it one after the other).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from replay.checks.shared.history import gain_tried
from replay.checks.shared.instants import LEAST_SOURCES, Instant, apart, sources, together
from replay.checks.shared.limit import Limit
from replay.desk.model import Show, TrackView
from replay.grid import cell_starts
from replay.meters.model import Measurement
from replay.units import amplitude

LIMITS = {
    "click_ratio": Limit(10.0, "times", "a click stands out so much against what surrounds it", least=3),
    "click_least": Limit(-60.0, "dBFS", "smaller clicks are not told", -120, 0),
}

EDGE = 100
"""Frames around held values, repeats and clip runs in which a break belongs to them."""

BEND = 0.5
"""A break of more than half the level at which the track clips is no corner of a top (`flat_topped` has the same)."""

FLAT_BEND = 0.1
"""Where nothing else says that a track clips, only a break of less than a tenth of the top's level is its corner; those
of a trumpet, a saxophone and voices that clipped for a sample or two reached a twentieth."""

AT_TOP = 0.97
"""What is cut off stops at the track's highest level, give or take what filters behind it add."""

BUSY_PER_S = 5.0
"""A track with more candidates a second has edges of its own, and is not asked about the clock."""

CROWD_S = 0.1
CROWD_RATIO = 4.0
"""Another break within 0.1 s, not 12 dB smaller: a tone with edges, whatever its pitch."""

TRAIN = 4
"""So many other breaks within CROWD_S are a tone with edges, such as a brass note: microphones at which its waves
arrive in step share them for as long as it lasts."""

MANY_SOURCES = 8
"""On so many sources no tone arrives in step, and breaks that come in trains count too: a link may fail in bursts."""

ONSET_CELLS = 3
ONSET_DB = 8.0
END_DB = 20.0
"""Level of the 30 ms behind a break over that of the 30 ms before it from which on a sound begins there, and the fall
from which on one ends; a click does neither."""

ROOM_S = 0.05
"""Sound goes 17 m in that time: what reaches three sources within it, and not all at once, came through the air."""

ROOM_RATIO = 0.5
"""Farther microphones hear it less sharp: breaks count there from this share of the ratio asked of a click."""


@dataclass(frozen=True)
class Breaks:
    """The clicks of the tracks by number (events), and the instants that many tracks share."""

    clicks: dict[int, np.ndarray]
    slips: tuple[Instant, ...]


def candidates(track: TrackView) -> np.ndarray:
    """The noted clicks that are not another fault's edges."""
    measurement = track.measurement
    events = measurement.events_of("click")
    return events[_noted(measurement, "breaks", lambda: _no_edges(events, measurement))] if len(events) else events


def _no_edges(events: np.ndarray, measurement: Measurement) -> np.ndarray:
    """bool: clicks that do not lie at the edges of what else was noted, nor where tops are cut off flat or clipped."""
    edges = []
    for kind in ("held", "rest", "faint", "repeat", "clip-run"):
        others = measurement.events_of(kind)
        edges += [others["start"], others["start"] + others["length"]]
    keep = apart(events["start"], np.concatenate(edges), EDGE)
    hops = np.minimum(events["start"] * 10 // measurement.rate, measurement.hops - 1)
    flat = (measurement.column("flat_high") + measurement.column("flat_low")) > 0
    return keep & ~flat[hops] & ~_clipped_tops(events, measurement, hops)


def _clipped_tops(events: np.ndarray, measurement: Measurement, hops: np.ndarray) -> np.ndarray:
    """bool: breaks no larger than a wave's bend in moments that reach the level at which the track clips: tops of one
    or two samples there are no clip runs, and bend as sharply."""
    runs = measurement.events_of("clip-run")
    if not len(runs):
        return np.zeros(len(events), bool)
    top = float(np.abs(runs["value"]).min())
    peaks = np.maximum(measurement.column("high"), -measurement.column("low"))[hops]
    return np.asarray((peaks >= top) & (np.abs(events["value"]) <= BEND * top))


def _brief_tops(events: np.ndarray, measurement: Measurement) -> np.ndarray:
    """bool: breaks at the tops of waves where the track is as loud as it ever gets: what clipped for no more than a
    sample or two leaves neither runs nor plateaus. No clicks, but a slip of the clock may fall there as anywhere."""
    hops = np.minimum(events["start"] * 10 // measurement.rate, measurement.hops - 1)
    found = np.zeros(len(events), bool)
    for peaks in (measurement.column("high"), -measurement.column("low")):
        top = float(peaks.max(initial=0.0))
        found |= (peaks[hops] >= AT_TOP * top) & (np.abs(events["value"]) <= FLAT_BEND * top)
    return found & (events["length"] > 1)


def _noted(measurement: Measurement, question: str, find: Callable[[], np.ndarray]) -> np.ndarray:
    """An array of bool, kept between runs."""
    text = measurement.once(question, lambda: find().astype("u1").tobytes().hex()[1::2])
    return np.frombuffer(text.encode(), "u1") == ord("1")


def find(show: Show) -> Breaks:
    """Clicks and slips of the whole take, each told by one of the two checks."""
    found: Breaks = show.once("breaks", lambda: _find(show))
    return found


def _find(show: Show) -> Breaks:
    noted = {track.track.number: candidates(track) for track in show.tracks}
    asked = {}
    for track in show.tracks:
        number = track.track.number
        seconds = sum(stop - start for start, stop in track.measurement.coverage) / track.measurement.rate
        if track.measurement.event_counts.get("click", 0) <= BUSY_PER_S * seconds:
            asked[number] = noted[number]["start"][~_onsets(noted[number], track)]
    slips = _slips(show, noted, asked)
    shared = [instant.frame for instant in slips]
    least = amplitude(show.limit("click_least"))
    ratio = show.limit("click_ratio")
    heard = _heard_in_turn(show, noted, shared, ROOM_RATIO * ratio)
    at_once = _at_once(show, noted) if slips else {}
    clicks = {}
    for track in show.tracks:
        events = noted[track.track.number]
        strong = (np.abs(events["value"]) >= np.maximum(ratio * events["against"], least / gain_tried(track))) & apart(
            events["start"], shared, 2
        )
        if strong.any():
            strong[strong] = ~_crowded(events, track, np.flatnonzero(strong))
            strong &= ~_onsets(events, track) & ~_brief_tops(events, track.measurement)
            strong &= ~np.isin(events["start"], heard.get(track.track.number, ()))
            strong &= ~np.isin(events["start"], at_once.get(track.track.number, ()))
        clicks[track.track.number] = events[strong]
    return Breaks(clicks, slips)


def _slips(show: Show, noted: dict[int, np.ndarray], asked: dict[int, np.ndarray]) -> tuple[Instant, ...]:
    """The instants that many sources share, other than the waves of one tone."""
    source = sources(show)
    lone = {number: starts[~_in_train(starts, noted[number], show.take.rate)] for number, starts in asked.items()}
    frames = {number: frozenset(starts.tolist()) for number, starts in lone.items()}
    found = []
    for instant in together(asked, source, 1, show.take.frames):
        here = (instant.frame, instant.frame + 1)
        alone = {source[number] for number in instant.tracks if not frames[number].isdisjoint(here)}
        if len(alone) >= LEAST_SOURCES or len({source[number] for number in instant.tracks}) >= MANY_SOURCES:
            found.append(instant)
    return tuple(found)


def _in_train(starts: np.ndarray, events: np.ndarray, rate: int) -> np.ndarray:
    """bool (starts,): TRAIN more of a track's breaks lie within CROWD_S of these."""
    reach = CROWD_S * rate
    first = np.searchsorted(events["start"], starts - reach)
    stop = np.searchsorted(events["start"], starts + reach, "right")
    return stop - first > TRAIN


def _at_once(show: Show, noted: dict[int, np.ndarray]) -> dict[int, np.ndarray]:
    """The breaks (frames) of each track that another source has too, within one frame. Where the clock slips, these
    are slips that other sounds hide on the other tracks."""
    source = sources(show)
    found = {}
    for number, events in noted.items():
        others = [other["start"] for one, other in noted.items() if source[one] != source[number]]
        elsewhere = np.concatenate([np.zeros(0, np.int64), *others])
        found[number] = events["start"][~apart(events["start"], elsewhere, 1)]
    return found


def _heard_in_turn(show: Show, noted: dict[int, np.ndarray], shared: list[int], ratio: float) -> dict[int, np.ndarray]:
    """The breaks (frames) of each track that other sources have within ROOM_S, one after the other."""
    sharp = {}
    for number, events in noted.items():
        clear = np.abs(events["value"]) >= ratio * events["against"]
        sharp[number] = events["start"][clear & apart(events["start"], shared, 2)]
    within = round(ROOM_S * show.take.rate)
    heard: dict[int, list[np.ndarray]] = {}
    for instant in together(sharp, sources(show), within, show.take.frames):
        for number in instant.tracks:
            starts = sharp[number]
            here = starts[(starts >= instant.frame) & (starts <= instant.frame + within)]
            heard.setdefault(number, []).append(here)
    return {number: np.concatenate(frames) for number, frames in heard.items()}


def _crowded(events: np.ndarray, track: TrackView, places: np.ndarray) -> np.ndarray:
    """bool, one for each of `places` in `events`: a similar break lies within CROWD_S."""
    times, sizes = events["start"] / track.measurement.rate, np.abs(events["value"])
    found = np.zeros(len(places), bool)
    firsts, stops = np.searchsorted(times, times[places] - CROWD_S), np.searchsorted(times, times[places] + CROWD_S)
    for at, (place, first, stop) in enumerate(zip(places, firsts, stops, strict=True)):
        found[at] = int((sizes[first:stop] * CROWD_RATIO >= sizes[place]).sum()) > 1
    return found


def _onsets(events: np.ndarray, track: TrackView) -> np.ndarray:
    """bool, for all candidates of a track: the level behind a break is another than before it."""
    measurement = track.measurement
    return (
        _noted(measurement, "onsets", lambda: _levels_change(events, measurement)) if len(events) else np.zeros(0, bool)
    )


def _levels_change(events: np.ndarray, measurement: Measurement) -> np.ndarray:
    energy = measurement.column("k_energy_10ms").astype(np.float64)
    starts = cell_starts(len(energy), measurement.rate)
    cells = np.searchsorted(starts, events["start"], "right") - 1
    found = np.zeros(len(events), bool)
    for at, cell in enumerate(cells):
        before = energy[max(cell - ONSET_CELLS, 0) : cell]
        after = energy[cell + 1 : cell + 1 + ONSET_CELLS]
        if len(before) and len(after):
            rise = 10 ** (ONSET_DB / 10) * before.mean()
            fall = 10 ** (-END_DB / 10) * before.mean()
            found[at] = after.mean() > rise or after.mean() < fall
    return found
