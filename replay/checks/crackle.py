"""A bad cable or plug: it crackles.

What it is
    Bursts of 1 to 100 ms in which the contact breaks and makes: jumps from one sample to the next that no sound source
    has, with pulses of low frequency.

Why it matters before a show
    It gets worse, and it will be loudest when somebody steps on the cable.

How it is told
    In each 10 ms the greatest step between two samples is held against the RMS of all steps there: one lone jump stands
    far above the rest. Told where six or more short bursts of such jumps come at uneven times, half of them or more
    longer than 10 ms, the level behind them is what it was before, and the jumps end at once. A warning, likely.
    Nothing for digital inputs, playback, click and timecode.

What can fool it
    Electronic drums and synthesisers jump too, but at even times or with a sound that goes on behind the jump: the
    steps of a synthesiser's note become smaller little by little.

What to do
    Move the cable, both plugs and the DI while you watch the meter; change what lets go.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np

from replay.checks.shared import words
from replay.checks.shared.history import runs_of
from replay.checks.shared.limit import Limit
from replay.checks.shared.machines import heard_as_machine
from replay.checks.shared.place import of_tracks, source_name, views_of
from replay.desk.model import Show, TrackView
from replay.findings.finding import Finding
from replay.meters.model import Measurement
from replay.ranks import median

CODE = "crackle"
TITLE = "crackle of a bad contact"
LIMITS: Mapping[str, Limit] = {"crackle_bursts": Limit(6, "bursts", "fewer are not told", least=3)}

CREST = 9.0
"""Real drums, plosives and strings stay below 8 in nearly all cells; a lone jump in 10 ms has 15 to 22."""

LEAST_JUMP = 10 ** (-60 / 20)
LEAST_OF_PEAK = 0.03
MERGE_CELLS = 5
LONGEST_CELLS = 14
RETURNS_DB = 6.0
CLEAN_SHARE = 0.6
LONG_SHARE = 0.4
UNEVEN = 0.35
DIES_AWAY = 0.6
"""Where the greatest step behind most bursts is still so much of the last jump, it is a note that dies away. A sampled
synth bass keeps 0.8 in the middle; behind a contact the step is the music's own, under half (its crest is 3 to 8)."""


def check(show: Show) -> Iterator[Finding]:
    for track in show.tracks:
        bursts = bursts_of(show, track)
        if len(bursts) == 0:
            continue
        start, end = float(bursts[0, 0]) / 100, float(bursts[-1, 1]) / 100
        longest = int((bursts[:, 1] - bursts[:, 0]).max())
        where = source_name(next(view for view in views_of(show, track) if view.channel.use != "off"))
        yield Finding(
            code=CODE,
            severity="warning",
            confidence="likely",
            message=f"{words.count(len(bursts), 'burst')} of jumps, up to {longest * 10} ms long, first "
            f"{words.at(start)}: a contact that breaks and makes.",
            action=f"Move the cable and plugs at {where} while you watch the meter, and change what lets go.",
            start_s=start,
            end_s=end,
            amount=float(len(bursts)),
            unit="bursts",
            **of_tracks(show, [track.track.number]),
        )


def bursts_of(show: Show, track: TrackView) -> np.ndarray:
    """int64 (n, 2): the bursts that are told of a track, in 10 ms cells, start and stop; none where nothing is."""
    none = np.zeros((0, 2), np.int64)
    views = [view for view in views_of(show, track) if view.channel.use != "off"]
    if not views or track.all_zero or heard_as_machine(show, track):
        return none
    if {view.channel.kind for view in views} & {"playback", "click", "timecode"}:
        return none
    if {view.channel.input for view in views} == {"digital"}:
        return none
    bursts = _bursts(track)
    return bursts if len(bursts) >= show.limit("crackle_bursts") else none


def _bursts(track: TrackView) -> np.ndarray:
    """int64 (n, 2): bursts in 10 ms cells, start and stop; none where they look like anything else."""
    played = track.whole.played_peak_dbtp
    least = max(LEAST_JUMP, LEAST_OF_PEAK * 10 ** ((played if played is not None else -60.0) / 20))
    found = track.measurement.once(f"crackle {least!r}", lambda: _bursts_of(track.measurement, least).tolist())
    return np.array(found, np.int64).reshape(-1, 2)


def _bursts_of(measurement: Measurement, least: float) -> np.ndarray:
    none = np.zeros((0, 2), np.int64)
    crest = measurement.column("jump_crest").astype(np.float64)
    jump = measurement.column("jump").astype(np.float64)
    # Where a track begins or ends it jumps by right; a jump that fills no more than half its rate's crest is none.
    whole = measurement.whole_cells()
    steps = (crest >= CREST) & (jump >= least) & whole & np.append(False, whole[:-1])
    runs = runs_of(steps)
    if len(runs) < 3:
        return none
    gaps = runs[1:, 0] - runs[:-1, 1]
    first = np.append(True, gaps > MERGE_CELLS)
    starts = runs[first, 0]
    stops = runs[np.append(first[1:], True), 1]
    bursts = np.stack([starts, stops], axis=1)
    energy = measurement.column("k_energy_10ms").astype(np.float64) + 1e-12
    clean = np.array([_returns(energy, a, b) for a, b in bursts])
    long = bursts[:, 1] - bursts[:, 0]
    good = clean & (long <= LONGEST_CELLS)
    if good.sum() < CLEAN_SHARE * len(bursts) or np.mean(long[good] >= 2) < LONG_SHARE:
        return none
    kept = _without_lone_clicks(bursts[good])
    behind = jump[np.minimum(kept[:, 1], len(jump) - 1)] / jump[kept[:, 1] - 1]
    if np.median(behind) >= DIES_AWAY:
        return none
    if len(kept) >= 3:
        spacing = np.diff(kept[:, 0])
        if spacing.std() < UNEVEN * spacing.mean():
            return none
    return kept


def _without_lone_clicks(bursts: np.ndarray) -> np.ndarray:
    """Bursts but for the shortest ones before the first and behind the last long one that lie farther from it than the
    longest pause between two long ones: those are clicks with a cause of their own."""
    long = bursts[bursts[:, 1] - bursts[:, 0] >= 2]
    if len(long) < 2:
        return bursts
    pause = int(np.diff(long[:, 0]).max())
    return bursts[(bursts[:, 0] >= long[0, 0] - pause) & (bursts[:, 0] <= long[-1, 0] + pause)]


def _returns(energy: np.ndarray, start: int, stop: int) -> bool:
    """Whether what comes behind a burst is as loud as what was before it: at once, or when a coupling capacitor has let
    the last jump die away."""
    before = energy[max(0, start - 12) : max(1, start - 1)]
    after = [part for part in (energy[stop + 4 : stop + 16], energy[stop + 16 : stop + 28]) if len(part) >= 5]
    if len(before) < 5 or not after:
        return False
    return bool(min(median(part) for part in after) <= median(before) * 10 ** (RETURNS_DB / 10))
