"""What a track lost, as far as it can be told from the track alone; and its gaps that may be its own."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from replay.checks import flat_topped
from replay.checks.clipped import is_square
from replay.checks.shared.instants import PLAYER
from replay.checks.shared.machines import DRUMS, SAMPLES, is_machine
from replay.checks.shared.place import views_of
from replay.desk.model import Show, TrackView
from replay.grid import cell_starts
from replay.meters.model import Measurement
from replay.patch.kinds import words_of

STEPS = 16
"""The signal beside a gap moves by so many steps of its word length at least: staircases at the foot of a fade do
not."""

LEAST_MOVE = 1e-3
"""... and by -60 dB of the track's highest peak: nobody hears a hole in less."""

LONG = 240
LEAST_MOVE_LONG = 1e-4
"""The same for holes of so many frames, from which on the held meter notes rests: -80 dB is how slow waves move."""

DITHER = 2.0
"""A gap made before the dither holds so many steps of the word length at most."""

ANY_INPUT = frozenset({"keys", "other"})
BY_LINE = DRUMS | {"percussion"}
"""Kinds of source that may be electronic, and those that may where no microphone hears them: with dither, their own
rests look like gaps."""

ELECTRONIC = SAMPLES | {"synth", "synths", "syn", "sub", "loop", "loops", "electronic"}
"""Words of a channel's name that say so."""

MOST_BY_DI = 8
"""More such rests on a track that no microphone hears are its source's, whatever its name."""

RESTS_S = 0.1
"""A track that has so much of equal samples (dropouts left out) rests on exact zero by nature."""

FEW_RESTS = 16
FEW_RESTS_S = 2.0
"""So many holes without hard ends, and so much of them, are the recorder's; more of them are a gate's."""

ALIKE_DB = 6.0
AROUND_CELLS = 2
"""On such a track the 20 ms before and behind a gap must be alike in level: one sound ends, another begins."""

LONGEST_REST_S = 1.0

SURE = 3
"""Fewer gaps than this on such a track may be its own."""

LEAST_BITS = 64.0
"""How unlikely a repeated block is by chance, in bits: few chunks of few steps are alike now and then."""

CHUNK = 8
"""Frames that the repeats meter adds up."""


@dataclass(frozen=True)
class Lost:
    """One dropout: frames, and what was put in its place (`zero`, `value`, `repeat`); `doubtful` on a
    source that rests on exact zero by itself."""

    start: int
    length: int
    what: str
    doubtful: bool = False


def dropouts(show: Show, track: TrackView) -> list[Lost]:
    """The dropouts of a track in order of time."""
    if is_machine(show, track) or any(view.channel.use == "off" for view in views_of(show, track)):
        return []
    measurement = track.measurement
    held, repeats = measurement.events_of("held"), measurement.events_of("repeat")
    rests = measurement.events_of("rest")
    faint = measurement.event_counts.get("faint", 0)
    if len(held) + len(repeats) + len(rests) + faint == 0 or is_square(track):
        return []
    step, peak = _step(measurement), measurement.totals["sample_peak"]
    moves = held["against"] >= _least_move(measurement)
    rests = np.concatenate([rests, held[~moves & (held["length"] >= LONG)]])
    held = held[moves]
    # A top that is cut off holds one value as well, always the same: told as such.
    held = held[~flat_topped.tops(show, track, held)]
    present = sum(stop - start for start, stop in measurement.coverage)
    rest = float(measurement.column("held")[measurement.whole_hops()].sum()) - float(held["length"].sum())
    resting = False
    if _never_rests(show, track, rest, rests):
        rest = 0.0
        held = np.concatenate([held, rests[rests["against"] >= max(STEPS * step, LEAST_MOVE_LONG * peak)]])
    longest = show.limit("dropout_rest_ms") * measurement.rate / 1000
    # A click of a player leaves rests on both sides that are as hard-edged as a gap: they are most of the track.
    if rest > RESTS_S * measurement.rate or float(held["length"].sum()) > present / 2:
        held = held[(held["length"] <= longest) & _goes_on(held, measurement)]
        resting = len(held) < SURE
    chunks = repeats["length"] / CHUNK
    bits = (chunks - 2) * np.log2(1 + CHUNK * repeats["against"] / step)
    repeats = repeats[(repeats["against"] >= LEAST_MOVE * peak) & (bits >= LEAST_BITS)]
    found = _as_lost(held, doubtful=resting)
    found += _dithered(show, track, longest)
    found += [Lost(int(one["start"]), int(one["length"] * one["value"]), "repeat") for one in repeats]
    return sorted(found, key=lambda one: one.start)


