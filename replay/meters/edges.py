"""Edges: whether a signal breaks off at a sample, in full motion, or comes to rest before it.

An end of a run is a break where the error of 6-point interpolation (see `clicks`) at the edge is BREAK times the
largest one beyond the edge, or where the signal is so lively that its errors just beyond the edge are as large as
further out (broadband sounds). Shared by what looks for lost stretches: `held`, `faint`.
"""

from __future__ import annotations

from replay.compiled import kernel

BREAK = 3.0
LIVELY = 0.3
JUMP = 2.0
NEAR = 24
FAR = 72

FOUND = 6
"""What `edge` finds: so much room it needs."""

STRIDE = 8
"""Samples whose greatest step is known. A run of 24 has 23 equal neighbours: any 23 places hold a whole stride."""


@kernel
def _error(samples, row, lane):
    """The size of the error of 6-point interpolation, in 20ths."""
    return abs(
        20.0 * samples[row, lane]
        - 15.0 * (samples[row - 1, lane] + samples[row + 1, lane])
        + (6.0 * (samples[row - 2, lane] + samples[row + 2, lane]) - (samples[row - 3, lane] + samples[row + 3, lane]))
    )


@kernel
def edge(samples, row, lane, way, value, found):
    """Look from an edge outward: `row` is the first sample beyond the run, `way` is +1 or -1.

    `found` gets: whether it is a break, the largest step nearby, whether samples lie above `value`, whether below it,
    whether the signal jumps at the edge, and the interpolation's error there, linear.
    """
    at_edge = 0.0
    for k in range(-3, 3):
        at_edge = max(at_edge, _error(samples, row + way * k, lane))
    near = 0.0
    for k in range(3, 12):
        near = max(near, _error(samples, row + way * k, lane))
    far = 0.0
    for k in range(12, FAR - 4):
        far = max(far, _error(samples, row + way * k, lane))
    jump = abs(samples[row, lane] - value)
    step = 0.0
    above = 0.0
    below = 0.0
    for k in range(FAR - 4):
        here = samples[row + way * k, lane]
        if k < NEAR:
            step = max(step, abs(samples[row + way * (k + 1), lane] - here))
        if here > value:
            above = 1.0
        if here < value:
            below = 1.0
    breaks = at_edge > BREAK * max(near, far) or (near >= LIVELY * far and at_edge >= LIVELY * far and near > 0.0)
    found[0] = 1.0 if breaks else 0.0
    found[1] = max(step, jump)
    found[2] = above
    found[3] = below
    found[4] = 1.0 if jump > JUMP * step else 0.0
    found[5] = at_edge / 20.0


@kernel
def note(events, counts, lane, begin, length, value, against):
    """One more event of a lane, where there is room."""
    place = counts[lane]
    if place < events.shape[1]:
        events[lane, place, 0] = begin
        events[lane, place, 1] = length
        events[lane, place, 2] = value
        events[lane, place, 3] = against
    counts[lane] += 1
