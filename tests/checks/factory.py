"""A good session of eight channels, from which each test breaks one thing; `Session().show()` is a healthy show.

Channels: 1 Kick, 2 Snare, 3 OH L, 4 OH R (a stereo pair), 5 Bass (DI), 6 Keys (line), 7 Vocal, 8 Spare (may), on
sockets `riser 1` to `riser 8`, slots 1 to 8 of the link `main`, tracks 1 to 8. One minute at 48 kHz.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from replay.checks import default_limits
from replay.desk.model import (
    Advice,
    BusView,
    ChannelView,
    Clipping,
    ClipRun,
    Levels,
    PairView,
    Show,
    TrackView,
)
from replay.meters.model import EVENT, EVENT_KINDS, Measurement, no_events
from replay.patch.model import (
    Box,
    Bus,
    Channel,
    Feed,
    Kind,
    Link,
    Patch,
    Range,
    Slot,
    Socket,
    TakeChoice,
)
from replay.patch.routes import routes
from replay.take.model import AudioFile, FileTrouble, Take, Track
from tests import parts
from tests.checks.histories import band

RATE = parts.RATE
FRAMES = RATE // 10
NOW = 1_800_000_000.0

RISES = {"kick": 4, "snare": 4, "overhead": 4, "bass": 4, "keys": 8, "vocal": 9, "ambience": 15, "other": 4}

NAMES = (
    ("Kick", "kick", "mic"),
    ("Snare", "snare", "mic"),
    ("OH L", "overhead", "mic"),
    ("OH R", "overhead", "mic"),
    ("Bass", "bass", "di"),
    ("Keys", "keys", "line"),
    ("Vocal", "vocal", "mic"),
    ("Spare", "other", "mic"),
)
INPUT_OF = ("kick", "snare", "left", "right", "bass", "keys", "vocal", "horn")


@dataclass
class TrackPlan:
    """One track to be: its history in dB re full scale squared (-200: exact zeros), and what the desk made of it."""

    levels: np.ndarray
    start_s: float = 0.0
    peak: float | None = -10.0
    played: float | None = -12.0
    active_s: float = 40.0
    all_zero: bool = False
    clipping: Clipping = field(default_factory=Clipping)
    totals: dict[str, float] = field(default_factory=dict)
    columns: dict[str, np.ndarray] = field(default_factory=dict)
    is_float: bool = False
    bits: int | None = 24
    floor: float | None = -80.0
    coverage: tuple[tuple[int, int], ...] | None = None
    events: np.ndarray = field(default_factory=no_events)
    name: str = ""


def runs(*starts_and_ms: tuple[float, float], before: int = 0) -> Clipping:
    """Clipping with runs at these times (s) of these lengths (ms)."""
    made = tuple(ClipRun(start_s=s, length=round(ms * 48), length_ms=ms, positive=True) for s, ms in starts_and_ms)
    longest = max((ms for _, ms in starts_and_ms), default=0.0)
    return Clipping(runs=made, count=len(made), before=before, longest_ms=longest)


def noted(kind: str, *events: tuple[float, int, float, float]) -> np.ndarray:
    """Events of a kind as (time in s, length in frames, value, against)."""
    made = np.zeros(len(events), EVENT)
    made["kind"] = EVENT_KINDS[kind]
    for place, (at, length, value, against) in enumerate(events):
        made[place] = (EVENT_KINDS[kind], round(at * RATE), length, value, against)
    return made


class Session:
    """The good session; change its parts, then ask for the show."""

    def __init__(self, seconds: int = 60, seed: int = 1) -> None:
        heard = band(seconds, seed)
        self.rate = RATE
        self.patch_rate: int | None = RATE
        self.seconds = float(seconds)
        self.of = "soundcheck"
        self.age_h = 3.0
        self.judged = (0.0, float(seconds))
        self.boxes = [Box(name="riser", sockets=16, gain=Range(min=0, max=60, step=1), pad=20.0)]
        self.links = [Link(name="main", slots=16, first_track=1)]
        self.feeds = [Feed(box="riser", link="main", sources=tuple(range(1, 9)), slots=tuple(range(1, 9)))]
        self.channels: dict[int, dict] = {}
        self.tracks: dict[int, TrackPlan] = {}
        for number, (name, kind, entry) in enumerate(NAMES, start=1):
            self.channels[number] = {
                "name": name,
                "kind": kind,
                "input": entry,
                "socket": Socket("riser", number),
                "gain": 30.0,
                "line": number + 1,
            }
            self.tracks[number] = TrackPlan(levels=heard[INPUT_OF[number - 1]], name=name)
        self.channels[8]["use"] = "may"
        self.channels[3].update(pair=4, pairing="stereo")
        self.channels[4].update(pair=3, pairing="stereo")
        self.expected: dict[int, float | None] = {}
        self.advice: dict[int, Advice] = {}
        self.troubles: list[FileTrouble] = []
        self.others: tuple[str, ...] = ()
        self.buses: list[BusView] = []
        self.limits: dict[str, float] = {}

    def add_track(self, number: int, plan: TrackPlan | None = None) -> TrackPlan:
        """A further track (by default a copy of the vocal's)."""
        self.tracks[number] = plan or TrackPlan(levels=self.tracks[7].levels.copy())
        return self.tracks[number]

    def silence(self, number: int) -> None:
        """Make a track digital silence."""
        plan = self.tracks[number]
        plan.levels = np.full(plan.levels.size, -200.0)
        plan.all_zero, plan.peak, plan.played, plan.active_s = True, None, None, 0.0

    def noise(self, number: int, level: float = -85.0, seed: int = 3) -> None:
        """Make a track nothing but steady noise."""
        plan = self.tracks[number]
        plan.levels = level + np.random.default_rng(seed).normal(0, 0.15, plan.levels.size)
        plan.peak, plan.played, plan.active_s = level + 12, level + 11, 0.0

    def patch(self) -> Patch:
        return parts.patch(
            "/shows/mill",
            (Channel(number=number, **facts) for number, facts in sorted(self.channels.items())),
            rate=self.patch_rate,
            take=TakeChoice(folder=None, of=self.of),
            kinds={
                name: Kind(name=name, rise=rise, judges_low=name != "ambience", may_raise=name != "ambience")
                for name, rise in RISES.items()
            },
            boxes=tuple(self.boxes),
            links=tuple(self.links),
            feeds=tuple(self.feeds),
            buses=tuple(view.bus for view in self.buses),
        )

    def show(self) -> Show:
        patch = self.patch()
        ways = routes(patch)
        made = {number: self._track(number, plan) for number, plan in sorted(self.tracks.items())}
        tracks: dict[int, TrackView] = {}
        for number, (track, measurement) in made.items():
            plan = self.tracks[number]
            slot = ways.slot_of(number)
            levels = Levels(
                sample_peak_dbfs=plan.peak,
                true_peak_dbtp=plan.peak,
                true_peak_s=12.3 if plan.peak is not None else None,
                played_peak_dbtp=plan.played,
                noise_floor_dbfs=plan.floor,
            )
            tracks[number] = TrackView(
                track=track,
                slot=slot,
                channels=ways.fed_by(slot) if slot else (),
                measurement=measurement,
                whole=levels,
                recorded=levels,
                clipping=plan.clipping,
                all_zero=plan.all_zero,
                active_s=plan.active_s,
            )
        views = tuple(self._view(patch, channel, ways, tracks) for channel in patch.channels)
        pairs = tuple(
            PairView(left=c.number, right=c.pair, pairing=c.pairing or "stereo")
            for c in patch.channels
            if c.pair is not None and c.number < c.pair
        )
        return Show(
            patch=patch,
            routes=ways,
            take=Take(
                folder=Path("/shows/mill/audio"),
                rate=self.rate,
                frames=round(self.seconds * self.rate),
                tracks=tuple(track for track, _ in made.values()),
                troubles=tuple(self.troubles),
                recorded=NOW - self.age_h * 3600,
                others=self.others,
            ),
            channels=views,
            tracks=tuple(tracks.values()),
            pairs=pairs,
            buses=tuple(self.buses),
            judged_from_s=self.judged[0],
            judged_to_s=self.judged[1],
            now=NOW,
            limits={**default_limits(), **self.limits},
        )

    def _view(self, patch: Patch, channel: Channel, ways, tracks: dict[int, TrackView]) -> ChannelView:
        way = ways.of(channel.number)
        playback = way.playback if isinstance(way.playback, Slot) else None
        track = tracks.get(ways.track_of(playback)) if playback else None
        if playback is not None:
            status = "track" if track else "no-track"
        elif channel.socket is None:
            status = "unfed"
        elif channel.playback in ("live", "none"):
            status = "live"
        else:
            status = "not-recorded"
        recorded = track.recorded if track else None
        expected = None
        entry = None
        if recorded is not None and recorded.true_peak_dbtp is not None:
            entry = Levels(true_peak_dbtp=recorded.true_peak_dbtp + channel.trim, true_peak_s=recorded.true_peak_s)
            if recorded.played_peak_dbtp is not None:
                expected = recorded.played_peak_dbtp + RISES.get(channel.kind, 4)
        return ChannelView(
            channel=channel,
            status=status,
            slot=way.slots[0] if way.slots else None,
            playback=playback,
            track=track,
            recorded=recorded,
            input=entry,
            headroom_db=None,
            expected_peak_dbtp=self.expected.get(channel.number, expected),
            advice=self.advice.get(channel.number),
        )

    def _track(self, number: int, plan: TrackPlan) -> tuple[Track, Measurement]:
        start, frames = round(plan.start_s * RATE), plan.levels.size * FRAMES
        coverage = plan.coverage if plan.coverage is not None else ((start, start + frames),)
        track = parts.track(
            number, ((self._file(number, plan, stop - begin), begin) for begin, stop in coverage), plan.name
        )
        offset = start // FRAMES
        hops = offset + plan.levels.size
        powers = np.concatenate([np.zeros(offset), np.where(plan.levels <= -200, 0.0, 10 ** (plan.levels / 10))])
        peak = np.sqrt(powers) * 3
        columns = {
            "energy": powers * FRAMES,
            "sum": np.zeros(hops),
            "high": peak,
            "low": -peak,
            "true_peak": peak,
            "k_energy": powers * FRAMES,
            "over": np.zeros(hops, np.uint32),
            "not_a_number": np.zeros(hops, np.uint32),
            **{f"band_{band}": powers * FRAMES * (0.2 if 3 <= band <= 7 else 0.0) for band in range(11)},
            "mains_50": np.zeros(hops),
            "mains_50_beside": np.zeros(hops),
            "mains_60": np.zeros(hops),
            "mains_60_beside": np.zeros(hops),
            "mains_hz": np.zeros(hops),
            "k_energy_10ms": np.repeat(powers, 10) * FRAMES / 10,
            "jump": np.repeat(peak, 10) / 10,
            "jump_crest": np.full(10 * hops, 4.0),
            "held": np.zeros(hops, np.uint32),
            "flat_high": np.zeros(hops, np.uint32),
            "flat_low": np.zeros(hops, np.uint32),
            **plan.columns,
        }
        measurement = parts.measurement(
            number,
            hops,
            columns,
            coverage=coverage,
            is_float=plan.is_float,
            container_bits=32 if plan.is_float else 24,
            effective_bits=plan.bits,
            totals=plan.totals,
            events=plan.events,
            event_counts={kind: int((plan.events["kind"] == code).sum()) for kind, code in EVENT_KINDS.items()},
        )
        return track, measurement

    def _file(self, number: int, plan: TrackPlan, frames: int) -> AudioFile:
        how = {"encoding": "f32", "bits": 32, "is_float": True} if plan.is_float else {}
        path = f"/shows/mill/audio/{number:02d} {plan.name or 'Track'}.wav"
        return parts.file(path, frames, rate=self.rate, names=(plan.name,), numbers=(number,), modified=NOW, **how)


def bus(name: str, ceiling: float, peak: float | None, channels: tuple[int, ...], loudest: tuple[int, ...]) -> BusView:
    """A bus whose sum peaks at `peak` at 0:20."""
    return BusView(
        bus=Bus(name=name, ceiling=ceiling),
        channels=channels,
        true_peak_dbtp=peak,
        true_peak_s=20.0,
        headroom_db=None if peak is None else ceiling - peak,
        loudest=loudest,
    )