def _dithered(show: Show, track: TrackView, longest: float) -> list[Lost]:
    """Gaps that were made before the dither: a step or two of noise between hard ends. `longest`: frames, of a gap on
    a source that may end and begin as hard by itself."""
    measurement = track.measurement
    faint = _faint(measurement)
    faint = faint[faint["against"] >= _least_move(measurement)]
    if len(faint) == 0 or _may_mute(show, track) or faint["length"].max() > LONGEST_REST_S * measurement.rate:
        return []
    if not _may_be_electronic(show, track, len(faint)):
        return _as_lost(faint)
    # One rest with hard ends that no recorder made says that the source makes them.
    if (faint["length"] > longest).any() or not _goes_on(faint, measurement).all():
        return []
    return _as_lost(faint, doubtful=len(faint) < SURE)


def _faint(measurement: Measurement) -> np.ndarray:
    """Runs of nothing but dither as if they were of zeros, which they were before it."""
    faint = measurement.events_of("faint")
    faint = faint[faint["value"] <= DITHER * _step(measurement)]
    faint["value"] = 0.0
    return faint


def _may_mute(show: Show, track: TrackView) -> bool:
    """Whether a track's rests may be those of a radio that mutes: told there, or as nothing."""
    return any(view.channel.input == "rf" for view in views_of(show, track))


def _may_be_electronic(show: Show, track: TrackView, times: int) -> bool:
    """Whether a track's source may break off and begin in full motion by itself, `times` times. Where the list says
    nothing of the input, it is `mic`."""
    channels = [view.channel for view in views_of(show, track)]
    return not channels or any(
        one.kind in PLAYER | ANY_INPUT
        or one.input in ("digital", "line")
        or (one.input != "mic" and (one.kind in BY_LINE or times > MOST_BY_DI))
        or not ELECTRONIC.isdisjoint(words_of(one.name))
        for one in channels
    )


def _step(measurement: Measurement) -> float:
    """One step of a track's word length, linear."""
    return 2.0 ** -((measurement.effective_bits or 24) - 1)


def _least_move(measurement: Measurement) -> float:
    """By so much a signal moves beside a hard gap."""
    return max(STEPS * _step(measurement), LEAST_MOVE * measurement.totals["sample_peak"])


def rests(show: Show, track: TrackView, lost: list[Lost]) -> tuple[list[Lost], list[Lost]]:
    """A track's other gaps of up to a second, which may be rests of its own: those before which a sound breaks off and
    behind which it goes on, and all of them. What many tracks have at once is none's own."""
    if any(view.channel.use == "off" for view in views_of(show, track)):
        return [], []
    measurement = track.measurement
    found = {one.start for one in lost}
    hard = np.concatenate([measurement.events_of("held"), _faint(measurement)])
    held, soft = (
        events[(events["length"] <= LONGEST_REST_S * measurement.rate) & ~np.isin(events["start"], list(found))]
        for events in (hard, measurement.events_of("rest"))
    )
    every = _as_lost(np.concatenate([held, soft]))
    if len(held) == 0 or is_machine(show, track) or is_square(track):
        return [], every
    moves = held["against"] >= _least_move(measurement)
    held = held[moves & ~flat_topped.tops(show, track, held)]
    return _as_lost(held[_goes_on(held, measurement)]), every


def _as_lost(held: np.ndarray, *, doubtful: bool = False) -> list[Lost]:
    what = {True: "zero", False: "value"}
    return [Lost(int(one["start"]), int(one["length"]), what[bool(one["value"] == 0)], doubtful) for one in held]


def is_silent(track: TrackView, start: int, length: int) -> bool:
    """Whether a track holds exact zero before and behind a gap too: then it had nothing to lose."""
    measurement = track.measurement
    energy = measurement.column("k_energy_10ms")
    first, last = start * 100 // measurement.rate, (start + length) * 100 // measurement.rate
    return not energy[max(first - AROUND_CELLS, 0) : last + 1 + AROUND_CELLS].any()


def _never_rests(show: Show, track: TrackView, rest: float, rests: np.ndarray) -> bool:
    """Whether a track's long runs without hard ends are nothing of its own: it comes through a preamp, whose noise
    never lets it rest on one value but for a few of them."""
    views = views_of(show, track)
    if not views or any(view.channel.kind in PLAYER or view.channel.input == "digital" for view in views):
        return False
    rate = track.measurement.rate
    total = float(rests["length"].sum())
    return 0 < len(rests) <= FEW_RESTS and total <= FEW_RESTS_S * rate and rest - total <= RESTS_S * rate


def _goes_on(held: np.ndarray, measurement: Measurement) -> np.ndarray:
    """bool: the same sound seems to go on behind a gap."""
    energy = measurement.column("k_energy_10ms").astype(np.float64)
    starts = cell_starts(len(energy), measurement.rate)
    alike = np.zeros(len(held), bool)
    for at, one in enumerate(held):
        first = int(np.searchsorted(starts, one["start"], "right")) - 1
        last = int(np.searchsorted(starts, one["start"] + one["length"], "right")) - 1
        before, after = energy[max(first - AROUND_CELLS, 0) : first], energy[last + 1 : last + 1 + AROUND_CELLS]
        if len(before) and len(after) and before.mean() > 0 and after.mean() > 0:
            alike[at] = abs(10 * np.log10(after.mean() / before.mean())) <= ALIKE_DB
    return alike
