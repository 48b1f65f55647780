"""Cases from base takes: the same audio measured once, its tracks then laid out otherwise.

`hear` runs the program on a take that was written to files; `Case` says which track then lies in which slot.
Laying out is exact: what is measured and seen of a track does not depend on its number (a test holds that), so four
hundred cases cost no more rendering than the handful of takes behind them.
"""

from __future__ import annotations

import tempfile
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np

from replay import simulate
from replay.checks import (
    default_limits,
    duplicate,
    moved_block,
    name_mismatch,
    polarity,
    shifted,
    swapped,
    time_offset,
    unlikely_source,
)
from replay.desk.model import ChannelView, Clipping, Levels, PairView, Show, TrackView
from replay.evidence.gather import gather
from replay.evidence.model import Evidence
from replay.evidence.speaking import LineCheck
from replay.findings.finding import Finding
from replay.grid import hop_start
from replay.mapping.judge import judge
from replay.mapping.model import Misplacement
from replay.meters.model import Measurement
from replay.patch.from_toml import read_patch
from replay.patch.model import Patch
from replay.patch.routes import routes
from replay.take.model import Take, Track
from replay.take.moments import Moment, frames_of
from tests import parts
from tests.material.recording import Recording
from tests.material.show import inputs_csv, patch_toml, write_show

NOBODY = 0
"""In a layout: a track that holds nothing but its preamp's noise."""


@dataclass(frozen=True)
class Heard:
    """A take as the program heard it: the simulated show with its evidence (without measurements), the tracks' names,
    and, from the samples themselves, the correlation of each channel with its partner (`common`)."""

    name: str
    show: Show
    names: Mapping[int, str]
    common: Mapping[int, float] = field(default_factory=dict)

    @property
    def patch(self) -> Patch:
        return self.show.patch

    @property
    def evidence(self) -> Evidence:
        return self.show.evidence


@dataclass(frozen=True)
class Case:
    """`layout[t]` is the recorded track that lies on track t (NOBODY: noise). `wrong` are the channels whose sources
    then lie elsewhere, with the track that they lie on (None: on none)."""

    what: str
    layout: Mapping[int, int]
    wrong: Mapping[int, int | None] = field(default_factory=dict)


def hear(recording: Recording, name: str) -> Heard:
    """What the program's evidence says of a recording, read from the array that a file would be written from."""
    tracks = tuple(_track(one.number, one.name, recording) for one in recording.inputs)
    measurements = {one.number: _energies(recording, row) for row, one in enumerate(recording.inputs)}

    def read(_: object, rate: int, moments: Sequence[Moment]) -> Iterable[tuple[Moment, np.ndarray]]:
        for moment in sorted(moments):
            first, frames = hop_start(moment.first, rate), frames_of(moment.hops, rate)
            yield moment, np.asarray(recording.tracks[list(moment.rows), first : first + frames])

    evidence = gather(tracks, measurements, recording.rate, read=read)
    with tempfile.TemporaryDirectory(prefix="mapping-rates-") as folder:
        (Path(folder) / "inputs.csv").write_text(inputs_csv(recording.inputs), encoding="utf-8")
        (Path(folder) / "patch.toml").write_text(patch_toml(recording), encoding="utf-8")
        patch = read_patch(Path(folder))
    return Heard(
        name,
        _show(patch, recording, tracks, evidence),
        {track.number: track.name for track in tracks},
        _common(recording),
    )


def _common(recording: Recording) -> dict[int, float]:
    """The greatest correlation within 1 ms of every input with its partner, from eight seconds of samples."""
    found = {}
    stop = recording.frames - recording.rate
    start = max(stop - 8 * recording.rate, recording.rate)
    for row, one in enumerate(recording.inputs):
        if one.pair is None:
            continue
        here = np.asarray(recording.tracks[row, start:stop], np.float64)
        partner = recording.tracks[recording.index(one.pair)]
        best = 0.0
        for lag in range(-48, 49, 4):
            there = np.asarray(partner[start + lag : stop + lag], np.float64)
            scale = float(np.sqrt((here @ here) * (there @ there)))
            best = max(best, abs(float(here @ there)) / scale if scale else 0.0)
        found[one.number] = best
    return found


