"""The patch for reading: where each channel comes from, what is not recorded, what is free, how long there is room.

Recording time follows from the rate, 24 bits (3 bytes a sample) and the number of slots in use. A polyphonic file of
32 channels at 48 kHz fills 2 GiB in 466.0 s and 4 GiB in 932.07 s, where many recorders begin another file.
"""

from __future__ import annotations

import os
from dataclasses import dataclass

from replay.ear import NOTHING_SAID, Ear
from replay.mapping.model import MappingResult
from replay.patch.model import Patch, Slot, Socket
from replay.patch.routes import Route, Routes
from replay.report import confirmed, phrases, sockets
from replay.report.cells import fit, width, wrap
from replay.report.ink import Ink
from replay.text import clock, harmless, ranges

BYTES_A_SAMPLE = 3
GIB = 2**30
USUAL_RATE = 48000
"""Assumed, and said so, where the patch does not state its rate."""

_LONGEST_NAME = 28
_LONGEST_SOCKET = 16


@dataclass(frozen=True)
class Medium:
    """The disk that would be recorded to: its place as the user knows it, and the bytes that are free."""

    place: str
    bytes_free: int


def seconds_of(size: int, rate: int, slots: int) -> float:
    """How long a recording of `slots` tracks at `rate` takes to fill `size` bytes.

    >>> round(seconds_of(4 * GIB, 48000, 32), 2)
    932.07
    """
    return size / (rate * BYTES_A_SAMPLE * slots)


def text(
    patch: Patch,
    routes: Routes,
    *,
    medium: Medium | None,
    mapping: MappingResult | None = None,
    ear: Ear = NOTHING_SAID,
    cells: int = 80,
    colour: bool = False,
) -> str:
    """The whole list as text that ends with a line end; no line is wider than `cells` (60 at the least).

    `mapping` is what a check of the newest take said of every channel's source, where one is kept; `ear` what was
    answered by ear about that take.
    """
    cells = max(cells, 60)
    ink = Ink(colour)
    boxes = ", ".join(f"{harmless(box.name)} ({box.sockets} sockets)" for box in patch.boxes)
    links = ", ".join(f"{harmless(link.name)} ({link.slots} slots)" for link in patch.links)
    top = [
        *wrap(f"{harmless(patch.title)}: {phrases.of_channels(len(patch.channels))}.", cells),
        *_houses(patch, cells),
        *wrap(f"Boxes: {boxes or 'none'}. Links: {links or 'none'}.", cells),
    ]
    sections = [
        top,
        _table(patch, routes, mapping, ear, cells, ink),
        _judged(mapping, ear, cells),
        _not_recorded(patch, routes, cells, ink),
        _told(patch, routes, cells, ink),
        _free(patch, routes, cells, ink),
        _time(patch, routes, medium, cells, ink),
    ]
    return "\n\n".join("\n".join(section) for section in sections if section) + "\n"


def _houses(patch: Patch, cells: int) -> list[str]:
    """The patches that this one extends, each with its real place: a link may lead anywhere."""
    lines = []
    for house in patch.houses:
        real = os.path.realpath(house.path)
        lines += wrap(f"Extends {house.called} ({harmless(real, 1000)}).", cells)
    return lines


def _table(patch: Patch, routes: Routes, mapping: MappingResult | None, ear: Ear, cells: int, ink: Ink) -> list[str]:
    heads: tuple[str, ...] = ("ch", "name", "socket", "recorded", "slot", "track", "return")
    ticked = mapping is not None or bool(ear.answers)
    if ticked:
        heads = (*heads, "heard")
    rows = []
    for channel in patch.channels:
        route = routes.of(channel.number)
        rows.append(
            (
                str(channel.number),
                harmless(channel.name),
                "none" if route.socket is None else harmless(str(route.socket)),
                route.point if route.slots else "no",
                ", ".join(phrases.slot_name(patch, slot) for slot in route.slots),
                ", ".join(str(routes.track_of(slot)) for slot in route.slots),
                _return(patch, route.playback),
                *([_heard(mapping, ear, channel.number)] if ticked else []),
            )
        )
    sizes = [max(width(row[column]) for row in [heads, *rows]) for column in range(len(heads))]
    sizes[2] = min(sizes[2], _LONGEST_SOCKET)
    others = sum(sizes) - sizes[1] + 2 * (len(sizes) - 1)
    sizes[1] = max(min(sizes[1], _LONGEST_NAME, cells - others), 4)
    alike = sockets.begin_alike(patch.boxes)
    for place, channel in enumerate(patch.channels):
        socket = routes.of(channel.number).socket
        if socket is not None:
            rows[place] = (*rows[place][:2], sockets.socket_in(socket, sizes[2], alike), *rows[place][3:])
    lines = []
    for row in [heads, *rows]:
        fitted = (fit(cell, size, right=index == 0) for index, (cell, size) in enumerate(zip(row, sizes, strict=True)))
        lines.append(fit("  ".join(fitted), cells).rstrip())
    return [ink("strong", lines[0]), *lines[1:]]


def _heard(mapping: MappingResult | None, ear: Ear, channel: int) -> str:
    """A tick in words: with or without colour, on any terminal."""
    found = mapping.channels.get(channel) if mapping is not None else None
    answer = ear.answers.get(channel)
    if found is None and answer is None:
        return ""
    word = confirmed.heard(found.status if found is not None else "unknown", ear.says(channel))
    if answer is not None and answer.is_channel is not None:
        return f"{word}, is {answer.is_channel}"
    return word + (f", track {found.found_on}" if found is not None and found.found_on is not None else "")


