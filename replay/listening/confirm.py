"""`confirm`: the channels signed off by ear, one after another."""

from __future__ import annotations

import datetime
import sys
from collections.abc import Mapping
from typing import TYPE_CHECKING

from replay.commands import NO_FAULT
from replay.confirm import answers as kept
from replay.confirm.answers import RIGHT, UNSURE, WRONG, Answer
from replay.errors import CallError
from replay.listening.hear import device_rate, energies, sounding
from replay.listening.words import ON_HEADPHONES
from replay.sound.keys import Keys, LiveLine
from replay.terminal import say
from replay.text import clock, harmless, ranges

if TYPE_CHECKING:
    import numpy as np

    from replay.opening import Opened
    from replay.patch.model import Channel
    from replay.sound.device import Device

EXCERPT_S = 5.0

QUESTION = "r right  w wrong  u unsure  a again  s skip  q end"
_BY_KEY = {"r": RIGHT, "w": WRONG, "u": UNSURE}


def confirm(show: str, *, channels: list[int], take: str | None, device: str | None, again: bool) -> int:
    """Walk the channels, play where each stands out, keep every answer at once."""
    if sys.stdin is None or not sys.stdin.isatty():
        raise CallError("confirm asks questions, and nobody is there to answer", hint="run it in a terminal")

    from replay.hear import OUTPUTS
    from replay.opening import open_show
    from replay.sound import device as devices

    opened = open_show(show, take)
    answers = kept.read(opened.patch.folder)
    stamp = kept.fingerprint(opened.take)
    found = devices.find(device, OUTPUTS)
    wanted = _wanted(opened, channels)
    stale = [number for number, answer in answers.items() if answer.fingerprint != stamp]
    done = [] if again else [c.number for c in wanted if c.number in answers and c.number not in stale]
    say("\n".join([*ON_HEADPHONES, f"Device  {found.shown}"]) + "\n")
    if stale:
        say(f"About another take, and asked again: channel{_s(stale)} {ranges(stale)}.\n")
    if done:
        say(f"Answered already: channel{_s(done)} {ranges(done)} (--again asks once more).\n")
    todo = [channel for channel in wanted if channel.number not in done]
    if todo:
        histories = energies(opened, [track.number for track in opened.take.tracks])
        try:
            for place, channel in enumerate(todo, start=1):
                say(f"\n{place} of {len(todo)}  channel {channel.number} {harmless(channel.name, 60)}")
                answer = _ask(opened, channel, histories, found)
                if answer is None:
                    break
                if answer[0]:
                    answers[channel.number] = _dated(answer, opened, channel, stamp)
                    kept.write(opened.patch.folder, answers)
        finally:
            _sum_up(opened, answers, stamp)
    else:
        _sum_up(opened, answers, stamp)
    return NO_FAULT


def _wanted(opened: Opened, numbers: list[int]) -> list[Channel]:
    """The channels to ask about: those with a track, in order; CallError where one that was named has none."""
    heard = [channel for channel in opened.patch.channels if opened.track_of(channel) is not None]
    heard.sort(key=lambda channel: channel.number)
    if not numbers:
        return heard
    missing = sorted(set(numbers) - {channel.number for channel in heard})
    if missing:
        raise CallError(f"channel{_s(missing)} {ranges(missing)}: no track in this take feeds what was named")
    return [channel for channel in heard if channel.number in numbers]


def _ask(
    opened: Opened, channel: Channel, histories: Mapping[int, np.ndarray], found: Device
) -> tuple[str, str] | None:
    """The answer and what it really is, both "" when skipped; None to end."""
    from replay.stands_out import stands_out

    track = opened.track_of(channel)
    assert track is not None
    partner = opened.patch.channel(channel.pair) if channel.pair else None
    beside = opened.track_of(partner) if partner else None
    apart = (beside.number,) if beside is not None else ()
    start = stands_out(histories, track.number, apart, EXCERPT_S)
    silent = not histories[track.number].any()
    say("  silent throughout\n" if silent else f"  from {clock(start)}\n")
    while True:
        key = _key(opened, channel, start, found)
        if key == "q":
            return None
        if key == "s":
            say("skipped\n")
            return ("", "")
        if key in _BY_KEY:
            say(_BY_KEY[key] + "\n")
            return (_BY_KEY[key], _what_is_it(opened) if key == "w" else "")


def _key(opened: Opened, channel: Channel, start_s: float, found: Device) -> str:
    """Play the excerpt and wait for a key that means something, while it plays or after."""
    from replay.hear import AHEAD_S, OUTPUTS, Listening, channel_item
    from replay.sound.player import Player

    rate = opened.take.rate
    stop = min(round((start_s + EXCERPT_S) * rate), opened.take.frames)
    item = channel_item(opened, [channel])
    listening = Listening([item], rate, opened.take.frames, start=round(start_s * rate), stop=stop)
    played_at = device_rate(found, rate)
    player = Player(
        found, played_at, OUTPUTS, sounding(listening, played_at), dtype="float32", ahead_s=AHEAD_S, latency=0.1
    )
    line = LiveLine()
    try:
        with Keys() as keys:
            with player:
                line.show(f"{QUESTION}  > playing")
                while not player.wait(0.0):
                    key = keys.get(0.1)
                    if key and key in "rwuasq":
                        return key
            line.clear()
            say(f"{QUESTION}  > ")
            while True:
                key = keys.get(1.0)
                if key and key in "rwuasq":
                    return key
                if not keys.active:
                    raise CallError("the terminal went away", hint="what was answered is kept")
    finally:
        line.clear()


def _what_is_it(opened: Opened) -> str:
    """What is heard instead: a channel's number, words, or nothing."""
    say("What is it? A channel's number, or words; Enter if you cannot tell: ")
    told = harmless(sys.stdin.readline().strip())
    if told.isascii() and told.isdecimal():
        numbers = {channel.number: channel.name for channel in opened.patch.channels}
        if int(told[:6]) in numbers:
            say(f"So it is channel {int(told)} {harmless(numbers[int(told)], 60)}.\n")
            return str(int(told))
    return told


def _dated(answer: tuple[str, str], opened: Opened, channel: Channel, stamp: str) -> Answer:
    return Answer(
        channel=channel.number,
        name=channel.name,
        answer=answer[0],
        is_really=answer[1],
        date=datetime.datetime.now().astimezone().isoformat(timespec="seconds"),
        take=harmless(opened.take.folder.name),
        fingerprint=stamp,
    )


def _sum_up(opened: Opened, answers: Mapping[int, Answer], stamp: str) -> None:
    current = {number: answer for number, answer in answers.items() if answer.fingerprint == stamp}
    counts = [f"{sum(a.answer == one for a in current.values())} {one}" for one in kept.ANSWERS]
    path = harmless(str(opened.patch.folder / kept.NAME), 4096)
    lines = ["", f"{', '.join(counts)}." + (f" Kept in {path}." if answers else " Nothing was kept.")]
    exchanged = kept.exchanges(current)
    lines += [f"Channels {a} and {b} are each other: exchange their returns." for a, b in exchanged]
    both = {number for pair in exchanged for number in pair}
    for number, answer in sorted(current.items()):
        if answer.answer == WRONG and number not in both:
            what = harmless(answer.is_really, 80)
            what = f"channel {what}" if what.isdecimal() else what
            lines.append(f"Channel {number} {harmless(answer.name, 60)} is wrong{': it is ' + what if what else ''}.")
    say("\n".join(lines) + "\n")


def _s(numbers: list[int]) -> str:
    return "" if len(numbers) == 1 else "s"
