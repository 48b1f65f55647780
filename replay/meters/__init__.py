"""Meters: measurements of one track's samples, knowing no patch.

A meter is a module as `MeterModule` says, imported and listed below, after the meters whose columns it reads. Modules
in this folder without a Meter are figures read from other meters' histories (noise_floor, active, thumps, again), a
part of a meter or of such a figure (interpolation, window, edges, faint), or say what a measurement is (model, notes).
What makes the pass and keeps its results is `replay.measuring`.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any, Protocol

if TYPE_CHECKING:
    from replay.meters.model import Column
    from replay.take.block import Block


class OneMeter(Protocol):
    """The meter of eight tracks, told hop by hop.

    It may note events: then it has `result(lane, facts)`, the lane's events in order of time and their exact counts by
    kind, and, where something can be open at the end, `finish(block)`, a last hop of silence whose halo is the end.
    """

    def feed(self, block: Block, out: dict[str, Any]) -> None:
        """Write the hop's values of the meter's columns for eight tracks."""


class MeterModule(Protocol):
    """What a module needs to be a meter: NAME is the module's own, COLUMNS are its histories (perhaps none)."""

    NAME: str

    @property
    def COLUMNS(self) -> tuple[Column, ...]:
        """The histories that it writes."""

    @property
    def Meter(self) -> Callable[[int], OneMeter]:
        """Made with the rate."""


def meters() -> tuple[MeterModule, ...]:
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
