"""Lines of the mains on a track: what stands at 50 or 60 Hz and its multiples, whether the source plays or not.

Shared by `hum` and `buzz`, whose limits they are.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass

import numpy as np

from replay.checks.shared.history import runs_of
from replay.checks.shared.limit import Limit
from replay.checks.shared.machines import heard_as_machine
from replay.checks.shared.place import views_of
from replay.desk.model import Show, TrackView
from replay.grid import hop_starts
from replay.meters.model import Measurement
from replay.ranks import median, percentiles
from replay.units import FULL_SCALE_SINE_RMS_DB, db_power

LIMITS = {
    "hum_below_played": Limit(50.0, "dB", "lines further below the played peak are not told", 0, 120),
    "hum_level": Limit(-78.0, "dBFS", "lines below this are not told", -200, 0),
}

FAMILIES = (("mains_50", 50.0, 0), ("mains_60", 60.0, 1))
MULTIPLES = 9
PER_SECOND = 10

QUIET_BELOW_DB = 20.0
"""The source is silent where all but the lines lies so far below its loud seconds (95th percentile)."""

LEAST_QUIET_S = 3
FEW_QUIET_S = 2
ALIKE_DB = 1.5
"""Two silent seconds are enough where many lines stand in both, each as loud as in the other: a drum's overhead rests
no longer between two songs."""

LEAST_RUN_S = 12
LEAST_LINES = 2
MANY_LINES = 5
STANDS_DB = 13.0
"""So far above what lies beside it a line stands out: noise alone reaches 8 dB now and then."""

STEADY_DB = 4.5
"""10th to 90th percentile of a line's level in the quiet seconds: mains are steady, music is not. A faint line moves by
3 dB for the noise in it."""

LEAST_MOMENTS = 2
LEAST_OF_LINES = 0.3
"""Percentile of 100 ms powers, and the share of the lines' power that it must reach: 100 ms of hum hold it all."""

ALWAYS_SHARE = 0.7
MOST_OFF = 0.006
STEADY_HZ = 0.2
UPPER_WITHIN_DB = 12.0
NOTHING_MOVES_DB = 8.0


@dataclass(frozen=True)
class Mains:
    """Lines of one track: nominal and measured fundamental, the multiples that stand, all of them together in dBFS,
    from when to when, and whether the upper multiples are about as strong as the lower ones."""

    nominal: float
    hz: float
    multiples: tuple[int, ...]
    level_dbfs: float
    start_s: float
    end_s: float
    upper: bool


def worth_telling(show: Show, track: TrackView) -> Mains | None:
    """The track's lines where they are loud enough to matter and the input is one that mains can reach."""
    views = [view for view in views_of(show, track) if view.channel.use != "off"]
    kinds = {view.channel.kind for view in views}
    inputs = {view.channel.input for view in views}
    if not views or kinds & {"timecode", "click", "playback"} or inputs == {"digital"} or track.all_zero:
        return None
    if heard_as_machine(show, track):
        return None
    found = lines_of(track)
    name = "buzz" if found is not None and found.upper else "hum"
    if found is None or found.level_dbfs < show.limit(f"{name}_level"):
        return None
    played = track.whole.played_peak_dbtp
    below = show.limit(f"{name}_below_played")
    if played is not None and found.level_dbfs < played - below:
        return None
    return found


def lines_of(track: TrackView) -> Mains | None:
    """The strongest family of lines that stands on a track; None where there is none."""
    noted = track.measurement.once("mains", lambda: _lines_of(track.measurement))
    return None if noted is None else Mains(**{**noted, "multiples": tuple(noted["multiples"])})


def _lines_of(measurement: Measurement) -> dict | None:
    found = [one for family in FAMILIES if (one := _family(measurement, *family)) is not None]
    strongest = max(found, key=lambda one: one.level_dbfs, default=None)
    return None if strongest is None else asdict(strongest)


