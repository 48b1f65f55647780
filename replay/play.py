"""The virtual soundcheck from a laptop: every track to the device's output that its channels return from.

What leaves is what was recorded, to the bit: no trim, no conversion of rate; all outputs share one ring of frames, so
that they stay locked to the sample. Loads the compiled reader.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from replay.errors import CallError
from replay.opening import Opened
from replay.patch.model import Slot
from replay.sound.player import fade
from replay.sound.reading import Reading
from replay.take.model import Track

FADE_IN_S = 1.0
FADE_OUT_S = 0.3
SEAM_S = 0.01
"""Where a loop begins again: short enough for a beat to go on, long enough not to click."""

AHEAD_S = 6.0
AHEAD_BYTES = 96 << 20
"""How far the reader stays ahead: seconds, and what they may take of the memory. A disk that wakes up takes seconds."""

_FULL_SCALE = 2.0**31


@dataclass(frozen=True)
class Wire:
    """One output of the device (from 1): its track and the channels that return from it."""

    output: int
    track: Track
    channels: tuple[int, ...]


@dataclass(frozen=True)
class Wiring:
    """What goes where. `missing` are channels whose track the take lacks, `live` those that have no return, `unused`
    tracks that no channel returns from."""

    wires: tuple[Wire, ...]
    missing: tuple[int, ...]
    live: tuple[int, ...]
    unused: tuple[int, ...]

    @property
    def outputs(self) -> int:
        return max(wire.output for wire in self.wires)


def wiring(show: Opened) -> Wiring:
    """Work out what goes where: slot n of the first link is output n, further links count on.

    Raises CallError where no channel has a track.
    """
    before: dict[str, int] = {}
    count = 0
    for link in show.patch.links:
        before[link.name] = count
        count += link.slots
    by_output: dict[int, tuple[Track, list[int]]] = {}
    missing, live = [], []
    for channel in show.patch.channels:
        slot, track = show.ways.of(channel.number).playback, show.track_of(channel)
        if not isinstance(slot, Slot):
            live.append(channel.number)
        elif track is None:
            missing.append(channel.number)
        else:
            by_output.setdefault(before[slot.link] + slot.number, (track, []))[1].append(channel.number)
    if not by_output:
        raise CallError("no channel of this patch has a track in this take: there is nothing to play")
    wires = tuple(Wire(output, track, tuple(numbers)) for output, (track, numbers) in sorted(by_output.items()))
    played = {wire.track.number for wire in wires}
    unused = tuple(track.number for track in show.take.tracks if track.number not in played)
    return Wiring(wires, tuple(missing), tuple(live), unused)


def ahead_s(outputs: int, rate: int) -> float:
    """How many seconds of that many outputs the reader stays ahead."""
    return min(AHEAD_S, AHEAD_BYTES / (4 * outputs * rate))


class Playback:
    """The blocks to be played, and what is learnt while they are read.

    `over` counts samples beyond full scale (float takes), which no converter has; `rounds` how often the loop began
    again. Iterating gives int32 (frames, outputs), used again for the next block.
    """

    def __init__(self, plan: Wiring, rate: int, start: int, stop: int, loop: bool) -> None:
        self._plan, self._rate = plan, rate
        self.start, self.stop, self.loop = start, stop, loop
        self.over = 0
        self.rounds = 0
        self.reading = Reading([wire.track for wire in plan.wires], rate)
        self._is_float = any(segment.file.is_float for wire in plan.wires for segment in wire.track.segments)

    def at(self, played: int) -> int:
        """The take's frame that is heard once `played` frames have gone out."""
        return self.start + (played % (self.stop - self.start) if self.loop else played)

    def __iter__(self) -> Iterator[np.ndarray]:
        begin = min(int(FADE_IN_S * self._rate), (self.stop - self.start) // 2)
        while True:
            end = int((SEAM_S if self.loop else FADE_OUT_S) * self._rate)
            yield from self._round(begin, min(end, (self.stop - self.start) // 2))
            if not self.loop:
                return
            self.rounds += 1
            begin = min(int(SEAM_S * self._rate), (self.stop - self.start) // 2)

    def _round(self, fade_in: int, fade_out: int) -> Iterator[np.ndarray]:
        places = [wire.output - 1 for wire in self._plan.wires]
        together = places == list(range(places[0], places[0] + len(places)))
        columns = slice(places[0], places[0] + len(places)) if together else places
        rising, falling = fade(fade_in), fade(fade_out)[::-1]
        length, at = self.stop - self.start, 0
        out = scaled = np.zeros(0)
        for block in self.reading.blocks(self.start, self.stop):
            rows = len(block)
            if len(out) < rows:
                out, scaled = np.zeros((rows, self._plan.outputs), np.int32), np.zeros((rows, len(places)))
            part = scaled[:rows]
            np.multiply(block, _FULL_SCALE, out=part)
            if at < fade_in:
                many = min(rows, fade_in - at)
                part[:many] *= rising[at : at + many, None]
            if at + rows > length - fade_out:
                first = max(0, length - fade_out - at)
                part[first:] *= falling[at + first - (length - fade_out) : at + rows - (length - fade_out), None]
            if self._is_float:
                self.over += int(np.count_nonzero(np.abs(block) > 1.0))
                np.rint(part, out=part)
                np.clip(part, -_FULL_SCALE, _FULL_SCALE - 1, out=part)
            out[:rows, columns] = part
            yield out[:rows]
            at += rows
