"""Tops that are cut off flat below full scale: the source was clipped before the preamp.

What it is
    The waves have flat tops that always stop at the same level, and that level is not the converter's.

Why it matters before a show
    The distortion was there before the preamp: a pack, a DI box, an instrument's output or a microphone ran out of
    range. The preamp's gain does not cure it, and the recording stays distorted.

How it is told
    In each 100 ms, runs of four samples or more (or at least three runs of two) within a 640th of the highest one, from
    which the signal falls steeply on both sides; positive and negative tops apart. Told where such tops recur at the
    highest level of all, within 1 %, in at least four of the 100 ms (two on a microphone, where they stop at the very
    same level) and a fair share of those that reach that level, and hardly ever at lower levels. Tops of cymbals and
    tambourines last a sample or two: on microphones it is also told where the highest of six or more of the 100 ms stop
    within 0.004 dB of each other and hardly any comes close below. Not told for square waves, timecode, click tracks,
    nor where the converter itself clipped. A warning, likely.

What can fool it
    A distortion that is meant (an effect before the DI). Clipping before a coupling capacitor tilts the tops, and a low
    pass behind it rounds them: then nothing is told.

What to do
    Find where it clips: turn down the pack or the instrument's output, use the DI's or the microphone's pad. Leave the
    preamp as it is until then.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np

from replay.checks.clipped import is_square
from replay.checks.shared import words
from replay.checks.shared.history import gain_tried
from replay.checks.shared.level_action import source_words
from replay.checks.shared.limit import Limit
from replay.checks.shared.machines import is_machine
from replay.checks.shared.place import of_tracks, views_of
from replay.desk.model import Show, TrackView
from replay.findings.finding import Finding
from replay.grid import hop_starts
from replay.units import db

CODE = "flat-topped"
TITLE = "flat tops below full scale"
LIMITS: Mapping[str, Limit] = {
    "flat_topped_times": Limit(4, "times 100 ms", "flat tops in fewer of them are not told", least=2),
}

SAME_LEVEL = 0.01
"""Tops within 0.09 dB of the highest stop at one level."""

FLAT_SHARE = 0.15
FEW_SHARE = 0.6
"""So many of the moments that reach the level must be flat; more where there are fewer than the limit on one side."""

LOWER_SHARE = 0.05

PINNED = 5e-4
"""What is cut off stops within 0.004 dB, as far as the preamp's noise lets it; sounds of an instrument never do."""

PINNED_TIMES = 6
PINNED_BAND = 0.02
PINNED_BELOW = 0.25
"""So few of the moments within 0.18 dB of the top may lie below it: waves that are not cut off come to any height."""

TIED = 2
"""Moments on a microphone that stop at one level to within PINNED count double: that two do so is no chance."""

TIES = 0.15
"""A share of the lower moments that tie like that is a sample played over and over, each time at one of its levels; by
chance it is one in a hundred."""

BEND = 0.5
"""A break of more than half the tops' level is no corner: no wave runs into its top so steeply in one sample."""

CLICK_RATIO = 10.0
CLICKS_A_HOP = 0.05
"""Moments with a break so sharp are left out, unless breaks are part of the sound."""

LEAST_LOWER = 5
LIVELY_DB = 2.0

SQUARE_CREST_DB = -2.0
"""Moments whose power is within 2 dB of that of their peak hold a square wave, not the tops of music."""

FULL_SCALE = 0.985
"""Above this (-0.13 dBFS) it is the converter's own end."""


def check(show: Show) -> Iterator[Finding]:
    for track in show.tracks:
        views = views_of(show, track)
        if is_machine(show, track) or any(view.channel.use == "off" for view in views) or track.all_zero:
            continue
        sides = cut_off(show, track)
        if not sides:
            continue
        texts = []
        hops = []
        for name, (level, flat, _) in sides.items():
            way = "positive" if name == "high" else "negative"
            texts.append(f"{way} tops stop at {words.level(db(level), 'dBFS')} in {len(flat)} moments of 100 ms")
            hops += list(flat)
        where = source_words(views[0]) if views else "the source"
        yield Finding(
            code=CODE,
            severity="warning",
            confidence="likely",
            message=f"Cut off flat below full scale: {' and '.join(texts)}; the first {words.at(min(hops) / 10)}.",
            action=f"Find what clips before the preamp: turn down {where}, or use its pad; the preamp cannot cure it.",
            start_s=min(hops) / 10,
            end_s=max(hops) / 10 + 0.1,
            amount=db(max(level for level, *_ in sides.values())),
            unit="dBFS",
            **of_tracks(show, [track.track.number]),
        )


def cut_off(show: Show, track: TrackView) -> dict[str, tuple[float, np.ndarray, bool]]:
    """What `_side` gives of the sides of a track's waves that are cut off, by name of their peaks' column (`high`,
    `low`); empty where none is."""
    found: dict[str, tuple[float, np.ndarray, bool]] = show.once(
        f"cut off, track {track.track.number}", lambda: _cut_off(show, track)
    )
    return found


def _cut_off(show: Show, track: TrackView) -> dict[str, tuple[float, np.ndarray, bool]]:
    sides = {name: side for name in ("high", "low") if (side := _side(show, track, name)) is not None}
    weight = TIED if _by_microphone(show, track) else 1
    times = sum(len(cut) * (weight if tied else 1) for _, cut, tied in sides.values())
    if times < show.limit("flat_topped_times") or is_square(track):
        return {}
    return sides