def _without_offset(measurement: Measurement) -> np.ndarray:
    """Summed squares per hop around the track's constant offset, which is no sound that hides its silence."""
    frames = measurement.present()
    sums = measurement.column("sum")
    means = sums[frames > 0] / frames[frames > 0]
    middle = median(means) if means.size else 0.0
    return np.maximum(measurement.column("energy") - 2 * middle * sums + middle**2 * frames, 0.0)


def _family(measurement: Measurement, name: str, nominal: float, place: int) -> Mains | None:
    seconds = measurement.hops // PER_SECOND
    if seconds < LEAST_RUN_S:
        return None
    whole = seconds * PER_SECOND
    lines = measurement.column(name)[:whole].reshape(-1, PER_SECOND)[:, :MULTIPLES].astype(np.float64)
    beside = measurement.column(name + "_beside")[:whole].reshape(-1, PER_SECOND)[:, :MULTIPLES].astype(np.float64)
    hz = measurement.column("mains_hz")[:whole].reshape(-1, PER_SECOND)[:, place]
    energy = _without_offset(measurement)[:whole].reshape(-1, PER_SECOND).sum(axis=1)
    there = measurement.whole_hops()[:whole].reshape(-1, PER_SECOND).sum(axis=1) == PER_SECOND
    frames = np.diff(hop_starts(whole, measurement.rate)).reshape(-1, PER_SECOND).sum(axis=1)
    # The figures of second s come from the two seconds before it.
    total = np.full(seconds, np.nan)
    total[2:] = (energy[1:-1] + energy[:-2]) / (frames[1:-1] + frames[:-2])
    valid = np.zeros(seconds, bool)
    valid[2:] = there[1:-1] & there[:-2] & (total[2:] > 0) & (lines[2:].sum(axis=1) > 0)
    if valid.sum() < LEAST_RUN_S:
        return None
    out = np.where(lines > 10 * beside, lines, 0.0).sum(axis=1)
    rest = np.maximum(total - out, 1e-20)
    faint, loud = percentiles(rest[valid], 5, 95)
    quiet = valid & (rest <= loud * 10 ** (-QUIET_BELOW_DB / 10))
    moves = db_power(loud) - db_power(faint) > NOTHING_MOVES_DB
    if not moves:
        # Nobody plays: every second is as quiet as the next one.
        quiet = valid & (total < 1e-4)
    # A line that stands alike in nearly every second needs less of silence to be told from music.
    spans = np.subtract(*percentiles(10 * np.log10(np.maximum(lines[valid], 1e-20)), 90, 10))
    over = lines[valid] > 10 ** (STANDS_DB / 10) * beside[valid]
    always = bool(np.any((spans <= STEADY_DB) & (over.mean(axis=0) >= ALWAYS_SHARE)))
    least_quiet = 1 if always else FEW_QUIET_S if _many_alike(lines[quiet], beside[quiet]) else LEAST_QUIET_S
    if quiet.sum() < least_quiet:
        return None
    stands = quiet & ((lines > 10 ** (STANDS_DB / 10) * beside).sum(axis=1) >= LEAST_LINES)
    if stands.sum() < least_quiet:
        return None
    usual = np.median(lines[stands], axis=0)
    clear = np.median(lines[stands] / np.maximum(beside[stands], 1e-30), axis=0) > 10 ** (STANDS_DB / 10)
    if clear.sum() < LEAST_LINES:
        return None
    best = np.argsort(-usual * clear)[:LEAST_LINES].tolist()
    if clear.sum() >= MANY_LINES:
        # A family so complete is that of the mains where any two stand still: music reaches some of them.
        moves_by = np.subtract(*np.percentile(10 * np.log10(np.maximum(lines[stands], 1e-20)), [90, 10], axis=0))
        best = np.argsort(np.where(clear, moves_by, np.inf))[:LEAST_LINES].tolist()
    present = valid & np.all(lines[:, best] >= usual[best] * 0.4, axis=1)
    run = _longest(present | ~valid & _bridged(present))
    inside = np.zeros(seconds, bool)
    inside[run[0] : run[1]] = True
    asked = quiet & inside
    if run[1] - run[0] < LEAST_RUN_S or asked.sum() < least_quiet:
        return None
    came_or_went = (inside & valid).sum() < 0.9 * valid.sum()
    # Then it must have stood both while the source played and while it did not.
    if came_or_went and (not moves or rest[inside & valid].max() < loud * 0.1):
        return None
    low, high = np.percentile(lines[asked][:, best], [10, 90], axis=0)
    if np.any(high > low * 10 ** (STEADY_DB / 10)):
        return None
    # What always stands is in every moment: none may be quieter than the lines themselves.
    moments = np.flatnonzero(np.repeat(inside & valid, PER_SECOND))
    power = _without_offset(measurement)[moments] / np.diff(hop_starts(whole, measurement.rate))[moments]
    if np.percentile(power, LEAST_MOMENTS) < LEAST_OF_LINES * usual[clear].sum():
        return None
    near = hz[asked & stands]
    if near.size == 0:
        return None
    middle = float(np.median(near))
    if abs(middle / nominal - 1) > MOST_OFF or np.subtract(*np.percentile(near, [90, 10])) > STEADY_HZ:
        return None
    first, last = _as_far_as_rests_tell(run, quiet, stands & present, present)
    chosen = np.flatnonzero(clear)
    lower = usual[[k for k in chosen if k < 3]].max(initial=0.0)
    higher = np.sort(usual[[k for k in chosen if k >= 3]])[::-1]
    upper = len(higher) >= 3 and bool(higher[2] >= lower * 10 ** (-UPPER_WITHIN_DB / 10))
    return Mains(
        nominal=nominal,
        hz=middle,
        multiples=tuple(int(k) + 1 for k in chosen),
        level_dbfs=db_power(float(usual[chosen].sum())) + FULL_SCALE_SINE_RMS_DB,
        start_s=float(max(first - 2, 0)),
        end_s=float(last),
        upper=upper,
    )


