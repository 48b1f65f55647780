"""Audio was lost: gaps, held values, buffers played twice.

What it is
    For a moment the recorder or the link had no data and put something in its place: zeros, the last value, or the
    block before once more.

Why it matters before a show
    The take has holes, and the same link, computer or disk carries the show's recording.

How it is told
    24 or more equal samples in a row with the signal in full motion up to both ends (from 5 ms on in any
    signal, where a preamp's noise never lets the track rest); or a block of 32 to 4096 samples
    (a multiple of 8) that repeats the one before it bit for bit and then stops. A warning; a fault from five on, from
    one second in all, or where three or more sources have it at the same time, which is then told once. Certain.

What can fool it
    Editing: a hole cut into a programme. A source that rests on exact zero (a player, a gate) is only told for gaps
    under 10 ms between sounds of like level; fewer than three of them may be its own: a note, possible. Clicks and
    timecode have holes of their own and are not judged.

What to do
    Listen at the given times. Where many tracks have it, look at the link, the computer's load and the disk; where one
    has it, at that track's path. Record again.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from replay.checks import flat_topped, words
from replay.checks.clipped import is_square
from replay.checks.finding import Finding
from replay.checks.instants import PLAYER, sources, together
from replay.checks.limit import Limit
from replay.checks.machines import is_machine
from replay.checks.place import of_tracks, views_of
from replay.desk.model import Show, TrackView
from replay.grid import cell_starts
from replay.meters.model import Measurement
from replay.text import clock, ranges

CODE = "dropout"
TITLE = "audio was lost"
LIMITS: Mapping[str, Limit] = {
    "dropout_many": Limit(5, "dropouts", "from so many on a track it is a fault", least=1),
    "dropout_s": Limit(1.0, "seconds", "from so much in all it is a fault", least=0),
    "dropout_rest_ms": Limit(10.0, "milliseconds", "longer gaps are rest on a track that rests on exact zero", least=0),
}

STEPS = 16
"""The signal beside a gap moves by so many steps of its word length at least: staircases at the foot of a fade do
not."""

LEAST_MOVE = 1e-3
"""... and by -60 dB of the track's highest peak: nobody hears a hole in less."""

LONG = 240
LEAST_MOVE_LONG = 1e-4
"""The same for holes of so many frames, from which on the held meter notes rests: -80 dB is how slow waves move."""

RESTS_S = 0.1
"""A track that has so much of equal samples (dropouts left out) rests on exact zero by nature."""

FEW_RESTS = 16
FEW_RESTS_S = 2.0
"""So many holes without hard ends, and so much of them, are the recorder's; more of them are a gate's."""

ALIKE_DB = 6.0
AROUND_CELLS = 2
"""On such a track the 20 ms before and behind a gap must be alike in level: one sound ends, another begins."""

SURE = 3
"""Fewer gaps than this on such a track may be its own."""

LEAST_BITS = 64.0
"""How unlikely a repeated block is by chance, in bits: few chunks of few steps are alike now and then."""

CHUNK = 8
"""Frames that the repeats meter adds up."""

TOGETHER = 64
"""Frames by which the beginnings may lie apart and be one event: links lose whole packets."""


@dataclass(frozen=True)
class Lost:
    """One dropout: frames, and what was put in its place (`zero`, `value`, `repeat`); `doubtful` on a
    source that rests on exact zero by itself."""

    start: int
    length: int
    what: str
    doubtful: bool = False


def check(show: Show) -> Iterator[Finding]:
    lost = {track.track.number: dropouts(show, track) for track in show.tracks}
    starts = {number: np.array([one.start for one in found], np.int64) for number, found in lost.items() if found}
    common = together(starts, sources(show), TOGETHER, show.take.frames)
    shared = {
        number: [one for one in lost[number] if any(0 <= one.start - instant.frame <= TOGETHER for instant in common)]
        for number in sorted({track for instant in common for track in instant.tracks})
    }
    if shared:
        frames = [instant.frame for instant in common]
        yield _finding(show, shared, len(frames), "fault", key="")
    for track in show.tracks:
        number = track.track.number
        own = [one for one in lost[number] if one not in shared.get(number, ())]
        if not own:
            continue
        seconds = sum(one.length for one in own) / show.take.rate
        many = len(own) >= show.limit("dropout_many") or seconds >= show.limit("dropout_s")
        key = "alone" if number in shared else ""
        severity = "note" if all(one.doubtful for one in own) else "fault" if many else "warning"
        yield _finding(show, {number: own}, len(own), severity, key=key)


def dropouts(show: Show, track: TrackView) -> list[Lost]:
    """The dropouts of a track in order of time."""
    if is_machine(show, track) or any(view.channel.use == "off" for view in views_of(show, track)):
        return []
    measurement = track.measurement
    held, repeats = measurement.events_of("held"), measurement.events_of("repeat")
    rests = measurement.events_of("rest")
    if len(held) + len(repeats) + len(rests) == 0 or is_square(track):
        return []
    step = 2.0 ** -((measurement.effective_bits or 24) - 1)
    peak = measurement.totals["sample_peak"]
    moves = held["against"] >= max(STEPS * step, LEAST_MOVE * peak)
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
    found = [
        Lost(int(one["start"]), int(one["length"]), "zero" if one["value"] == 0 else "value", resting) for one in held
    ]
    found += [Lost(int(one["start"]), int(one["length"] * one["value"]), "repeat") for one in repeats]
    return sorted(found, key=lambda one: one.start)


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


def _finding(show: Show, lost: Mapping[int, list[Lost]], times: int, severity: str, key: str) -> Finding:
    rate = show.take.rate
    found = sorted((one for own in lost.values() for one in own), key=lambda one: one.start)
    longest = max(found, key=lambda one: one.length)
    first = found[0].start / rate
    kinds = []
    for what, one, many in (
        ("zero", "gap", "gaps"),
        ("value", "held value", "held values"),
        ("repeat", "repeated block", "repeated blocks"),
    ):
        count = sum(1 for item in found if item.what == what)
        if count:
            kinds.append(words.count(count, one, many))
    if len(lost) > 1:
        text = f"Lost on {len(lost)} tracks at the same time ({ranges(sorted(lost))}), {words.count(times, 'time')}: "
        action = "Look at the link, the recorder's load and its disk, then record again."
    else:
        text, action = "", "Listen there; look at the track's path to the recorder, then record again."
    text += f"{words.listed(kinds)}, the longest {words.span(longest.length / rate)} at {clock(longest.start / rate)}"
    if len(found) > 1:
        text += f"; first at {clock(first)}"
    return Finding(
        code=CODE,
        severity=severity,
        confidence="possible" if severity == "note" else "certain",
        message=f"{text}.",
        action=action,
        start_s=first,
        end_s=(found[-1].start + found[-1].length) / rate,
        amount=float(times),
        unit="dropouts",
        key=key,
        **of_tracks(show, sorted(lost)),
    )
