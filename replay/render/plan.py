"""What is to be written: which tracks go into which file, by which factor, under which name and number."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from replay.desk.channel import factor, trim_of
from replay.errors import CallError, Problem
from replay.opening import Opened
from replay.patch.model import Slot
from replay.take.model import Track
from replay.text import clock, harmless, ranges
from replay.units import amplitude


@dataclass(frozen=True, kw_only=True)
class Line:
    """One signal that is written: the sum of tracks by their factors.

    `number` is the track number that it has in what is written, `name` its name there. `what` names it to the user,
    `cause` is the setting that changes its level ("" where none does). `encoding` is as in `wav_file.WIDTHS`.
    """

    number: int
    name: str
    what: str
    factors: Mapping[int, float]
    encoding: str
    cause: str = ""

    @property
    def is_unchanged(self) -> bool:
        return list(self.factors.values()) == [1.0]


@dataclass(frozen=True, kw_only=True)
class Plan:
    """Lines in order of their numbers; `buses` beside them; `left_out` says in plain sentences what is not written."""

    lines: tuple[Line, ...]
    buses: tuple[Line, ...] = ()
    left_out: tuple[str, ...] = ()

    @property
    def tracks(self) -> tuple[int, ...]:
        """The take's tracks that are read."""
        return tuple(sorted({track for line in (*self.lines, *self.buses) for track in line.factors}))


def channels(show: Opened, *, as_float: bool = False) -> Plan:
    """Every channel that a track feeds, after its trim and polarity, numbered by its return; and the buses.

    Raises CallError where there is none.
    """
    found: list[tuple[int, Line]] = []
    away: dict[str, list[int]] = {}
    for channel in show.patch.channels:
        route = show.ways.of(channel.number)
        track = show.track_of(channel)
        if track is None:
            why = "no such track in the take" if isinstance(route.playback, Slot) else "live on playback"
            away.setdefault(why, []).append(channel.number)
            continue
        trim = trim_of(channel, route.point)
        line = Line(
            number=track.number,
            name=channel.name,
            what=f"channel {channel.number} {harmless(channel.name, 60)}",
            factors={track.number: factor(channel, route.point)},
            encoding=encoding_of([track], as_float),
            cause=f"trim {trim:+g} dB" if trim else "",
        )
        found.append((channel.number, line))
    if not found:
        raise CallError("no channel of this patch has a track in this take: there is nothing to write")
    found.sort(key=lambda item: (item[1].number, item[0]))
    lines: list[Line] = []
    again: list[Line] = []
    for _, line in found:
        (again if lines and lines[-1].number == line.number else lines).append(line)
    highest = lines[-1].number
    lines += [replace(line, number=highest + place) for place, line in enumerate(again, start=1)]
    left_out = tuple(
        f"Not written: channel{'s' if len(numbers) > 1 else ''} {ranges(tuple(numbers))} ({why})."
        for why, numbers in away.items()
    )
    return Plan(lines=tuple(lines), buses=_buses(show), left_out=left_out)


def _buses(show: Opened) -> tuple[Line, ...]:
    """Sums of the channels that go to each bus. Always float, in which a sum cannot clip."""
    lines = []
    for place, bus in enumerate(show.patch.buses, start=1):
        factors: dict[int, float] = {}
        for channel in show.patch.channels:
            track = show.track_of(channel)
            for send in channel.sends:
                if send.bus == bus.name and track is not None:
                    gain = factor(channel, show.ways.of(channel.number).point) * amplitude(send.level)
                    factors[track.number] = factors.get(track.number, 0.0) + gain
        if factors:
            what = f"bus {harmless(bus.name, 60)}"
            lines.append(Line(number=place, name=bus.name, what=what, factors=factors, encoding="f32"))
    return tuple(lines)


def regained(show: Opened, shifts: Mapping[int, float], *, as_float: bool = False) -> Plan:
    """Every track of the take under its own number and name, moved by `shifts` (track number -> dB)."""
    lines = []
    for track in show.take.tracks:
        shift = shifts.get(track.number, 0.0)
        lines.append(
            Line(
                number=track.number,
                name=_name_of(show, track),
                what=f"track {track.number} {harmless(_name_of(show, track), 60)}",
                factors={track.number: amplitude(shift)},
                encoding=encoding_of([track], as_float),
                cause=f"gain {shift:+g} dB" if shift else "",
            )
        )
    return Plan(lines=tuple(lines))


def _name_of(show: Opened, track: Track) -> str:
    """The name of the channel that is recorded on it; the track's own where there is none."""
    slot = show.ways.slot_of(track.number)
    numbers = show.ways.recorded_from(slot) if slot is not None else ()
    return show.patch.channel(numbers[0]).name if numbers else track.name


def encoding_of(tracks: Sequence[Track], as_float: bool = False) -> str:
    """The encoding that holds every sample of these tracks: at least 24 bit, more where they have more."""
    files = [segment.file for track in tracks for segment in track.segments]
    if any(file.is_float and file.bits > 32 for file in files):
        return "f64"
    if any(file.is_float for file in files):
        return "f32"
    if any(file.bits > 24 for file in files):
        return "f64" if as_float else "s32"
    return "f32" if as_float else "s24"


def common_encoding(encodings: Sequence[str]) -> str:
    """The encoding of a file that holds signals of these: none of their samples changes in it."""
    held = set(encodings)
    if len(held) == 1:
        return encodings[0]
    # Of 32 bits, float holds 24 exactly; integers of 32 beside float need doubles.
    return "f64" if "f64" in held or held >= {"s32", "f32"} else "f32" if "f32" in held else "s32"


def problems_of(over: Sequence[tuple[Line, float, float]], cure: str) -> list[Problem]:
    """What would clip: (line, dB above full scale, second) as problems, with what to do."""
    return [
        Problem(f"{line.what}: {line.cause or 'it'} would clip it, by {amount:.1f} dB at {clock(at)}", hint=cure)
        for line, amount, at in over
    ]
