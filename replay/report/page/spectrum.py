"""A channel's octave bands as bars, against the range in which its kind of source usually has most of its energy."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from replay.desk.spectrum import USUAL, band_edges, octaves

if TYPE_CHECKING:
    from replay.desk.model import ChannelView
    from replay.findings.result import Report

LOWEST_HZ, HIGHEST_HZ = 30.0, 20000.0
RANGE_DB = 48.0


@dataclass(frozen=True)
class Band:
    """A bar: place, width and height in percent of the drawing."""

    x: float
    width: float
    height: float


@dataclass(frozen=True, kw_only=True)
class Spectrum:
    """Bars, the kind's usual range as (from, to) in percent or None, and all in words."""

    bands: tuple[Band, ...]
    usual: tuple[float, float] | None
    usual_words: str
    words: str


def place(hertz: float) -> float:
    """A frequency's place in percent of the width, on a logarithmic axis.

    >>> place(30.0), place(20000.0), place(10.0)
    (0.0, 100.0, 0.0)
    """
    bounded = min(max(hertz, LOWEST_HZ), HIGHEST_HZ)
    return round(100 * math.log(bounded / LOWEST_HZ) / math.log(HIGHEST_HZ / LOWEST_HZ), 2)


def spectrum(report: Report, view: ChannelView) -> Spectrum | None:
    """The spectrum of a channel's track over the judged part; None where bands were not measured, or silence."""
    if view.track is None:
        return None
    first, last = int(report.show.judged_from_s * 10), int(report.show.judged_to_s * 10 + 0.5)
    shares = octaves(view.track.measurement, first, last)
    if shares is None:
        return None
    edges = band_edges(report.show.take.rate)
    bars = []
    for low, high, share in zip(edges[:-1], edges[1:], shares, strict=True):
        left, right = place(low), place(high)
        if right > left:
            bars.append(Band(left, round(right - left, 2), round(100 * max(0.0, 1 + share / RANGE_DB), 1)))
    loudest = max(range(len(shares)), key=lambda band: shares[band])
    usual = USUAL.get(view.channel.kind)
    words = f"Most energy between {edges[loudest]:.0f} and {edges[loudest + 1]:.0f} Hz."
    said = ""
    if usual:
        said = f"{view.channel.kind}: usually between {usual[0]:.0f} and {usual[1]:.0f} Hz (common practice)"
    return Spectrum(
        bands=tuple(bars),
        usual=(place(usual[0]), place(usual[1])) if usual else None,
        usual_words=said,
        words=words,
    )
