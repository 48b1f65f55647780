"""Meters: measurements of one track's samples, knowing no patch.

A meter is a module with NAME, VERSION, COLUMNS (its histories) and a class Meter(rate) whose feed(block, out) writes
the hop's values of its columns for eight tracks; it is listed here, after the meters whose columns it reads. A meter
may note events: then it has result(lane, facts), the lane's events in order of time and their exact counts by kind,
and, where something can be open at the end, finish(block), a last hop of silence whose halo is the end. Modules in
this folder without a Meter are figures read from other meters' histories (noise_floor, active, window), or a part of a
meter (interpolation).
"""

from __future__ import annotations

from types import ModuleType


def meters() -> tuple[ModuleType, ...]:
    """All meters, in the order in which they are fed. Imports the compiler."""
    from replay.meters import (
        bands,
        clicks,
        clip_runs,
        held,
        jumps,
        loudness,
        mains,
        not_a_number,
        over,
        peak,
        plateaus,
        power,
        repeats,
        true_peak,
    )

    return (
        peak,
        power,
        loudness,
        true_peak,
        clip_runs,
        over,
        not_a_number,
        bands,
        mains,
        jumps,
        clicks,
        held,
        repeats,
        plateaus,
    )
