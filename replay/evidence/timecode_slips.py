"""How many samples were lost or repeated at an instant, read from timecode that runs across it.

Longitudinal timecode (SMPTE ST 12-1) numbers its frames and divides each into 80 bits, so that every sample of its
track has an address down to a part of a bit. On either side of an instant a straight line is laid through where the
bits of up to a second begin (only a second: over a whole take the generator's own drift would be more than what is
looked for). Where the lines meet the instant with different addresses, so much was lost or repeated. Both lines must
come of three whole frames or more, numbered one after the other, and run at one speed; else nothing is said.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from replay.evidence.naming import name_of
from replay.evidence.timecode import FRAME_BITS, SYNC, Timecode, bits_of, syncs_of
from replay.grid import hop_start
from replay.measuring.store import Store
from replay.take.model import Track
from replay.take.moments import Moment, read_moments

SIDE_S = 1.0
EDGE = 64
"""Samples on either side of an instant that are left out: what was patched there is no timecode."""

MOST = 32
"""So many instants are read; where there are more, the first ones say what the rest would."""

LEAST_FRAMES = 3
NEAR_FRAMES = 4.0
"""The frames that are read must come so near to the instant: a line is not trusted farther on."""

DAY_S = 24 * 3600
LONGEST_S = 10.0
"""More than that is a generator that was sent elsewhere, and nothing lost."""

SAME_SPEED = 0.002
STRAIGHT = 0.2
"""No bit may lie farther from its line than this share of a bit: else a second step lies within the second."""

SURE = 3.0
"""Standard errors."""

STRETCHES = 10

TO_THE_SAMPLE = 0.3

COLUMNS = 4


@dataclass(frozen=True)
class Slip:
    """What timecode on a track says of one instant (frame on the take's clock): samples lost (negative: repeated), and
    whether that is known to the sample."""

    track: int
    frame: int
    lost: float
    exact: bool


@dataclass(frozen=True)
class _Line:
    """Timecode at the instant: its address in frames, the samples of a frame, and how far off both may be (samples)."""

    address: float
    frame: float
    error: float
    frame_error: float


def known(
    tracks: Sequence[Track],
    timecode: Mapping[int, Timecode],
    instants: Sequence[int],
    rate: int,
    store: Store | None,
    keys: Mapping[int, str],
    *,
    fresh: bool = False,
) -> tuple[Slip, ...]:
    """What timecode says of these instants: kept, or read now and kept."""
    coded = [track for track in tracks if track.number in timecode]
    if not coded or not instants:
        return ()
    name = None if store is None else name_of("slips", coded, keys, rate, list(instants))
    if store is not None and name is not None and not fresh:
        values = store.extra(name)
        if values is not None and values.size % COLUMNS == 0:
            rows = values.reshape(-1, COLUMNS).tolist()
            return tuple(Slip(int(track), int(frame), lost, bool(exact)) for track, frame, lost, exact in rows)
    found = tuple(_read(coded, timecode, sorted(instants), rate))
    if store is not None and name is not None:
        rows = [[one.track, one.frame, one.lost, one.exact] for one in found]
        store.keep_extra(name, np.array(rows, np.float64).reshape(-1))
    return found


def _read(
    tracks: Sequence[Track], timecode: Mapping[int, Timecode], instants: Sequence[int], rate: int
) -> Iterator[Slip]:
    """The slips, in order of time."""
    stop = max(track.stop for track in tracks)
    bounds = [0, *instants, stop]
    spans = {}
    for place, instant in enumerate(instants[:MOST], start=1):
        low = max(bounds[place - 1] + EDGE * (place > 1), instant - round(SIDE_S * rate), 0)
        high = min(bounds[place + 1] - EDGE * (place < len(instants)), instant + round(SIDE_S * rate), stop)
        first = low * 10 // rate
        moment = Moment(first, max(1, -(-high * 10 // rate) - first), tuple(range(len(tracks))))
        spans[moment] = (low, instant, high)
    for moment, samples in read_moments(tracks, rate, list(spans)):
        low, instant, high = (frame - hop_start(moment.first, rate) for frame in spans[moment])
        for track, one in zip(tracks, samples, strict=True):
            per_second = round(timecode[track.number].frames_per_second)
            found = lost_between(one[max(low, 0) : high], instant - max(low, 0), rate, per_second)
            if found is not None:
                yield Slip(track.number, spans[moment][1], *found)


def lost_between(samples: np.ndarray, instant: int, rate: int, per_second: int) -> tuple[float, bool] | None:
    """Samples lost (negative: repeated) at sample `instant`, and whether to the sample; None where timecode of so many
    frames a second cannot be read on both sides of it."""
    before = _line(samples[: max(instant - EDGE, 0)], instant, per_second)
    after = _line(samples[instant + EDGE :], -EDGE, per_second)
    if before is None or after is None or abs(before.frame / after.frame - 1) > SAME_SPEED:
        return None
    day = DAY_S * per_second
    frames = (after.address - before.address + day / 2) % day - day / 2
    lost = frames * (before.frame + after.frame) / 2
    error = before.error + after.error + abs(frames) * max(before.frame_error, after.frame_error)
    if abs(lost) > LONGEST_S * rate:
        return None
    exact = bool(error <= TO_THE_SAMPLE and abs(lost - round(lost)) <= TO_THE_SAMPLE)
    if exact:
        return float(round(lost)), True
    # Whatever could be nothing at all is not told as a loss, nor as none.
    return (float(lost), False) if abs(lost) > 2 * error else None


def _line(samples: np.ndarray, at: int, per_second: int) -> _Line | None:
    """The timecode of one side, carried on to sample `at` before or behind it."""
    read = bits_of(samples) if len(samples) else None
    if read is None:
        return None
    bits, places = read
    syncs = syncs_of(bits)
    starts = syncs[np.isin(syncs + FRAME_BITS, syncs)] + len(SYNC)
    numbers = [frame_number(bits[start : start + FRAME_BITS], per_second) for start in starts]
    day = DAY_S * per_second
    # Of the frames that follow one another, the run that lies nearest to the instant.
    ends = np.flatnonzero((np.diff(starts) != FRAME_BITS) | (np.diff(numbers) % day != 1)) + 1
    runs = np.split(np.arange(len(starts)), ends)
    run = runs[-1] if at > 0 else runs[0]
    if len(run) < LEAST_FRAMES:
        return None
    first, count = int(starts[run[0]]), len(run) * FRAME_BITS
    addresses = numbers[run[0]] + np.arange(count) / FRAME_BITS
    here = places[first : first + count]
    middle, centre = addresses.mean(), here.mean()
    spread = float(((addresses - middle) ** 2).sum())
    frame = float(((addresses - middle) * (here - centre)).sum() / spread)
    off = here - centre - frame * (addresses - middle)
    if np.abs(off).max() > STRAIGHT * frame / FRAME_BITS:
        return None
    address = middle + (at - centre) / frame
    if np.abs(addresses - address).min() > NEAR_FRAMES:
        return None
    # Edges that a generator rounds to whole samples lie off in step for frames on end: means of stretches keep that.
    stretches = off[: count // STRETCHES * STRETCHES].reshape(STRETCHES, -1).mean(axis=1)
    scatter = float(np.sqrt((off**2).sum() / (count - 2)))
    frame_error = scatter / float(np.sqrt(spread))
    error = SURE * float(np.hypot(scatter / np.sqrt(count), (address - middle) * frame_error))
    return _Line(address, frame, error + float(np.abs(stretches).max()), SURE * frame_error)


def frame_number(bits: np.ndarray, per_second: int) -> int:
    """The number of a frame since 00:00:00:00 (ST 12-1: time in binary-coded decimals, least bit first; bit 10 says
    that frames 0 and 1 are left out of every minute but each tenth)."""

    def digits(units: int, tens: int, tens_bits: int) -> int:
        powers = 2 ** np.arange(4)
        return int(bits[units : units + 4] @ powers + 10 * (bits[tens : tens + tens_bits] @ powers[:tens_bits]))

    frame, second, minute, hour = digits(0, 8, 2), digits(16, 24, 3), digits(32, 40, 3), digits(48, 56, 2)
    minutes = 60 * hour + minute
    left_out = 2 * (minutes - minutes // 10) if bits[10] else 0
    return (60 * minutes + second) * per_second + frame - left_out
