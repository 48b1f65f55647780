"""`hear`: channels through the model, on headphones."""

from __future__ import annotations

import difflib
from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from replay.commands import NO_FAULT
from replay.errors import CallError
from replay.listening.words import ON_HEADPHONES, tell_preparing, underruns
from replay.sound.keys import Keys, LiveLine
from replay.terminal import Progress, say
from replay.text import clock, harmless

if TYPE_CHECKING:
    import numpy as np

    from replay.hear import Item, Listening
    from replay.opening import Opened
    from replay.sound.device import Device

LOUDEST_S = 8.0
BEFORE_FINDING_S = 2.0
SKIP_S = 5.0

HELP = "p pause  b back 5 s  f forward 5 s  n next channel  v channel before  + louder  - softer  q end"


def hear(
    show: str,
    *,
    channels: Sequence[int],
    bus: str | None,
    take: str | None,
    device: str | None,
    part: tuple[str | None, str | None],
    finding: str | None,
    level: float,
) -> int:
    """Play channels through the model."""
    from replay.call import Values

    values = Values()
    from_s, to_s = values.time("--from", part[0]), values.time("--to", part[1])
    if bus is not None and channels:
        values.wrong("--bus", "channels and a bus at once", "hear one or the other")
    if finding is not None and (channels or bus is not None or from_s is not None):
        values.wrong("--finding", "a finding says itself what to hear", "leave out channels, --bus and --from")
    values.settle()

    from replay.hear import OUTPUTS, Listening
    from replay.opening import open_show
    from replay.render.write import frames_of
    from replay.sound import device as devices

    opened = open_show(show, take)
    found = devices.find(device, OUTPUTS)
    if finding is not None:
        channels, from_s = _of_finding(show, take, finding)
    items, index = _items(opened, channels, bus)
    if from_s is None:
        from_s = _loudest(opened, items[index], to_s)
    start, stop = frames_of(opened, from_s, to_s)
    listening = Listening(items, opened.take.rate, opened.take.frames, start=start, stop=stop, index=index)
    listening.gain_db = level
    say("\n".join([*ON_HEADPHONES, f"Device  {found.shown}"]) + "\n")
    missed = listen(listening, found, Keys())
    if missed:
        say(f"While listening, {underruns(missed)}\n")
    for number, frame in sorted(listening.broken.items()):
        say(f"Track {number} could not be read from {clock(frame / opened.take.rate)} on.\n")
    return NO_FAULT


def _items(opened: Opened, channels: Sequence[int], bus: str | None) -> tuple[list[Item], int]:
    """What there is to hear, and what comes first. One channel: the others come before and after it."""
    from replay.errors import Problem
    from replay.hear import bus_item, channel_item

    if bus is not None:
        return [bus_item(opened, bus)], 0
    there = {channel.number: channel for channel in opened.patch.channels}
    unknown = [Problem(f"the patch has no channel {number}") for number in channels if number not in there]
    if unknown:
        raise CallError(unknown)
    wanted = list(dict.fromkeys(channels))
    if len(wanted) > 1:
        return [channel_item(opened, [there[number] for number in wanted])], 0
    if wanted:
        channel_item(opened, [there[wanted[0]]])  # tells where it cannot be heard
    playable = [channel for channel in opened.patch.channels if opened.track_of(channel) is not None]
    if not playable:
        raise CallError("no channel of this patch has a track in this take: there is nothing to hear")
    numbers = [channel.number for channel in playable]
    return [channel_item(opened, [channel]) for channel in playable], numbers.index(wanted[0]) if wanted else 0


def _of_finding(show: str, take: str | None, wanted: str) -> tuple[list[int], float | None]:
    """The channels of a finding, and the time from which to hear it."""
    from replay import simulate

    with Progress() as progress:
        report = simulate.check(show, take=take, progress=progress)
    known = {finding.id: finding for finding in report.findings}
    finding = known.get(wanted)
    if finding is None:
        near = difflib.get_close_matches(wanted, known, 3)
        hint = f"did you mean {' or '.join(near)}?" if near else "check --json lists the ids of all findings"
        raise CallError(f"this take has no finding {harmless(wanted, 80)}", hint=hint)
    if not finding.channels:
        raise CallError(f"the finding {wanted} belongs to no channel that could be heard")
    start = finding.start_s
    return list(finding.channels), None if start is None else max(0.0, start - BEFORE_FINDING_S)


