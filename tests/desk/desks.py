"""A small desk and made measurements: what the tests of the desk start from.

Eight channels of a box `stage` on a link `main`, channel n on socket n, slot n and track n. A made measurement is
histories written down, not audio: a minute that plays for 45 s at one level and rests for 15.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np

from replay.desk.model import Advice, Clipping, Show
from replay.desk.views import simulate
from replay.meters.model import EVENT, EVENT_KINDS, Measurement
from replay.patch.kinds import KINDS
from replay.patch.model import (
    Box,
    Bus,
    Channel,
    Feed,
    Headroom,
    Kind,
    Link,
    Patch,
    Range,
    Socket,
    TakeChoice,
)
from replay.patch.routes import routes
from replay.take.model import Take, Track
from tests import parts
from tests.tracks import ReadAgain, refuse

RATE = parts.RATE
HOP = 4800
HOPS = 600
PLAYING = 450


def made_track(number: int, frames: int = HOPS * HOP, rate: int = RATE) -> Track:
    """A track of one file that does not exist."""
    return parts.track(number, parts.file(f"/takes/{number}.wav", frames, rate=rate))


def made(
    number: int,
    played: float | None,
    *,
    heard: bool = True,
    clip_at: Sequence[float] = (),
    clips: int | None = None,
    columns: Mapping[str, np.ndarray] | None = None,
) -> Measurement:
    """A measurement whose peaks recur at `played` dBTP (None: digital silence).

    Where it is `heard`, it rests for a quarter of the time 70 dB under that; else it never rests: noise.
    `clip_at` are seconds at which clip runs begin, `clips` their exact count where it exceeds the list.
    """
    peak = np.zeros(HOPS) if played is None else np.full(HOPS, 10 ** (played / 20))
    if heard:
        peak[PLAYING:] *= 10 ** (-70 / 20)
    power = peak**2 * 10**-1.2
    histories = {
        "high": peak * 0.9,
        "low": -peak * 0.9,
        "true_peak": peak,
        "true_peak_limit": peak,
        "energy": power * HOP,
        "sum": np.zeros(HOPS),
        "k_energy": power * HOP,
        "k_energy_10ms": np.repeat(power * HOP / 10, 10).astype(np.float32),
        "over": np.zeros(HOPS, np.uint32),
        "not_a_number": np.zeros(HOPS, np.uint32),
        **(columns or {}),
    }
    events = np.zeros(len(clip_at), EVENT)
    events["kind"], events["length"], events["value"] = EVENT_KINDS["clip-run"], 5, 1 - 2.0**-23
    events["start"] = np.round(np.array(clip_at) * RATE)
    return parts.measurement(
        number,
        HOPS,
        histories,
        totals={"sample_peak": float(peak.max() * 0.9), "not_a_number": 0.0, "over_full_scale": 0.0},
        events=events,
        event_counts={"clip-run": len(clip_at) if clips is None else clips},
    )


def made_patch(
    channels: Mapping[int, Mapping[str, Any]],
    *,
    box: Mapping[str, Any] | None = None,
    of: str = "soundcheck",
    show_peak: float = -6.0,
    point: str = "preamp",
    buses: Sequence[Bus] = (),
    kinds: Mapping[str, Kind] = KINDS,
) -> Patch:
    """A patch with these channels by number; what is not said is as in the module's text."""
    boxes = (Box(**{"name": "stage", "sockets": 32, "gain": Range(min=0, max=60, step=1), "pad": 20.0, **(box or {})}),)
    numbers = tuple(range(1, 33))
    return parts.patch(
        "/shows/mill",
        (
            Channel(**{"number": n, "name": f"Channel {n}", "socket": Socket("stage", n), "gain": 30.0, **facts})
            for n, facts in sorted(channels.items())
        ),
        take=TakeChoice(of=of),
        headroom=Headroom(show_peak=show_peak),
        kinds=kinds,
        boxes=boxes,
        links=(Link(name="main", slots=32, first_track=1),),
        feeds=(Feed(box="stage", link="main", sources=numbers, slots=numbers, point=point),),
        buses=tuple(buses),
    )


def simulated(
    patch: Patch,
    measurements: Mapping[int, Measurement],
    *,
    tracks: Mapping[int, Track] | None = None,
    judged: tuple[float, float] | None = None,
    shifts: Mapping[int, float] | None = None,
    read_again: ReadAgain = refuse,
    sum_peaks: Any = None,
) -> Show:
    """The measurements put through the patch."""
    tracks = tracks or {n: made_track(n, one.hops * one.rate // 10, one.rate) for n, one in measurements.items()}
    frames = max(track.stop for track in tracks.values())
    rate = next(iter(measurements.values())).rate
    return simulate(
        patch,
        routes(patch),
        Take(folder=Path("/takes"), rate=rate, frames=frames, tracks=tuple(tracks.values()), troubles=(), recorded=0.0),
        measurements,
        read_again=lambda track: read_again,
        sum_peaks=sum_peaks,
        shifts=shifts or {},
        judged=judged or (0.0, frames / rate),
        now=0.0,
        limits={},
    )


def advice_of(show: Show) -> dict[int, Advice]:
    """What is advised, by channel."""
    return {view.channel.number: view.advice for view in show.channels if view.advice is not None}


NO_CLIPS = Clipping()