def _track(number: int, name: str, recording: Recording) -> Track:
    path = f"/take/{number:02d} {name}.wav"
    file = parts.file(path, recording.frames, rate=recording.rate, names=(name,), numbers=(number,))
    return parts.track(number, file, name)


def _energies(recording: Recording, row: int) -> Measurement:
    hops = recording.frames * 10 // recording.rate
    frames = recording.rate // 10
    samples = recording.tracks[row, : hops * frames].reshape(hops, frames)
    # Summed in single precision, within 0.01 dB; exact zeros stay zeros.
    energy = np.einsum("ij,ij->i", samples, samples).astype(np.float64)
    sums = samples.sum(axis=1, dtype=np.float64)
    columns = {"energy": energy, "sum": sums, "high": samples.max(axis=1), "low": samples.min(axis=1)}
    return parts.measurement(row + 1, hops, columns, rate=recording.rate, coverage=((0, recording.frames),))


def _show(patch: Patch, recording: Recording, tracks: Sequence[Track], evidence: Evidence) -> Show:
    """A show without levels: what the checks on mapping look at."""
    ways = routes(patch)
    views = {}
    for track in tracks:
        slot = ways.slot_of(track.number)
        views[track.number] = TrackView(
            track=track, slot=slot, channels=ways.fed_by(slot) if slot else (), measurement=None,  # type: ignore[arg-type]
            whole=Levels(), recorded=Levels(), clipping=Clipping(), all_zero=False, active_s=10.0,
        )  # fmt: skip
    channels = tuple(
        ChannelView(
            channel=channel, status="track", slot=ways.of(channel.number).slots[0],
            playback=ways.of(channel.number).slots[0], track=views[ways.track_of(ways.of(channel.number).slots[0])],
            recorded=None, input=None, headroom_db=None, expected_peak_dbtp=None, advice=None,
        )
        for channel in patch.channels
    )  # fmt: skip
    pairs = tuple(
        PairView(left=channel.number, right=channel.pair, pairing=channel.pairing or "stereo")
        for channel in patch.channels
        if channel.pair is not None and channel.number < channel.pair
    )
    take = Take(
        folder=Path("/take"), rate=recording.rate, frames=recording.frames, tracks=tuple(tracks), troubles=(),
        recorded=0.0,
    )  # fmt: skip
    return Show(
        patch=patch, routes=ways, take=take, channels=channels, tracks=tuple(views.values()), pairs=pairs, buses=(),
        judged_from_s=0.0, judged_to_s=take.duration_s, now=0.0, limits=default_limits(), evidence=evidence,
    )  # fmt: skip


def hear_files(recording: Recording, name: str) -> tuple[tuple[str, str, str], ...]:
    """Faults and warnings of the whole check on the recording written to files, as (severity, code, message)."""
    with tempfile.TemporaryDirectory(prefix="mapping-rates-") as folder:
        report = simulate.check(write_show(Path(folder), recording, of="show"), keep=False, now=0.0)
        return tuple(
            (one.severity, one.code, one.message) for one in report.findings if one.severity in ("fault", "warning")
        )


CHECKED = (swapped, shifted, moved_block, name_mismatch, duplicate, unlikely_source, polarity, time_offset)


def found(heard: Heard, case: Case, names: str, patch: Patch | None = None) -> list[Finding]:
    """What the checks of this kind find where the take's tracks are laid out as in the case.

    `names`: `list` (the recorder's labels are the input list's), `none` (they say nothing).
    """
    patch = patch or heard.patch
    labels = {track: (heard.names[track] if names == "list" else f"Track {track:02d}",) for track in heard.names}
    evidence = laid_out(heard.evidence, case.layout)
    mapping = judge(patch, routes(patch), labels, evidence)
    own = {channel.number: channel for channel in patch.channels}
    views = tuple(
        replace(view, channel=own[view.channel.number], mapping=mapping.channels.get(view.channel.number, view.mapping))
        for view in heard.show.channels
    )
    show = replace(heard.show, patch=patch, evidence=evidence, mapping=mapping, channels=views)
    return [one for check in CHECKED for one in check.check(show)]