def _many_alike(lines: np.ndarray, beside: np.ndarray) -> bool:
    """Whether many lines stand in each of these seconds, as loud in one as in the other."""
    standing = np.all(lines > 10 ** (STANDS_DB / 10) * beside, axis=0)
    if len(lines) == 0 or standing.sum() < MANY_LINES:
        return False
    moved = lines[:, standing].max(axis=0) / lines[:, standing].min(axis=0)
    return bool((moved <= 10 ** (ALIKE_DB / 10)).sum() >= MANY_LINES)


def _as_far_as_rests_tell(
    run: tuple[int, int], quiet: np.ndarray, standing: np.ndarray, present: np.ndarray
) -> tuple[int, int]:
    """The run, on over music that hides the lines, as long as they stand in every rest behind it and before it."""
    first, last = run
    for second in np.flatnonzero(quiet):
        if second < last:
            continue
        if not standing[second]:
            break
        last = int(second) + 1
        while last < len(present) and present[last]:
            last += 1
    for second in np.flatnonzero(quiet)[::-1]:
        if second >= first:
            continue
        if not standing[second]:
            break
        first = int(second)
        while first > 0 and present[first - 1]:
            first -= 1
    return first, last


def _bridged(mask: np.ndarray) -> np.ndarray:
    return np.convolve(mask, np.ones(3, int), "same") > 0


def _longest(mask: np.ndarray) -> tuple[int, int]:
    """The longest run of True; one second in between may be missing (a loud low note can hide a line)."""
    closed = mask | (np.concatenate(([False], mask[:-1])) & np.concatenate((mask[1:], [False])))
    runs = runs_of(closed)
    if not len(runs):
        return (0, 0)
    start, stop = runs[np.argmax(runs[:, 1] - runs[:, 0])]
    return int(start), int(stop)
