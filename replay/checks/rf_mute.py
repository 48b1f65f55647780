"""A radio channel drops out.

What it is
    The receiver loses its transmitter and mutes, or lets a burst of noise through.

Why it matters before a show
    It will happen again when the hall is full: bodies, more radios, other transmitters.

How it is told
    On inputs marked rf only. A mute: within 20 ms the level falls by 25 dB or more to a steady floor that lies 6 dB or
    more under everything the open microphone hears, while it sounded just before, and comes back as fast within 2 s; or
    it falls and comes by 40 dB in that time to a floor that nothing lies under (by 2 dB, where it lasts no longer than
    a mouth closes within a word). A burst: 100 to 700 ms of white noise (all octaves from 750 Hz on equally dense),
    nearly as loud as the voice. Two or more: a warning, likely; one mute alone: a note, possible. A hand on the switch
    looks alike, and pauses longer than 2 s are taken for that.

What can fool it
    A hand switch. A silent room with no bleed hides the difference between an open and a muted microphone.

What to do
    Ask the singer about the switch first. Then aerials, distance, batteries, a scan for free frequencies.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np

from replay.checks.shared import words
from replay.checks.shared.history import runs_of
from replay.checks.shared.limit import Limit
from replay.checks.shared.place import of_tracks, views_of
from replay.desk.model import Show, TrackView
from replay.findings.finding import Finding
from replay.meters.model import Measurement

CODE = "rf-mute"
TITLE = "a radio channel drops out"
LIMITS: Mapping[str, Limit] = {"rf_mute_times": Limit(2, "times", "so often it is a warning", least=1)}

FALL_DB = 25.0
UNDER_DB = 6.0
CLIFF_DB = 40.0
STILL_DB = 3.0
CLEAR_DB = 2.0
"""The lowest of a few cells of a room's noise lies up to 1 dB below its 0.5th percentile."""

LONGEST_STOP = 15
"""Within a word the mouth closes for up to 150 ms (common knowledge, no source), as sharply, and the room is heard."""

SHORTEST, LONGEST = 4, 200
LONGEST_S = LONGEST / 100
"""A pause of a radio that lasts longer is a hand on the switch."""

SETTLED = 4
EDGE = 3
STEADY_DB = 5.0
LOUD_WITHIN_DB = 30.0
ZERO = 1e-14

FLAT_BANDS = (5, 6, 7, 8, 9)
FLAT_DB = 7.0
BURST_WITHIN_DB = 12.0
BURST_HOPS = 7
BURST_RISE_DB = 20.0


def check(show: Show) -> Iterator[Finding]:
    for track in show.tracks:
        mutes, bursts = dropouts_of(show, track)
        times = len(mutes) + len(bursts)
        if not times:
            continue
        parts = []
        if mutes:
            parts.append(f"{words.count(len(mutes), 'mute')} with edges of milliseconds, first {words.at(mutes[0])}")
        if bursts:
            parts.append(f"{words.count(len(bursts), 'burst')} of noise, first {words.at(bursts[0])}")
        sure = times >= show.limit("rf_mute_times") or bool(bursts)
        yield Finding(
            code=CODE,
            severity="warning" if sure else "note",
            confidence="likely" if sure else "possible",
            message=f"The radio drops out: {' and '.join(parts)}. A hand on the switch looks alike.",
            action="Ask about the switch; then see to aerials, distance, batteries and a free frequency.",
            start_s=min(mutes + bursts),
            end_s=max(mutes + bursts),
            amount=float(times),
            unit="times",
            **of_tracks(show, [track.track.number]),
        )


def dropouts_of(show: Show, track: TrackView) -> tuple[list[float], list[float]]:
    """When a track's radio muted and when it let bursts of noise through, in seconds; never, where there is none."""
    views = [view for view in views_of(show, track) if view.channel.use != "off"]
    if not views or {view.channel.input for view in views} != {"rf"} or track.all_zero:
        return [], []
    return _heard(track.measurement)