def sources_told(heard: Heard, case: Case, names: str) -> list[Misplacement]:
    """The misplacements behind the findings."""
    labels = {track: (heard.names[track] if names == "list" else f"Track {track:02d}",) for track in heard.names}
    mapping = judge(heard.patch, routes(heard.patch), labels, laid_out(heard.evidence, case.layout))
    return list(mapping.misplaced)


def laid_out(evidence: Evidence, layout: Mapping[int, int]) -> Evidence:
    """The evidence of the same tracks lying elsewhere; a recorded track that no slot has any more is gone."""
    places: dict[int, list[int]] = {}
    for new, old in layout.items():
        places.setdefault(old, []).append(new)
    new_of = {old: news[0] for old, news in places.items() if old != NOBODY}

    def pair(a: int, b: int) -> tuple[int, int] | None:
        if a not in new_of or b not in new_of:
            return None
        return min(new_of[a], new_of[b]), max(new_of[a], new_of[b])

    alike = {}
    for (a, b), one in evidence.likeness.items():
        key = pair(a, b)
        if key is None:
            continue
        turned = key != (new_of[a], new_of[b])
        alike[key] = replace(
            one,
            a=key[0],
            b=key[1],
            lag_s=-one.lag_s if turned else one.lag_s,
            gain_db=-one.gain_db if turned else one.gain_db,
        )
    check = evidence.line_check
    if check is not None:
        turns = tuple(
            replace(turn, tracks=tuple(new_of[track] for track in turn.tracks if track in new_of))
            for turn in check.turns
            if turn.tracks[0] in new_of
        )
        check = LineCheck(turns) if turns else None
    return Evidence(
        tracks=tuple(sorted(layout)),
        line_check=check,
        sounds={new_of[old]: sound for old, sound in evidence.sounds.items() if old in new_of},
        together={key: value for (a, b), value in evidence.together.items() if (key := pair(a, b)) is not None},
        likeness=alike,
        bleed={new_of[old]: one for old, one in evidence.bleed.items() if old in new_of},
        silent=frozenset(
            [new_of[old] for old in evidence.silent if old in new_of]
            + [new for new, old in layout.items() if old == NOBODY]
        ),
    )


def straight(tracks: Sequence[int]) -> dict[int, int]:
    return {track: track for track in tracks}


def exchange(tracks: Sequence[int], a: int, b: int) -> Case:
    return Case("exchange", {**straight(tracks), a: b, b: a}, {a: b, b: a})


def shift(tracks: Sequence[int], first: int, last: int, by: int = 1) -> Case:
    """A source too many was plugged at `first`: everything up to `last` moves on, what falls off is lost."""
    layout = straight(tracks)
    wrong: dict[int, int | None] = {}
    for track in range(first, last + 1):
        layout[track] = track - by if first <= track - by <= last else NOBODY
        wrong[track] = track + by if first <= track + by <= last else None
    return Case("shift", layout, wrong)


def block(tracks: Sequence[int], a: int, b: int, size: int) -> Case:
    layout = straight(tracks)
    for step in range(size):
        layout[a + step], layout[b + step] = b + step, a + step
    return Case("block", layout, {new: old for new, old in layout.items() if new != old})


def with_part(recording: Recording, start_s: float, stop_s: float | None = None) -> Recording:
    """A stretch of a recording."""
    return recording.part([one.number for one in recording.inputs], start_s=start_s, stop_s=stop_s)


def songs_only(recording: Recording) -> Recording:
    """The recording without its line check."""
    return with_part(recording, max(recording.songs[0][0] - 1.0, 0.0))


def random_pairs(numbers: Sequence[int], count: int, rng: np.random.Generator) -> list[tuple[int, int]]:
    every = [(a, b) for place, a in enumerate(numbers) for b in numbers[place + 1 :]]
    return [every[int(one)] for one in rng.permutation(len(every))[:count]]
