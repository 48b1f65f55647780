"""From a show folder to the answer: read the patch, find the take, measure it, put it through the desk, judge it."""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from replay.checks import find_all, limits_of
from replay.checks.clock_slip import instants
from replay.checks.shared.fed_wrong import without_their_advice
from replay.compiled import is_kept
from replay.confirm.holding import ear_of
from replay.desk.bus import sum_peaks
from replay.desk.moves import preamp_moves
from replay.desk.views import simulate
from replay.errors import CallError, PatchError, Problem
from replay.evidence.signs import Signs
from replay.evidence.signs import known as known_signs
from replay.evidence.timecode_slips import known as known_slips
from replay.findings.result import Report
from replay.findings.settle import settle
from replay.findings.verdict import report
from replay.ident.read import returns_heard
from replay.mapped import by_ear, mapped
from replay.measuring import kept
from replay.measuring.history import DamagedError
from replay.measuring.store import Store, default_folder
from replay.opening import find_take
from replay.patch.from_toml import read_patch
from replay.patch.model import Channel, Patch
from replay.patch.routes import Routes, routes
from replay.take.model import FileTrouble, Take, Track
from replay.take.reachable import still_there
from replay.text import harmless

Progress = Callable[[float, str], None]


def check(
    show: str | Path,
    *,
    take: str | None = None,
    from_s: float | None = None,
    to_s: float | None = None,
    trims: Mapping[int, float] | None = None,
    gains: Mapping[int, float] | None = None,
    fresh: bool = False,
    kept_in: Path | None = None,
    keep: bool = True,
    progress: Progress | None = None,
    now: float | None = None,
) -> Report:
    """Check a show's take against its patch.

    Parameters
    ----------
    show : path
        The show's folder, or its patch.toml.
    take : str, optional
        Which take, by name or path; by default the patch's, or the newest real one.
    from_s, to_s : float, optional
        The part in which levels are judged, in seconds; by default the patch's, or all.
    trims, gains : mapping from channel number to dB, optional
        Trims to try out instead of the patch's; preamp gains to try out, as if the take had been recorded at them
        (what was clipped stays clipped).
    fresh : bool
        Measure anew even where earlier measurements are kept.
    kept_in : path, optional
        The folder of kept measurements; by default the platform's cache folder (or REPLAY_CACHE_DIR).
    keep : bool
        False: use and leave no kept measurements.
    progress : function of a share (0 to 1) and a phrase
    now : float, optional
        Seconds since the epoch, for the take's age.

    Raises
    ------
    ReplayError
        PatchError, TakeError or CallError: with all that is wrong.
    OSError
        Where histories cannot be written (a full disk).
    """
    now = time.time() if now is None else now
    say = progress or _silent
    store = Store(kept_in or default_folder()) if keep else None
    patch = read_patch(Path(show))
    limits = limits_of(patch.limits, patch.limits_in)
    patch, shifts_by_channel = tried_out(patch, trims or {}, gains or {})
    ways = routes(patch)
    found = find_take(patch, ways, take, now)
    judged = _judged(patch, found, from_s, to_s)
    shifts = track_shifts(ways, shifts_by_channel)
    say(0.0, "measuring" if is_kept() else "compiling the meters, once for this installation, then measuring")
    # Where a kept result turns out to be damaged, all are looked through, and those that are not sound are measured and
    # kept anew; where one goes once more, everything is measured where nobody else can reach.
    for place, distrust in ((store, False), (store, True), (None, True)):
        try:
            moves_end = from_s is None and patch.take.from_s is None
            return _answer(patch, ways, found, shifts, judged, limits, place, fresh, distrust, say, now, moves_end)
        except DamagedError:
            if place is None:
                raise
    raise AssertionError("the loop returns or raises")


def _silent(share: float, phrase: str) -> None:
    pass


def _answer(
    patch: Patch,
    ways: Routes,
    found: Take,
    shifts: Mapping[int, float],
    judged: tuple[float, float],
    limits: Mapping[str, float],
    store: Store | None,
    fresh: bool,
    distrust: bool,
    say: Progress,
    now: float,
    moves_end: bool,
) -> Report:
    known = kept.known(
        found.tracks,
        found.rate,
        store,
        fresh=fresh,
        distrust=distrust,
        progress=lambda share: say(share, "measuring"),
    )
    still_there(found, [track for track in found.tracks if track.number in known.broken])
    there = {number: sum(b - a for a, b in known.measurements[number].coverage) for number in known.broken}
    found = _with_broken(found, known.broken, there)
    numbers = {track.segments: track.number for track in found.tracks}

    def sums(tracks: Sequence[Track], weights: np.ndarray, first: int, last: int) -> np.ndarray:
        keys = [known.keys.get(numbers[track.segments]) for track in tracks]
        return kept.remembered_sums(
            store,
            keys,
            weights,
            first,
            last,
            lambda: sum_peaks(tracks, weights, found.rate, first, last, lambda share: say(share, "adding up buses")),
        )

    signs = known_signs(found.tracks, known.measurements, found.rate, store, known.keys, fresh=fresh)
    simulated = simulate(
        patch,
        ways,
        found,
        known.measurements,
        read_again=lambda track: kept.remembering_reader(track, found.rate, store, known.keys.get(track.number)),
        sum_peaks=sums,
        shifts=shifts,
        judged=judged,
        now=now,
        limits=limits,
        judged_from=_after_moves(patch, ways, signs, found, judged, limits["gain_moved_db"]) if moves_end else {},
    )
    simulated = replace(simulated, timecode=signs.timecode, gain_moves=signs.gain_moves, off_mains=signs.off_mains)
    if signs.timecode:
        slips = known_slips(
            found.tracks, signs.timecode, instants(simulated), found.rate, store, known.keys, fresh=fresh
        )
        simulated = replace(simulated, slips=slips)
    heard = known.notes[kept.TAKE].once(
        f"returns heard {found.duration_s!r}", lambda: _listed(returns_heard(found, known.measurements))
    )
    heard = None if heard is None else {number: tuple(returns) for number, returns in heard}
    if heard is not None:
        # Its bursts are no music: no level of theirs asks for a turn of a preamp.
        views = tuple(replace(view, advice=None, expected_peak_dbtp=None) for view in simulated.channels)
        simulated = replace(simulated, returns_heard=heard, channels=views)
    else:
        simulated = by_ear(mapped(simulated, known, store, fresh), ear_of(patch, ways, found))
        simulated = without_their_advice(simulated)
    answer = report(simulated, settle(find_all(simulated)))
    kept.finish(store, known)
    return answer


