"""`confirm`: the channels signed off by ear, one after another."""

from __future__ import annotations

import datetime
import sys
from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

from replay.commands import NO_FAULT
from replay.confirm import answers as kept
from replay.confirm.fingerprint import Fingerprint, fingerprint, name_of
from replay.confirm.holding import channels_now, holding
from replay.ear import ANSWERS, RIGHT, UNSURE, WRONG, Answer, Ear, rings
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
    stamp = fingerprint(opened.take)
    found = devices.find(device, OUTPUTS)
    wanted = _wanted(opened, channels)
    ear = _holding(answers, opened, stamp)
    stale = [one.answer.channel for one in ear.stale]
    done = [] if again else [channel.number for channel in wanted if channel.number in ear.answers]
    say("\n".join([*ON_HEADPHONES, f"Device  {found.shown}"]) + "\n")
    if stale:
        say(f"The take or the patch has changed since, and asked again: channel{_s(stale)} {ranges(stale)}.\n")
    if done:
        say(f"Answered already: channel{_s(done)} {ranges(done)} (--again asks once more).\n")
    todo = [channel for channel in wanted if channel.number not in done]
    try:
        histories = energies(opened, [track.number for track in opened.take.tracks]) if todo else {}
        for place, channel in enumerate(todo, start=1):
            say(f"\n{place} of {len(todo)}  channel {channel.number} {harmless(channel.name, 60)}")
            answer = _ask(opened, channel, histories, found)
            if answer is None:
                break
            if answer[0]:
                answers = kept.with_answer(answers, _dated(answer, opened, channel, stamp))
                kept.write(opened.patch.folder, answers)
    finally:
        _sum_up(opened, _holding(answers, opened, stamp))
    return NO_FAULT


def _holding(answers: Iterable[Answer], opened: Opened, stamp: Fingerprint) -> Ear:
    now = channels_now(opened.patch, opened.ways, opened.take)
    return holding(answers, stamp, name_of(opened.take), now)


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
    from replay.stands_out import stand_out

    track = opened.track_of(channel)
    assert track is not None
    partner = opened.patch.channel(channel.pair) if channel.pair else None
    beside = opened.track_of(partner) if partner else None
    apart = {track.number: beside.number} if beside is not None else {}
    start = stand_out(histories, [track.number], EXCERPT_S, apart)[track.number]
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
            return (_BY_KEY[key], _what_is_it(opened, channel) if key == "w" else "")


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


def _what_is_it(opened: Opened, asked: Channel) -> str:
    """What is heard instead: a channel's number, words, or nothing. A channel's whole name is as good as its number."""
    while True:
        say("What is it? A channel's number, or words; Enter if you cannot tell: ")
        told = harmless(sys.stdin.readline().strip())
        names = {channel.number: channel.name for channel in opened.patch.channels}
        if told.isascii() and told.isdecimal():
            meant = [int(told[:6])] if int(told[:6]) in names else []
        else:
            meant = [number for number, name in names.items() if name.strip().casefold() == told.casefold()]
        if meant == [asked.number]:
            say(f"Channel {asked.number} is the one that is wrong.\n")
            continue
        if len(meant) != 1:
            return told
        say(f"So it is channel {meant[0]} {harmless(names[meant[0]], 60)}.\n")
        return str(meant[0])


def _dated(answer: tuple[str, str], opened: Opened, channel: Channel, stamp: Fingerprint) -> Answer:
    track = opened.track_of(channel)
    assert track is not None
    return Answer(
        channel=channel.number,
        name=channel.name,
        answer=answer[0],
        is_really=answer[1],
        date=datetime.datetime.now().astimezone().isoformat(timespec="seconds"),
        take=name_of(opened.take),
        fingerprint=stamp.take,
        track=track.number,
        track_fingerprint=stamp.tracks[track.number],
    )


def _sum_up(opened: Opened, ear: Ear) -> None:
    answers = ear.answers
    counts = [f"{sum(one.answer == kind for one in answers.values())} {kind}" for kind in ANSWERS]
    path = harmless(str(opened.patch.folder / kept.NAME), 4096)
    lines = ["", f"{', '.join(counts)}." + (f" Kept in {path}." if answers else "")]
    exchanged = rings(answers)
    for ring in exchanged:
        who = f"{', '.join(map(str, ring[:-1]))} and {ring[-1]}"
        how = "are each other" if len(ring) == 2 else "are exchanged in a ring"
        lines.append(f"Channels {who} {how}.")
    if exchanged:
        lines.append("Exchange the plugs, or take the list that replay check --corrected FILE writes.")
    told = {number for ring in exchanged for number in ring}
    for number, answer in answers.items():
        if answer.answer == WRONG and number not in told:
            what = f"channel {answer.is_channel}" if answer.is_channel else harmless(answer.is_really, 80)
            lines.append(f"Channel {number} {harmless(answer.name, 60)} is wrong{': it is ' + what if what else ''}.")
    if answers:
        lines.append("replay check says what follows from it.")
    say("\n".join(lines) + "\n")


def _s(numbers: list[int]) -> str:
    return "" if len(numbers) == 1 else "s"
