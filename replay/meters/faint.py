"""Faint runs: stretches of nothing but dither, between a signal that breaks off and one that is in motion at once.

Where audio was lost before it was brought to 16 bits with dither, the hole holds no zeros but a step or two either way.
Noted are runs of LONG samples or more, none of which goes beyond MOST, before which the signal breaks off in full
motion (see `edges`; by LEAST_STEP / 2 and more), and behind which it moves by LEAST_STEP and more from one sample
to the next within half a millisecond. There no break is asked for: where a slow wave goes on from next to nothing none
shows, and what gives holes away is how they begin: much that sounds begins at once, and nothing ends so.
A gate's ramp, a sound that dies away and a room do not. All zeros are `held` and not noted here. Part of that meter,
which has looked at the steps already, so that this costs next to nothing.

Unit of an event's value: linear, the greatest magnitude within; `against` is the largest step from one sample to the
next near the end at which less moves.
"""

from __future__ import annotations

from replay.compiled import kernel
from replay.lanes import LANES
from replay.meters.edges import NEAR, STRIDE, edge, note

MOST = 2.0**-14
"""Two steps of 16 bits: triangular dither gives one, and what little was there before it another."""

LONG = 240
"""5 ms at 48 kHz: nothing that sounds passes through zero that slowly."""

LEAST_STEP = 16 * 2.0**-15
"""Sixteen steps of 16 bits, -66 dBFS: far more than dither moves."""

REACH = NEAR // STRIDE
"""Strides before a run in which the signal must move."""


@kernel
def _step(samples, row, lane, way):
    """The largest step near `row`, the first sample beyond a run, that into the run among them."""
    step = abs(samples[row, lane])
    for k in range(NEAR):
        step = max(step, abs(samples[row + way * (k + 1), lane] - samples[row + way * k, lane]))
    return step


@kernel
def _breaks_off(samples, row, lane, found):
    """Whether the signal breaks off behind `row`, in full motion; `found` is room."""
    edge(samples, row, lane, -1, 0.0, found)
    return found[0] == 1.0 and found[5] >= LEAST_STEP / 2


@kernel
def _candidates(moves, strides, quiet):
    """Fill `quiet` with the strides in which some lane moves no more than dither and moved far more just before; how
    many there are. What lies before the first strides is not known here."""
    found = 0
    for s in range(strides):
        any_lane = 0
        if s < REACH:
            for lane in range(LANES):
                any_lane |= 1 if moves[s, lane] <= 2 * MOST else 0
        else:
            for lane in range(LANES):
                before = max(moves[s - 1, lane], max(moves[s - 2, lane], moves[s - 3, lane]))
                any_lane |= (1 if moves[s, lane] <= 2 * MOST else 0) & (1 if before >= LEAST_STEP else 0)
        quiet[found] = s
        found += any_lane
    return found


@kernel
def faint_runs(samples, first, rows, frame, moves, quiet, since, state, found, events, counts):
    """Follow faint runs through the positions `first` to `first + rows - 1`; `frame` is the first one's.

    `moves` (strides, 8) are the greatest steps of every stride. `since[lane]` is the frame at which the open run began
    behind a break, or -1; `state[lane]` holds its greatest magnitude and the movement before it. `quiet` (strides,) and
    `found` are room.
    """
    last = first + rows
    strides = rows // STRIDE
    many = _candidates(moves, strides, quiet)
    for lane in range(LANES):
        begin = since[lane]
        place = 0
        row = first
        while True:
            if begin < 0:
                # On to the next stride in which a run may begin.
                while place < many and (first + quiet[place] * STRIDE < row or moves[quiet[place], lane] > 2 * MOST):
                    place += 1
                if place == many:
                    break
                row = first + quiet[place] * STRIDE
                place += 1
                if abs(samples[row, lane]) > MOST:
                    continue
                start = row
                while start > row - STRIDE and abs(samples[start - 1, lane]) <= MOST:
                    start -= 1
                if frame + start - first <= 0:
                    continue
                # Most ends are a slow signal's: they are told apart quickly.
                step = _step(samples, start - 1, lane, -1)
                if step < LEAST_STEP or not _breaks_off(samples, start - 1, lane, found):
                    continue
                begin = frame + start - first
                state[lane, 0] = 0.0
                state[lane, 1] = step
                row = start
            while row < last and abs(samples[row, lane]) <= MOST:
                state[lane, 0] = max(state[lane, 0], abs(samples[row, lane]))
                row += 1
            if row == last:
                break
            length = frame + row - first - begin
            step = _step(samples, row, lane, 1)
            if length >= LONG and state[lane, 0] > 0.0 and step >= LEAST_STEP:
                note(events, counts, lane, begin, length, state[lane, 0], min(state[lane, 1], step))
            begin = -1
        since[lane] = begin