def _judged(mapping: MappingResult | None, ear: Ear, cells: int) -> list[str]:
    if mapping is None and not ear.answers:
        return []
    told = (
        "heard: yes where the sound of the take confirms it, name where only the track's name does, NO where the "
        "source was heard elsewhere, - where it could not be judged."
    )
    if ear.answers:
        told += f" {confirmed.BY_EAR} {confirmed.by_ear(ear)}"
    return wrap(told, cells)


def _return(patch: Patch, playback: Slot | str) -> str:
    return playback if isinstance(playback, str) else phrases.slot_name(patch, playback)


def _not_recorded(patch: Patch, routes: Routes, cells: int, ink: Ink) -> list[str]:
    """Channels whose socket no feed carries, box by box in socket order."""
    lines = []
    fed = {feed.box for feed in patch.feeds}
    for box in patch.boxes:
        lost = [
            (channel.socket.number, f"{channel.number} {harmless(channel.name)}")
            for channel in patch.channels
            if channel.socket is not None and channel.socket.box == box.name and not routes.of(channel.number).slots
        ]
        why = "no feed carries these sockets" if box.name in fed else "local inputs, no feed carries this box"
        if lost:
            lines += wrap(f"{harmless(box.name)} ({why}):", cells)
        for number, who in sorted(lost):
            lines += wrap(f"{number}: channel {who}", cells, first="  ", rest="    ")
    return [ink("strong", "NOT RECORDED"), *lines] if lines else []


def _told(patch: Patch, routes: Routes, cells: int, ink: Ink) -> list[str]:
    """What is allowed and still worth a second look."""
    sentences = [harmless(sentence, 1000) for sentence in patch.told]
    by_socket: dict[Socket, list[int]] = {}
    for route in routes.routes:
        if route.socket is not None:
            by_socket.setdefault(route.socket, []).append(route.channel)
    for socket, channels in by_socket.items():
        if len(channels) > 1:
            sentences.append(f"Socket {harmless(str(socket))} feeds channels {ranges(channels)}: they share its gain.")
    for route in routes.routes:
        sentences += _told_of(patch, route)
    returns: dict[Slot, list[int]] = {}
    for route in routes.routes:
        if isinstance(route.playback, Slot):
            returns.setdefault(route.playback, []).append(route.channel)
    for slot, channels in returns.items():
        if len(channels) > 1 and len({routes.of(channel).socket for channel in channels}) > 1:
            sentences.append(f"Return {phrases.slot_name(patch, slot)} feeds channels {ranges(channels)}.")
    unused = [slot for slot in routes.sources if not routes.recorded_from(slot)]
    for link in patch.links:
        numbers = [slot.number for slot in unused if slot.link == link.name]
        if numbers:
            sentences.append(f"Slots {ranges(numbers)} of {harmless(link.name)} record sockets that no channel uses.")
    lines = [line for sentence in sentences for line in wrap(sentence, cells, first="- ", rest="  ")]
    return [ink("strong", "WORTH A SECOND LOOK"), *lines] if lines else []


def _told_of(patch: Patch, route: Route) -> list[str]:
    told = []
    if len(route.slots) > 1:
        slots = ", ".join(phrases.slot_name(patch, slot) for slot in route.slots)
        told.append(f"Channel {route.channel} is recorded on several slots: {slots}.")
    if route.socket is None and not route.slots:
        told.append(f"Channel {route.channel} has no socket.")
    if isinstance(route.playback, Slot) and route.slots and route.playback not in route.slots:
        told.append(
            f"Channel {route.channel} is recorded on slot {phrases.slot_name(patch, route.slots[0])} "
            f"and comes back from slot {phrases.slot_name(patch, route.playback)}."
        )
    if route.playback in ("live", "none") and route.slots:
        told.append(f"Channel {route.channel} is recorded, but its return is {route.playback}.")
    return told


def _free(patch: Patch, routes: Routes, cells: int, ink: Ink) -> list[str]:
    used = {route.socket for route in routes.routes}
    lines = []
    for box in patch.boxes:
        free = [number for number in range(1, box.sockets + 1) if Socket(box.name, number) not in used]
        lines += wrap(f"{harmless(box.name)}: {ranges(free) or 'none'}", cells, first="  ", rest="    ")
    return [ink("strong", "FREE SOCKETS"), *lines] if lines else []


def _time(patch: Patch, routes: Routes, medium: Medium | None, cells: int, ink: Ink) -> list[str]:
    slots = sum(1 for slot in routes.sources if routes.recorded_from(slot))
    if not slots:
        return []
    rate = patch.rate or USUAL_RATE
    stated = "" if patch.rate else " (the patch states no rate)"
    lines = [ink("strong", "RECORDING TIME")]
    lines += wrap(f"{slots} slots in use at {phrases.rate(rate)}{stated}, 24 bit:", cells)
    if medium is not None:
        hours = seconds_of(medium.bytes_free, rate, slots) / 3600
        room = f"{medium.bytes_free / 1e9:.1f} GB free"
        lines += wrap(
            f"{hours:.1f} hours on the disk of {harmless(medium.place)} ({room})", cells, first="  ", rest="    "
        )
    two, four = (clock(seconds_of(size * GIB, rate, slots)) for size in (2, 4))
    lines += wrap(f"a polyphonic file reaches 2 GiB after {two} and 4 GiB after {four}", cells, first="  ", rest="    ")
    return lines
