"""Buses of the patch: which tracks go into each at which weight, and what their sum reaches."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence

import numpy as np

from replay.desk.channel import factor, trim_of
from replay.desk.model import BusView, ChannelView
from replay.patch.model import Patch
from replay.patch.routes import Routes
from replay.take.model import Track
from replay.units import amplitude, db, finite

SumPeaks = Callable[[Sequence[Track], np.ndarray, int, int], np.ndarray]
"""From tracks, weights (tracks, buses), first and last hop to the sums' true peaks (hops, buses)."""

AT_ONCE = 8


def buses(
    patch: Patch,
    routes: Routes,
    channels: Sequence[ChannelView],
    first: int,
    last: int,
    shifts: Mapping[int, float],
    sum_peaks: SumPeaks,
) -> Iterator[BusView]:
    """Every bus that channels go to, over hops `first` to `last` - 1; `shifts` as in `views.simulate`."""
    used = [bus for bus in patch.buses if any(send.bus == bus.name for c in patch.channels for send in c.sends)]
    if not used:
        return
    feeding = [view for view in channels if view.track is not None and view.channel.sends]
    tracks: list[Track] = []
    for view in feeding:
        assert view.track is not None
        if view.track.track not in tracks:
            tracks.append(view.track.track)
    weights = np.zeros((len(tracks), len(used)))
    parts: dict[str, dict[int, float]] = {bus.name: {} for bus in used}
    for view in feeding:
        assert view.track is not None
        place = tracks.index(view.track.track)
        point = routes.of(view.channel.number).point
        shift, trim = shifts.get(view.track.track.number, 0.0), trim_of(view.channel, point)
        for send in view.channel.sends:
            column = next(i for i, bus in enumerate(used) if bus.name == send.bus)
            weights[place, column] += factor(view.channel, point) * amplitude(send.level + shift)
            peak = view.recorded.true_peak_dbtp if view.recorded else None
            if peak is not None:
                parts[send.bus][view.channel.number] = peak + trim + send.level
    for at in range(0, len(used), AT_ONCE):
        some = used[at : at + AT_ONCE]
        peaks = sum_peaks(tracks, weights[:, at : at + AT_ONCE], first, last) if tracks else np.zeros((0, len(some)))
        for column, bus in enumerate(some):
            series = peaks[:, column]
            highest = int(series.argmax()) if len(series) else 0
            level = finite(db(float(series[highest]))) if len(series) else None
            loudest = sorted(parts[bus.name], key=lambda number: -parts[bus.name][number])
            yield BusView(
                bus=bus,
                channels=tuple(sorted(parts[bus.name])),
                true_peak_dbtp=level,
                true_peak_s=(first + highest) / 10 if level is not None else None,
                headroom_db=bus.ceiling - level if level is not None else None,
                loudest=tuple(loudest[:3]),
            )