def energies(opened: Opened, numbers: Sequence[int]) -> Mapping[int, np.ndarray]:
    """The energy by hop of some tracks: from kept measurements, or measured now."""
    from replay.measuring import kept
    from replay.measuring.store import Store, default_folder

    tracks = [track for track in opened.take.tracks if track.number in set(numbers)]
    store = Store(default_folder())
    with Progress() as progress:
        known = kept.known(
            tracks,
            opened.take.rate,
            store,
            progress=lambda share: progress(share, "measuring, to find where it is to be heard"),
        )
    kept.finish(store, known)
    return {number: known.measurements[number].column("energy") for number in known.measurements}


def _loudest(opened: Opened, item: Item, to_s: float | None) -> float:
    from replay.hear import energy_of
    from replay.stands_out import loudest

    energy = energy_of(item, energies(opened, [track.number for track in item.tracks]))
    if to_s is not None:
        energy = energy[: max(1, int(to_s * 10))]
    return loudest(energy, LOUDEST_S)


def device_rate(found: Device, rate: int) -> int:
    """The rate at which the device is opened: the take's, if it has that, else its own."""
    from replay.hear import OUTPUTS
    from replay.sound.device import takes_rate

    return rate if takes_rate(found, OUTPUTS, rate, "float32") else found.rate or 48000


def sounding(listening: Listening, rate: int) -> Iterator[Any]:
    """What goes to the device: converted to its rate where need be, limited, as float32."""
    from replay.hear import CEILING_DBFS, OUTPUTS
    from replay.sound.convert import converted
    from replay.sound.limiter import Limiter
    from replay.units import amplitude

    limiter = Limiter(rate, amplitude(CEILING_DBFS))
    for block in converted(listening.blocks(), listening.rate, rate, OUTPUTS):
        yield limiter.feed(block).astype("float32")
    yield limiter.rest().astype("float32")


def listen(listening: Listening, found: Device, keys: Keys) -> int:
    """Play until the end or until q; returns how often the reader fell behind."""
    from replay.hear import AHEAD_S, OUTPUTS
    from replay.sound.player import Player

    rate = device_rate(found, listening.rate)
    player = Player(found, rate, OUTPUTS, sounding(listening, rate), dtype="float32", ahead_s=AHEAD_S, latency=0.1)
    line = LiveLine()
    tell_preparing()
    try:
        with keys, player:
            if keys.active:
                say(HELP + "\n")
            while not player.wait(0.0):
                key = keys.get(0.1)
                if key == "q":
                    player.stop()
                    break
                if key:
                    _obey(listening, key)
                line.show(_live(listening, player.ring.taken / rate, player.underruns))
    finally:
        line.clear()
    return player.underruns


def _obey(listening: Listening, key: str) -> None:
    from replay.hear import LOUDEST_DB, QUIETEST_DB, STEP_DB

    skip = int(SKIP_S * listening.rate)
    if key == "p":
        listening.paused = not listening.paused
    elif key in "bf":
        listening.jump(listening.index, listening.position + (skip if key == "f" else -skip))
    elif key in "nv":
        step = 1 if key == "n" else -1
        listening.jump((listening.index + step) % len(listening.items), listening.position)
    elif key in "+=":
        listening.gain_db = min(listening.gain_db + STEP_DB, LOUDEST_DB)
    elif key in "-_":
        listening.gain_db = max(listening.gain_db - STEP_DB, QUIETEST_DB)


def _live(listening: Listening, played_s: float, missed: int) -> str:
    moment = listening.moment(played_s)
    if moment is None:
        return "..."
    level = f"{round(moment.peak_dbfs, 1) + 0.0:6.1f} dBFS" if moment.peak_dbfs > -120 else "  silent   "
    marks = [
        "CLIP" if moment.clipped else "",
        "TIMECODE, kept quiet" if moment.quiet else "",
        "PAUSED" if listening.paused else "",
        f"UNDERRUNS {missed}" if missed else "",
    ]
    told = "  ".join(mark for mark in marks if mark)
    tenth = int(moment.take_s * 10) % 10
    return f"{moment.label}  {clock(moment.take_s)}.{tenth}  {level}  heard at {listening.gain_db:+.0f} dB  {told}"