def _heard(measurement: Measurement) -> tuple[list[float], list[float]]:
    """Mutes and bursts of noise, in seconds."""
    mutes, bursts = measurement.once("radio", lambda: [_mutes(measurement), _bursts(measurement)])
    return mutes, bursts


def _mutes(measurement: Measurement) -> list[float]:
    """When the receiver muted, in seconds."""
    energy = measurement.column("k_energy_10ms").astype(np.float64)
    levels = 10 * np.log10(energy / (measurement.rate / 100) + ZERO)
    there = measurement.whole_cells()
    if there.sum() < 500:
        return []
    loud = np.percentile(levels[there], 95)
    fast = np.zeros(len(levels), bool)
    # A fall over two cells: the cell in which it happens holds a bit of both.
    fast[2:] = levels[:-2] - levels[2:] >= FALL_DB
    found = []
    last = 0
    for at in np.flatnonzero(fast).tolist():
        if at < last or at + EDGE + SETTLED > len(levels):
            continue
        # The weighting filter needs two cells more to fall silent: what follows is the receiver's own floor.
        floor = float(levels[at + EDGE : at + EDGE + SETTLED].min())
        stop = at + EDGE
        while stop < len(levels) and abs(levels[stop] - floor) <= STEADY_DB:
            stop += 1
        length = stop - at
        if stop == at + EDGE or not SHORTEST <= length <= LONGEST or stop + EDGE >= len(levels):
            continue
        before, after = levels[max(0, at - 4) : at - 1].max(), levels[stop : stop + EDGE].max()
        if before < loud - LOUD_WITHIN_DB or after < floor + FALL_DB - 5:
            continue
        last = stop
        found.append((at, stop, floor))
    if not found:
        return []
    # Digital silence, as behind the last song, is no open microphone.
    outside = there & (energy > 0)
    for start, stop, _ in found:
        outside[max(0, start - 3) : stop + 3] = False
    # Nothing but the mutes and their edges: then nothing says how low an open microphone comes.
    open_floor = np.percentile(levels[outside], 0.5) if outside.any() else -np.inf
    return [
        start / 100
        for start, stop, floor in found
        if floor <= open_floor - UNDER_DB
        or (floor <= open_floor - (CLEAR_DB if stop - start <= LONGEST_STOP else 0) and _cut_off(levels, start, stop))
    ]


def _cut_off(levels: np.ndarray, start: int, stop: int) -> bool:
    """Whether the sound goes and comes by so much in so little time that no voice and no room could."""
    fell = (levels[start - 2 : start + 1] - levels[start : start + 3]).max()
    rose = (levels[stop + 1 : stop + 3] - levels[stop - 1]).max()
    return bool(fell >= CLIFF_DB and rose >= CLIFF_DB and np.ptp(levels[start + EDGE : stop]) <= STILL_DB)


def _bursts(measurement: Measurement) -> list[float]:
    """When a burst of white noise came through, in seconds."""
    bands = np.stack([measurement.column(f"band_{band}").astype(np.float64) for band in FLAT_BANDS]) + ZERO
    density = 10 * np.log10(bands / 2.0 ** np.arange(len(FLAT_BANDS))[:, None])
    energy = measurement.column("energy")
    levels = 10 * np.log10(energy / (measurement.rate / 10) + ZERO)
    loud = np.percentile(levels[measurement.whole_hops()], 95)
    flat = (np.ptp(density, axis=0) <= FLAT_DB) & (levels >= loud - BURST_WITHIN_DB)
    top = 10 * np.log10(bands[-1])
    found = []
    for start, stop in runs_of(flat):
        if start < 2 or stop + 2 > len(top) or stop - start > BURST_HOPS:
            continue
        inside = top[start:stop].max()
        if inside - top[start - 2] >= BURST_RISE_DB and inside - top[min(stop + 1, len(top) - 1)] >= BURST_RISE_DB:
            found.append(start / 10)
    return found
