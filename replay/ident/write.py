"""Writes the take whose every track names itself, with the lists that take the desk there and back."""

from __future__ import annotations

import time
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from replay.errors import CallError
from replay.ident.signal import EVERY_S, LARGEST_NUMBER, burst
from replay.new_folder import new_folder
from replay.patch.model import Channel, Patch, Slot
from replay.patch.routes import Routes
from replay.sound.wav_file import Shape, WavFile, file_name
from replay.text import harmless

BEFORE_S = 1.0
TO_PLAYBACK = "TO PLAYBACK.txt"
BACK_TO_LIVE = "BACK TO LIVE.txt"


@dataclass(frozen=True)
class Order:
    """The tracks in the order in which they sound, and how many there are in all (silent ones included)."""

    sounding: tuple[int, ...]
    tracks: int

    @property
    def seconds(self) -> float:
        return BEFORE_S + len(self.sounding) * EVERY_S


def order(patch: Patch, ways: Routes) -> Order:
    """The returns in channel order. CallError where there is none, or more than a number can tell."""
    sounding: list[int] = []
    for channel in sorted(patch.channels, key=lambda channel: channel.number):
        slot = ways.of(channel.number).playback
        if isinstance(slot, Slot) and ways.track_of(slot) not in sounding:
            sounding.append(ways.track_of(slot))
    if not sounding:
        raise CallError("no channel of this patch has a return: there is nothing to find out")
    if max(sounding) > LARGEST_NUMBER:
        raise CallError(f"a return's track is number {max(sounding)}; {LARGEST_NUMBER} is the highest that can be told")
    return Order(tuple(sounding), max(sounding))


def write(patch: Patch, ways: Routes, folder: Path, rate: int) -> Order:
    """Write the take and the lists into `folder`, which appears whole or not at all.

    Raises CallError where the folder is not new or empty, OutputError where the disk refuses.
    """
    plan = order(patch, ways)
    with new_folder(folder) as unfinished:
        _write_tracks(patch, ways, plan, unfinished, rate)
        (unfinished / TO_PLAYBACK).write_text(to_playback(patch, ways), encoding="utf-8")
        (unfinished / BACK_TO_LIVE).write_text(back_to_live(patch, ways), encoding="utf-8")
    return plan


def _write_tracks(patch: Patch, ways: Routes, plan: Order, folder: Path, rate: int) -> None:
    now = time.time()
    frames = round(plan.seconds * rate)
    digits = max(2, len(str(plan.tracks)))
    for number in range(1, plan.tracks + 1):
        slot = ways.slot_of(number)
        channels = ways.fed_by(slot) if slot is not None else ()
        name = patch.channel(channels[0]).name if channels else "silent"
        shape = Shape(frames=frames, rate=rate, encoding="s24", names=[name], numbers=[number], recorded=now)
        samples = np.zeros((frames, 1))
        if number in plan.sounding:
            start = round((BEFORE_S + plan.sounding.index(number) * EVERY_S) * rate)
            sound = burst(number, rate)
            samples[start : start + len(sound), 0] = sound
        with WavFile(folder / file_name(number, name, digits), shape) as file:
            file.write(samples)


def to_playback(patch: Patch, ways: Routes) -> str:
    """What to set on the desk so that the take plays into its channels, by channel."""
    rows, staying = [], []
    for channel in sorted(patch.channels, key=lambda channel: channel.number):
        slot = ways.of(channel.number).playback
        if isinstance(slot, Slot):
            rows.append(f"{_named(channel)}  input from return {_slot(patch, slot)}")
        else:
            staying.append(f"{_named(channel)}  stays on {_source(channel)}")
    head = [
        f"TO PLAYBACK: {harmless(patch.title)}",
        "",
        "First mute all outputs and the amplifiers. Note, or save, how the desk stands now.",
        "Leave gain, pad and phantom power as they are. Then, channel by channel:",
        "",
    ]
    rest = ["", "These keep their live source: mute them."] if staying else []
    return "\n".join([*head, *rows, *rest, *staying]) + "\n"


def back_to_live(patch: Patch, ways: Routes) -> str:
    """What to set on the desk so that the stage feeds its channels again, by channel."""
    rows = []
    for channel in sorted(patch.channels, key=lambda channel: channel.number):
        if not isinstance(ways.of(channel.number).playback, Slot):
            continue
        settings = [
            f"trim {channel.trim:+g} dB" if channel.trim else "trim 0 dB",
            "polarity inverted" if channel.inverted else "",
        ]
        told = ", ".join(part for part in settings if part)
        rows.append(f"{_named(channel)}  input from {_source(channel)}, {told}")
    head = [
        f"BACK TO LIVE: {harmless(patch.title)}",
        "",
        "First stop the player and mute all outputs and the amplifiers. Then, channel by channel:",
        "",
    ]
    after = [
        "",
        "Have every source heard once, quietly, before the outputs are opened: one line is enough to spoil a show.",
    ]
    return "\n".join([*head, *rows, *after]) + "\n"


def _named(channel: Channel) -> str:
    return f"[ ] {channel.number:>3} {harmless(channel.name, 28):28}"


def _source(channel: Channel) -> str:
    return harmless(str(channel.socket)) if channel.socket is not None else "its own source"


def _slot(patch: Patch, slot: Slot) -> str:
    return str(slot.number) if len(patch.links) == 1 else f"{harmless(slot.link, 40)} {slot.number}"