def corners(show: Show, track: TrackView, events: np.ndarray) -> np.ndarray:
    """bool, one for each break of a track (events of the clicks meter): it is the corner of a top that is cut off. A
    click is larger than the bend of a wave, or stands above the tops."""
    measurement = track.measurement
    hops = np.minimum(events["start"] * 10 // measurement.rate, measurement.hops - 1)
    sizes = np.abs(events["value"]) * gain_tried(track)
    found = np.zeros(len(events), bool)
    for name, (level, _, _) in cut_off(show, track).items():
        peaks = np.abs(measurement.column(name))[hops] * gain_tried(track)
        found |= (np.abs(peaks - level) <= 2 * SAME_LEVEL * level) & (sizes <= BEND * level)
    return found


def tops(show: Show, track: TrackView, events: np.ndarray) -> np.ndarray:
    """bool, one for each run of equal samples of a track (events of the held meter): it is a top that is cut off."""
    values = events["value"] * gain_tried(track)
    found = np.zeros(len(events), bool)
    for name, (level, _, _) in cut_off(show, track).items():
        found |= np.abs(values - (level if name == "high" else -level)) <= 2 * SAME_LEVEL * level
    return found


def _side(show: Show, track: TrackView, name: str) -> tuple[float, np.ndarray, bool] | None:
    """The level at which one side's tops are cut off, the hops (100 ms) in which they are, and whether these stop at
    one level to within PINNED; None where not."""
    measurement = track.measurement
    peaks = np.abs(measurement.column(name))
    flat = measurement.column(f"flat_{name}") > 0
    times = np.arange(len(peaks)) / 10
    judged = (times + 0.05 > show.judged_from_s) & (times < show.judged_to_s)
    judged &= ~_clicked(track)
    peaks, flat = np.where(judged, peaks, 0.0), flat & judged
    top = float(peaks.max(initial=0.0))
    if top == 0.0 or top >= FULL_SCALE:
        return None
    at_top = peaks >= (1 - SAME_LEVEL) * top
    if _by_microphone(show, track) and (pinned := _pinned(track, peaks, top)) is not None:
        return float(np.median(peaks[pinned])) * gain_tried(track), pinned, True
    cut = np.flatnonzero(at_top & flat)
    share = FLAT_SHARE if len(cut) >= show.limit("flat_topped_times") else FEW_SHARE
    if len(cut) < 2 or len(cut) < share * at_top.sum():
        return None
    frames = np.diff(hop_starts(measurement.hops, measurement.rate))[cut]
    power = 10 * np.log10(measurement.column("energy")[cut] / frames)
    whole = 20 * np.log10(np.maximum(measurement.column("high"), -measurement.column("low"))[cut])
    if np.median(power - whole) > SQUARE_CREST_DB:
        return None
    tied = bool(peaks[cut].min() >= (1 - PINNED) * peaks[cut].max())
    # A source whose waves are flat whatever their level is built like that; one that never is lower must get louder
    # and softer below its flat tops.
    lower = (peaks < 0.9 * top) & (peaks > 0.1 * top)
    if lower.sum() < LEAST_LOWER:
        low, high = np.percentile(power, [10, 90])
        if not tied or high - low < LIVELY_DB:
            return None
    elif (flat & lower).sum() > LOWER_SHARE * lower.sum():
        return None
    tied = bool(peaks[cut].min() >= (1 - PINNED) * peaks[cut].max())
    return float(np.median(peaks[cut])) * gain_tried(track), cut, tied


def _clicked(track: TrackView) -> np.ndarray:
    """bool, by hop: a click stands in it, which may reach beyond the level at which tops are cut off."""
    measurement = track.measurement
    events = measurement.events_of("click")
    clicked = np.zeros(measurement.hops, bool)
    if len(events) <= CLICKS_A_HOP * measurement.hops:
        sharp = events[np.abs(events["value"]) >= CLICK_RATIO * events["against"]]
        clicked[np.minimum(sharp["start"] * 10 // measurement.rate, measurement.hops - 1)] = True
    return clicked


def _by_microphone(show: Show, track: TrackView) -> bool:
    """Whether all that the track carries is sound in a room, which never comes to one height twice."""
    views = views_of(show, track)
    return bool(views) and all(view.channel.input in ("mic", "rf") for view in views)


def _pinned(track: TrackView, peaks: np.ndarray, top: float) -> np.ndarray | None:
    """The hops whose highest samples all stop at `top`; None where they come to any height, or repeat at many."""
    step = 2.0 ** -((track.measurement.effective_bits or 24) - 1)
    if 2 * step > PINNED * top:
        return None
    pinned = np.flatnonzero(peaks >= (1 - PINNED) * top)
    close = int((peaks >= (1 - PINNED_BAND) * top).sum())
    if len(pinned) < PINNED_TIMES or close - len(pinned) > PINNED_BELOW * close:
        return None
    lower = np.sort(peaks[(peaks < (1 - PINNED_BAND) * top) & (peaks > 0.1 * top)])
    if len(lower) < LEAST_LOWER or (np.diff(lower) <= PINNED * lower[1:]).sum() > TIES * len(lower):
        return None
    return pinned