def _listed(heard: Mapping[int, tuple[int, ...]] | None) -> list | None:
    return None if heard is None else list(heard.items())


def tried_out(patch: Patch, trims: Mapping[int, float], gains: Mapping[int, float]) -> tuple[Patch, dict[int, float]]:
    """The patch with trims and gains tried out, and by how many dB each channel's source would be recorded louder."""
    problems = []
    numbers = {channel.number for channel in patch.channels}
    for option, values in (("--trim", trims), ("--gain", gains)):
        for number in values:
            if number not in numbers:
                problems.append(Problem(f"{option} {number}: the patch has no channel {number}"))
    for number, value in trims.items():
        limits = patch.desk.trim
        if number in numbers and not limits.min <= value <= limits.max:
            problems.append(
                Problem(f"--trim {number}={value:g}: the desk's trim goes from {limits.min:g} to {limits.max:g} dB")
            )
    shifts: dict[int, float] = {}
    for number, value in gains.items():
        if number not in numbers:
            continue
        channel = patch.channel(number)
        box = patch.box(channel.socket.box) if channel.socket else None
        if channel.gain is None or box is None or box.gain is None:
            problems.append(
                Problem(
                    f"--gain {number}={value:g}: the patch does not say at which gain channel {number} was recorded",
                    hint="write it into the input list's gain column",
                )
            )
        elif not box.gain.min <= value <= box.gain.max:
            problems.append(
                Problem(f"--gain {number}={value:g}: the preamp goes from {box.gain.min:g} to {box.gain.max:g} dB")
            )
        else:
            shifts[number] = value - channel.gain
    if problems:
        raise CallError(problems)

    def tried(channel: Channel) -> Channel:
        changed = replace(channel, trim=trims.get(channel.number, channel.trim))
        for number in shifts:
            if channel.number == number or (
                channel.socket is not None and channel.socket == patch.channel(number).socket
            ):
                changed = replace(changed, gain=gains[number])
        return changed

    return replace(patch, channels=tuple(tried(channel) for channel in patch.channels)), shifts


def track_shifts(ways: Routes, by_channel: Mapping[int, float]) -> dict[int, float]:
    """A preamp's change moves every track that its socket is recorded on."""
    return {ways.track_of(slot): shift for channel, shift in by_channel.items() for slot in ways.of(channel).slots}


def _judged(patch: Patch, take: Take, from_s: float | None, to_s: float | None) -> tuple[float, float]:
    """The judged part on the take's clock, in whole hops."""
    start = from_s if from_s is not None else patch.take.from_s or 0.0
    stop = to_s if to_s is not None else patch.take.to_s
    stop = take.duration_s if stop is None else min(stop, take.duration_s)
    if start >= stop:
        where = "the call" if from_s is not None or to_s is not None else "the patch"
        message = f"the part to judge begins at {start:g} s and ends at {stop:g} s: there is nothing in it"
        hint = f"the take is {take.duration_s:.1f} s long; change from and to in {where}"
        problem = Problem(message, hint=hint)
        raise CallError(problem) if where == "the call" else PatchError(problem)
    last = int(stop * 10 + 0.999999)
    return int(start * 10) / 10, max(last / 10, (int(start * 10) + 1) / 10)


def _with_broken(take: Take, broken: Mapping[int, int], there: Mapping[int, int]) -> Take:
    """The take with a trouble for every track that could not be read as a whole: from which frame on, and how many
    frames of it are there all the same."""
    troubles = []
    for number, frame in broken.items():
        track = take.track(number)
        if track is None:
            continue
        start, lost = frame / take.rate, (track.frames - there[number]) / take.rate
        name = harmless(track.file_name)
        troubles.append(
            FileTrouble(
                code="truncated" if there[number] else "unreadable",
                detail=f"{name} could not be read from {start:.1f} s on: {lost:.1f} s are lost.",
                files=(track.file_name,),
                tracks=(number,),
                lost_s=lost,
                start_s=start,
            )
        )
    return replace(take, troubles=take.troubles + tuple(troubles)) if troubles else take


LEAST_JUDGED_S = 10.0
"""A gain move so near the end leaves too little to judge: then all of it is."""


def _after_moves(
    patch: Patch, ways: Routes, signs: Signs, take: Take, judged: tuple[float, float], least_db: float
) -> dict[int, float]:
    """From when on each track is judged: from its last gain move inside the judged part."""
    found = {}
    for number, moves in preamp_moves(patch, ways, signs.gain_moves, len(take.tracks), least_db).items():
        inside = [move.at_s for move in moves if judged[0] < move.at_s <= judged[1] - LEAST_JUDGED_S]
        if inside:
            found[number] = inside[-1] + 0.5
    return found
