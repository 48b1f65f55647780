"""Declared pairs: both sides of a stereo pair read as one programme."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

from replay.desk.levels import loudness_figures, loudness_of
from replay.desk.model import ChannelView, PairView
from replay.meters.model import Measurement
from replay.meters.notes import Notes
from replay.units import amplitude


def pairs(
    channels: Sequence[ChannelView],
    measurements: Mapping[int, Measurement],
    first: int,
    last: int,
    shifts: Mapping[int, float],
) -> Iterator[PairView]:
    """Every pair of the patch once, over hops `first` to `last` - 1; `shifts` as in `views.simulate`."""
    by_number = {view.channel.number: view for view in channels}
    for view in channels:
        partner = by_number.get(view.channel.pair or 0)
        if partner is None or partner.channel.number < view.channel.number:
            continue
        pairing = view.channel.pairing or "stereo"
        left, right = view.channel.number, partner.channel.number
        pair = PairView(left=left, right=right, pairing=pairing)
        if pairing == "stereo" and view.track and partner.track:
            pair = _programme(pair, view, partner, measurements, first, last, shifts)
        yield pair


def _programme(
    pair: PairView,
    left: ChannelView,
    right: ChannelView,
    measurements: Mapping[int, Measurement],
    first: int,
    last: int,
    shifts: Mapping[int, float],
) -> PairView:
    """Both sides of a stereo pair as one programme, as recorded (a gain tried out included)."""
    assert left.track is not None
    assert right.track is not None
    sides = [left.track.track.number, right.track.track.number]
    gains = [amplitude(shifts.get(number, 0.0)) ** 2 for number in sides]
    last = min(last, *(measurements[number].hops for number in sides))
    if last <= first:
        return pair
    both = [_louder(measurements[number], factor) for number, factor in zip(sides, gains, strict=True)]
    peaks = [view.recorded.true_peak_dbtp for view in (left, right) if view.recorded]
    known = [peak for peak in peaks if peak is not None]
    notes, these = measurements[sides[0]].notes, f"of {sides} at {gains}"
    figures = loudness_figures(
        loudness_of(both, first, last, lambda question, find: notes.once(f"{question} {these}", find))
    )
    return replace(
        pair,
        integrated_lufs=figures["integrated_lufs"],
        momentary_max_lufs=figures["momentary_max_lufs"],
        short_term_max_lufs=figures["short_term_max_lufs"],
        loudness_range_lu=figures["loudness_range_lu"],
        true_peak_dbtp=max(known, default=None),
    )


def _louder(measurement: Measurement, factor: float) -> Measurement:
    if factor == 1.0:
        return measurement
    # What is noted of the measurement does not hold for this one.
    return replace(measurement, read_column=lambda name: measurement.column(name) * factor, notes=Notes())
