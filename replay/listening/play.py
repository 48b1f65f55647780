"""`play`: the take to a device's outputs."""

from __future__ import annotations

import sys
from typing import Any

from replay.commands import NO_FAULT, NOT_ANSWERED
from replay.errors import CallError
from replay.listening.words import CAUTIONS, tell_preparing, underruns
from replay.sound.keys import Keys, LiveLine
from replay.terminal import say
from replay.text import clock, harmless, ranges


def play(
    show: str,
    *,
    take: str | None,
    device: str | None,
    part: tuple[str | None, str | None],
    loop: bool,
    yes: bool,
) -> int:
    """The virtual soundcheck: the take to a device's outputs."""
    from replay.call import Values
    from replay.sound import device as devices

    values = Values()
    from_s, to_s = values.time("--from", part[0]), values.time("--to", part[1])
    values.settle()
    if device is None:
        there = devices.devices()
        raise devices.DeviceError(
            "say with --device which device goes into the desk",
            hint=f"there are: {devices.listed(there)}" if there else "this machine has no device that plays sound",
        )

    from replay.opening import open_show
    from replay.play import Playback, ahead_s, wiring
    from replay.render.write import frames_of
    from replay.sound.player import Player

    opened = open_show(show, take)
    start, stop = frames_of(opened, from_s, to_s)
    plan = wiring(opened)
    rate = opened.take.rate
    found = devices.find(device, plan.outputs)
    say("\n".join(_what_goes_where(opened, plan, found, start, stop, loop)) + "\n")
    if not yes and not _agreed():
        say("Nothing was played.\n")
        return NOT_ANSWERED
    playback = Playback(plan, rate, start, stop, loop)
    player = Player(found, rate, plan.outputs, iter(playback), dtype="int32", ahead_s=ahead_s(plan.outputs, rate))
    line = LiveLine()
    tell_preparing()
    try:
        with Keys() as keys, player:
            say("Playing. q fades out and ends.\n" if keys.active else "Playing.\n")
            while not player.wait(0.0):
                if keys.get(0.2) == "q":
                    player.stop()
                    break
                told = f"  UNDERRUNS {player.underruns}" if player.underruns else ""
                at = playback.at(min(player.ring.taken, player.ring.put_count))
                rounds = f"  round {playback.rounds + 1}" if playback.rounds else ""
                line.show(f"{clock(at / rate)} of {clock(stop / rate)}{rounds}{told}")
    finally:
        line.clear()
        played = clock(player.delivered / rate)
        say(f"Played {played} to {len(plan.wires)} outputs: {underruns(player.underruns)}\n")
    for number, frame in sorted(playback.reading.broken.items()):
        say(f"Track {number} could not be read from {clock(frame / rate)} on: silence stood for it.\n")
    if playback.over:
        say(f"{playback.over} samples were beyond full scale (a float take) and left flat.\n")
    return NO_FAULT


def _what_goes_where(opened: Any, plan: Any, device: Any, start: int, stop: int, loop: bool) -> list[str]:
    rate = opened.take.rate
    lines = [
        f"Show    {harmless(opened.patch.title)}",
        f"Take    {harmless(opened.take.folder.name)}, {clock(start / rate)} to {clock(stop / rate)}"
        f"{', over and over' if loop else ''}, as recorded: no trim",
        f"Device  {device.shown}, {rate / 1000:g} kHz; desk and device must share one word clock",
        "",
        "output  track  channel",
    ]
    for wire in plan.wires:
        names = ", ".join(f"{number} {harmless(opened.patch.channel(number).name, 40)}" for number in wire.channels)
        lines.append(f"{wire.output:>6}  {wire.track.number:>5}  {names}")
    if plan.missing:
        lines.append(f"Silent, for the take lacks their tracks: channels {ranges(plan.missing)}.")
    if plan.live:
        lines.append(f"Not played, for they are live on playback: channels {ranges(plan.live)}.")
    if plan.unused:
        lines.append(f"Not played, for no channel returns from them: tracks {ranges(plan.unused)}.")
    return [*lines, "", *CAUTIONS, ""]


def _agreed() -> bool:
    """Whether the user types yes. Where nobody can be asked, nothing is played."""
    if sys.stdin is None or not sys.stdin.isatty():
        raise CallError("nobody can be asked before it plays", hint="add --yes where that is meant")
    say("Type yes to play: ")
    return sys.stdin.readline().strip().casefold() in ("yes", "y")
