"""The simulated show put together: every channel, track, pair and bus with its levels and advice."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from replay.desk import gain as rule
from replay.desk.buses import SumPeaks, buses
from replay.desk.channel import trim_of
from replay.desk.clipping import clipping
from replay.desk.levels import ReadAgain, levels, stretch
from replay.desk.model import Advice, ChannelView, Clipping, Levels, Show, TrackView
from replay.desk.pairs import pairs
from replay.meters.model import Measurement
from replay.patch.model import Channel, Patch, Slot
from replay.patch.routes import Routes
from replay.take.model import Take, Track

NO_MOVES: Mapping[int, float] = {}

LOW_BY_NATURE = frozenset(
    ("kick", "tom", "bass", "keys", "percussion", "playback", "ambience", "timecode", "click", "other")
)
"""Kinds whose own sound may be what a thump is elsewhere."""


@dataclass(frozen=True)
class _Part:
    """Of the judged part of a track: its levels by gain in dB, at every gain that a channel asks for, and for how long
    something plays at the gain of the recording (or the one tried out)."""

    levels: Mapping[float, Levels]
    active_s: float


def simulate(
    patch: Patch,
    routes: Routes,
    take: Take,
    measurements: Mapping[int, Measurement],
    *,
    read_again: Callable[[Track], ReadAgain],
    sum_peaks: SumPeaks,
    shifts: Mapping[int, float],
    judged: tuple[float, float],
    now: float,
    limits: Mapping[str, float],
    judged_from: Mapping[int, float] = NO_MOVES,
) -> Show:
    """Put measurements through the patch.

    Parameters
    ----------
    measurements : by track number
    read_again : from a track to a function that reads hops' true peaks anew
    sum_peaks : measures bus sums; called only where the patch has buses that channels go to
    shifts : track number -> dB by which the track is taken to have been recorded louder (another gain tried out)
    judged : seconds on the take's clock between which levels are judged
    judged_from : by track number, from when on where that is later (its gain was moved before)
    """
    first, last = round(judged[0] * 10), round(judged[1] * 10)
    gains = _gains(patch, routes, shifts)

    def read(track: Track) -> tuple[_Part, TrackView]:
        measurement = measurements[track.number]
        again = read_again(track)
        shift = shifts.get(track.number, 0.0)
        slot = routes.slot_of(track.number)
        fed = routes.fed_by(slot) or routes.recorded_from(slot) if slot else ()
        thumps = not any(patch.channel(number).kind in LOW_BY_NATURE for number in fed)
        start = max(first, math.ceil(judged_from.get(track.number, 0.0) * 10))
        whole = stretch(measurement, 0, measurement.hops, again, without_thumps=thumps)
        same = start == 0 and last >= measurement.hops
        part = stretch(measurement, start, last, again, without_thumps=thumps) if not same else whole
        recorded = levels(part, shift)
        at = {gain: recorded if gain == shift else levels(part, gain) for gain in gains.get(track.number, ())}
        return _Part(at, part.active_s(shift)), TrackView(
            track=track,
            slot=slot,
            channels=routes.fed_by(slot) if slot else (),
            measurement=measurement,
            whole=recorded if same else levels(whole, shift),
            recorded=recorded,
            clipping=clipping(measurement, max(judged[0], start / 10), judged[1]),
            all_zero=measurement.totals["sample_peak"] == 0 and measurement.totals["not_a_number"] == 0,
            active_s=whole.active_s(shift),
            judged_from_s=start / 10 if start > first else None,
        )

    # Histories of one track after the other, and of no more than a few at once: what is kept are figures.
    parts: dict[int, _Part] = {}
    tracks: dict[int, TrackView] = {}
    for part, view in map(read, take.tracks):
        parts[view.track.number], tracks[view.track.number] = part, view
    advice = _advice(patch, routes, tracks, parts)
    channels = tuple(_channel_view(patch, routes, channel, tracks, parts, shifts, advice) for channel in patch.channels)
    return Show(
        patch=patch,
        routes=routes,
        take=take,
        channels=channels,
        tracks=tuple(tracks.values()),
        pairs=tuple(pairs(channels, measurements, first, last, shifts)),
        buses=tuple(buses(patch, routes, channels, first, last, shifts, sum_peaks)),
        judged_from_s=judged[0],
        judged_to_s=judged[1],
        now=now,
        limits=limits,
    )


def _gains(patch: Patch, routes: Routes, shifts: Mapping[int, float]) -> dict[int, set[float]]:
    """By track number, the gains in dB at which channels get it."""
    found: dict[int, set[float]] = {}
    for channel in patch.channels:
        route = routes.of(channel.number)
        if isinstance(route.playback, Slot):
            number = routes.track_of(route.playback)
            found.setdefault(number, set()).add(shifts.get(number, 0.0) + trim_of(channel, route.point))
    return found


def _track_of(routes: Routes, slot: Slot | str | None, tracks: Mapping[int, TrackView]) -> TrackView | None:
    return tracks.get(routes.track_of(slot)) if isinstance(slot, Slot) else None


def _channel_view(
    patch: Patch,
    routes: Routes,
    channel: Channel,
    tracks: Mapping[int, TrackView],
    parts: Mapping[int, _Part],
    shifts: Mapping[int, float],
    advice: Mapping[int, Advice],
) -> ChannelView:
    route = routes.of(channel.number)
    slot = route.slots[0] if route.slots else None
    playback = route.playback if isinstance(route.playback, Slot) else None
    track = _track_of(routes, playback, tracks)
    if track is not None:
        status = "track"
    elif playback is not None:
        status = "no-track"
    elif channel.socket is None and slot is None:
        status = "unfed"
    elif slot is None:
        status = "not-recorded"
    else:
        status = "live"
    after = None
    if track is not None:
        number = track.track.number
        # A feed taken after the trim has recorded it: on playback it is not applied a second time by the model.
        after = parts[number].levels[shifts.get(number, 0.0) + trim_of(channel, route.point)]
    source = _source(patch, channel, track, parts) if track is not None else None
    return ChannelView(
        channel=channel,
        status=status,
        slot=slot,
        playback=playback,
        track=track,
        recorded=track.recorded if track else None,
        input=after,
        headroom_db=-after.true_peak_dbtp if after and after.true_peak_dbtp is not None else None,
        expected_peak_dbtp=rule.expected_peak(source, patch.take.of) if source else None,
        advice=advice.get(channel.number),
    )


def _source(patch: Patch, channel: Channel, track: TrackView, parts: Mapping[int, _Part]) -> rule.Source:
    box = patch.box(channel.socket.box) if channel.socket else None
    return rule.Source(
        channel=channel,
        kind=patch.kinds[channel.kind],
        box=box,
        played_peak_dbtp=track.recorded.played_peak_dbtp,
        noise_floor_dbfs=track.recorded.noise_floor_dbfs,
        active_s=parts[track.track.number].active_s,
        clipping=track.clipping if channel.kind != "timecode" else Clipping(),
    )


def _advice(
    patch: Patch,
    routes: Routes,
    tracks: Mapping[int, TrackView],
    parts: Mapping[int, _Part],
) -> dict[int, Advice]:
    """Advice for every channel that needs some: sockets first, then pairs, then each channel's settings."""
    of, target = patch.take.of, patch.headroom.show_peak
    sources: dict[int, rule.Source] = {}
    for channel in patch.channels:
        route = routes.of(channel.number)
        # The preamp is judged by what its own socket recorded, not by what is played back into the channel.
        track = _track_of(routes, route.slots[0] if route.slots else None, tracks)
        if track is not None and channel.use != "off":
            sources[channel.number] = _source(patch, channel, track, parts)
    own = {number: rule.wanted_change(source, of, target) for number, source in sources.items()}
    wanted = dict(own)
    by_socket: dict[object, list[int]] = {}
    for number, source in sources.items():
        by_socket.setdefault(source.channel.socket or number, []).append(number)
    for _ in range(2):
        # A shared socket moves all its channels, a pair both sides; twice, so that one carries over to the other.
        for numbers in by_socket.values():
            if len(numbers) > 1:
                _move_together(wanted, numbers)
        for number, source in sources.items():
            partner = source.channel.pair
            if source.channel.pairing in ("stereo", "spaced") and partner in sources:
                _move_together(wanted, [number, partner])
    found = {}
    for number, change in wanted.items():
        if change is None:
            continue
        with_channel = None if own[number] is not None else _asker(own, sources, number, by_socket)
        found[number] = rule.advise(
            sources[number], change, patch.desk, of=of, show_peak=target, own=own[number], moved_with=with_channel
        )
    return found


def _move_together(wanted: dict[int, float | None], numbers: Sequence[int]) -> None:
    change = rule.together([wanted[number] for number in numbers])
    for number in numbers:
        wanted[number] = change


def _asker(
    own: Mapping[int, float | None],
    sources: Mapping[int, rule.Source],
    number: int,
    by_socket: Mapping[object, Sequence[int]],
) -> int | None:
    """The channel for whose sake this one moves: on its socket, or its partner."""
    channel = sources[number].channel
    near = [*by_socket[channel.socket or number], *([channel.pair] if channel.pair else [])]
    return next((other for other in near if other != number and own.get(other) is not None), channel.pair)
