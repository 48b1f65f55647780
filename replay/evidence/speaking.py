"""The line check: the stretch in which one source after another sounds alone.

Read from the histories of 100 ms alone. Every track is measured against its own loud moments, so that gain does not
matter: a source sounds alone where its track is near its own loud level and nearly all others are far below theirs.
What opens to everything (overheads, ambience) is near its loud level whoever plays, and only leads a turn where no
other track does. A line check is a row of such turns, of several sources, with little else between them; music has
such moments too, but not in a row.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from replay.ranks import percentiles

LOUD_RANK = 5
"""The loud level of a track is that of its fifth-loudest 100 ms: a thump or two do not count."""

LEAST_LEVEL_DB = -70.0
"""A track that is never louder, in dB re full scale squared, holds nothing that could speak."""

LEAST_RANGE_DB = 15.0
"""Between loud moments and the 10th percentile: below, it is noise, or what never rests (timecode)."""

RESTLESS_RANGE_DB = 6.0
"""As LEAST_RANGE_DB, for what plays in more than nine tenths of a take. Common practice, no source: noise and timecode
stay within 2 dB, a walking bass or a strummed guitar that never rests moves by 6 to 14."""

NEAR_DB = 22.0
"""A source checks its line within this of its loudest moments of the whole take."""

APART_DB = 9.0
"""How far the others are below whoever sounds alone (the published rule of thumb for separate microphones)."""

COMPANY = 2
"""So many tracks beside the leader may be near too: the other side of a pair, another microphone on the source."""

SMOOTH_HOPS = 5
LEAST_TURN_HOPS = 8
MOST_GAP_S = 25.0
LEAST_TURNS = 4
CROWDED_SHARE = 0.35
"""A stretch with more than this share of its sounding time in company is no line check."""

COVERED_SHARE = 0.5
"""At least this share of the time in which something sounds belongs to turns (talk and fills take the rest)."""

OPEN_TURNS = 3
"""A track that comes along with so many sources that do not come along with each other is open to everything."""


@dataclass(frozen=True)
class Turn:
    """A stretch in which one source sounds alone: `tracks` are the leader and whoever comes near it (its pair, its
    other microphones), loudest first; `margin_db` how far the next ones are below."""

    start_s: float
    stop_s: float
    tracks: tuple[int, ...]
    margin_db: float


@dataclass(frozen=True)
class LineCheck:
    """A row of turns, in order of time."""

    turns: tuple[Turn, ...]

    @property
    def start_s(self) -> float:
        return self.turns[0].start_s

    @property
    def stop_s(self) -> float:
        return self.turns[-1].stop_s


def loud_levels(levels: np.ndarray) -> np.ndarray:
    """float64 (tracks,): each track's loud level in dB; minus infinity for tracks that hold nothing that could speak.

    `levels` is float64 (tracks, hops) in dB re full scale squared, -inf for silence, NaN where the track is missing.
    """
    loud = np.full(len(levels), -np.inf)
    for row, track in enumerate(levels):
        there = track[np.isfinite(track)]
        if there.size < 20:
            continue
        top = np.partition(there, -min(LOUD_RANK, there.size))[-min(LOUD_RANK, there.size)]
        # Digital silence counts as quiet: a playback machine sends it between its pieces.
        silent = np.isneginf(track).sum() >= 0.1 * np.isfinite(track).sum()
        quiet = -np.inf if silent else percentiles(there, 10)[0]
        if top >= LEAST_LEVEL_DB and top - quiet >= LEAST_RANGE_DB:
            loud[row] = top
    return loud


def restless_levels(levels: np.ndarray, loud: np.ndarray) -> np.ndarray:
    """float64 (tracks,): the loud levels of those tracks that have none in `loud` because they hardly ever rest; minus
    infinity for all others. `levels` as in `loud_levels`."""
    out = np.full(len(levels), -np.inf)
    for row in np.flatnonzero(np.isneginf(loud)):
        there = levels[row][np.isfinite(levels[row])]
        if there.size < 20:
            continue
        quiet, top = percentiles(there, 10, 99.5)
        if top >= LEAST_LEVEL_DB and top - quiet >= RESTLESS_RANGE_DB:
            out[row] = top
    return out


def find_line_check(
    tracks: tuple[int, ...], levels: np.ndarray, within_s: tuple[float, float] | None = None
) -> LineCheck | None:
    """The take's line check; None where there was none.

    Parameters
    ----------
    tracks : numbers of the tracks, one a row of `levels`
    levels : float64 (tracks, hops) as in `loud_levels`
    within_s : only this part is looked at, in seconds; loud levels still come from the whole take
    """
    loud = loud_levels(levels)
    speaking = np.flatnonzero(np.isfinite(loud))
    if speaking.size < LEAST_TURNS:
        return None
    relative = _smooth(levels[speaking]) - loud[speaking, None]
    offset = 0
    if within_s is not None:
        offset = max(int(within_s[0] * 10), 0)
        relative = relative[:, offset : int(np.ceil(within_s[1] * 10))]
    if relative.shape[1] < LEAST_TURN_HOPS:
        return None
    open_rows = np.zeros(len(speaking), bool)
    for _ in range(3):
        found = open_rows | _open_to_all(relative, open_rows)
        if (found == open_rows).all():
            break
        open_rows = found
    runs = _turns(relative, open_rows)
    row = _longest_row(relative, runs, open_rows, told=within_s is not None)
    if row is None:
        return None
    numbers = [tracks[place] for place in speaking]
    return LineCheck(tuple(_turn(relative, run, open_rows, numbers, offset) for run in row))


def _smooth(levels: np.ndarray) -> np.ndarray:
    """Mean powers over half a second, in dB: a word's pauses do not end a turn."""
    power = np.where(np.isfinite(levels), 10 ** (np.nan_to_num(levels, neginf=-200.0, nan=-200.0) / 10), 0.0)
    sums = np.cumsum(np.pad(power, ((0, 0), (SMOOTH_HOPS // 2 + 1, SMOOTH_HOPS // 2))), axis=1)
    return 10 * np.log10((sums[:, SMOOTH_HOPS:] - sums[:, :-SMOOTH_HOPS]) / SMOOTH_HOPS + 1e-20)


def _leading(relative: np.ndarray, open_rows: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Who leads each hop, at which level, and whether it leads alone."""
    closed = np.where(open_rows[:, None], relative - 1000, relative)
    leader, top = closed.argmax(axis=0), closed.max(axis=0)
    if open_rows.any():
        # Where only what opens to everything sounds, it leads.
        wide = np.where(open_rows[:, None], relative, -2000.0)
        take_over = (top < -NEAR_DB) & (wide.max(axis=0) >= -NEAR_DB)
        leader = np.where(take_over, wide.argmax(axis=0), leader)
        top = np.where(take_over, wide.max(axis=0), top)
    alone = (top >= -NEAR_DB) & (_next_level(closed, COMPANY) <= top - APART_DB)
    return leader, top, alone


def _turns(relative: np.ndarray, open_rows: np.ndarray) -> list[tuple[int, int, int]]:
    """Runs of hops in which one track leads alone, as (row, first hop, last hop + 1)."""
    leader, _, alone = _leading(relative, open_rows)
    found = []
    start = 0
    hops = relative.shape[1]
    for hop in range(1, hops + 1):
        if hop < hops and alone[hop] == alone[start] and leader[hop] == leader[start]:
            continue
        if alone[start]:
            found.append((int(leader[start]), start, hop))
        start = hop
    return _joined(found)


def _next_level(closed: np.ndarray, company: int) -> np.ndarray:
    """The level of the loudest track behind the leader and its company."""
    place = company + 1
    if closed.shape[0] <= place:
        return np.full(closed.shape[1], -2000.0)
    return -np.partition(-closed, place, axis=0)[place]


def _joined(runs: list[tuple[int, int, int]]) -> list[tuple[int, int, int]]:
    """Runs of one track with no other between them are one turn; short ones go."""
    out: list[list[int]] = []
    for row, start, stop in runs:
        if out and out[-1][0] == row and start - out[-1][2] <= 10:
            out[-1][2] = stop
            out[-1][3] += stop - start
        else:
            out.append([row, start, stop, stop - start])
    kept = [run for run in out if run[3] >= LEAST_TURN_HOPS]
    merged: list[tuple[int, int, int]] = []
    for row, start, stop, _ in kept:
        if merged and merged[-1][0] == row and start - merged[-1][2] <= 30:
            merged[-1] = (row, merged[-1][1], stop)
        else:
            merged.append((row, start, stop))
    return merged


def _means(relative: np.ndarray, run: tuple[int, int, int]) -> np.ndarray:
    """Every track's level while the leader of a turn is near its best."""
    row, start, stop = run
    part = relative[:, start:stop]
    loud = part[row] >= np.percentile(part[row], 50)
    return part[:, loud].mean(axis=1)


def _open_to_all(relative: np.ndarray, open_rows: np.ndarray) -> np.ndarray:
    """Which tracks come along with several sources that have nothing to do with each other."""
    _, top, alone = _leading(relative, open_rows)
    near = (relative[:, alone] >= top[alone] - APART_DB).astype(np.float32)
    together = near @ near.T >= LEAST_TURN_HOPS
    found = np.zeros(len(relative), bool)
    for row in np.flatnonzero(~open_rows):
        apart: list[int] = []
        for other in np.flatnonzero(together[row] & ~open_rows):
            if other != row and not together[other, apart].any():
                apart.append(int(other))
        found[row] = len(apart) >= OPEN_TURNS
    return found


def _longest_row(
    relative: np.ndarray, runs: list[tuple[int, int, int]], open_rows: np.ndarray, told: bool
) -> list[tuple[int, int, int]] | None:
    """The row of turns with the most different sources and little in company; None where there is none."""
    closed = relative[~open_rows]
    top = closed.max(axis=0)
    crowded = (top >= -NEAR_DB) & (_next_level(closed, COMPANY + 1) > top - APART_DB)
    sounding = top >= -NEAR_DB
    busy = np.concatenate(([0], np.cumsum(crowded)))
    awake = np.concatenate(([0], np.cumsum(sounding)))
    best: list[tuple[int, int, int]] | None = None
    for first in range(len(runs)):
        row = [runs[first]]
        for run in runs[first + 1 :]:
            if run[1] - row[-1][2] > MOST_GAP_S * 10:
                break
            # What lies between two turns may be talk or a fill; a song may not.
            between = busy[run[1]] - busy[row[-1][2]]
            if not told and between > 100:
                break
            row.append(run)
        start, stop = row[0][1], row[-1][2]
        share = (busy[stop] - busy[start]) / max(awake[stop] - awake[start], 1)
        enough = max(LEAST_TURNS, int(np.ceil(0.3 * (~open_rows).sum())))
        if len({leader for leader, _, _ in row}) < (LEAST_TURNS if told else enough):
            continue
        covered = sum(awake[b] - awake[a] for _, a, b in row) / max(awake[stop] - awake[start], 1)
        if not told and (share > CROWDED_SHARE or covered < COVERED_SHARE):
            continue
        if best is None or len({one for one, _, _ in row}) > len({one for one, _, _ in best}):
            best = row
    return best


def _turn(
    relative: np.ndarray, run: tuple[int, int, int], open_rows: np.ndarray, numbers: list[int], offset: int
) -> Turn:
    levels = _means(relative, run)
    near = [row for row in np.argsort(-levels) if levels[row] >= levels[run[0]] - APART_DB and not open_rows[row]]
    company = [run[0], *(int(row) for row in near if row != run[0])]
    rest = np.delete(levels, np.unique([*company, *np.flatnonzero(open_rows)]))
    margin = float(levels[run[0]] - rest.max()) if rest.size else 100.0
    return Turn(
        start_s=(run[1] + offset) / 10,
        stop_s=(run[2] + offset) / 10,
        tracks=tuple(numbers[row] for row in company[: COMPANY + 1]),
        margin_db=min(margin, 100.0),
    )
