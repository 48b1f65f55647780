"""Channels through the model, on two outputs: what is heard, and how keys change it while it plays.

The reader's thread takes blocks from `Listening.blocks`; the caller's thread sets wishes, which the next block fulfils:
the last block before a jump fades out, the first one after it fades in. Loads the compiled reader.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from replay.desk.channel import factor
from replay.errors import CallError, Problem
from replay.opening import Opened
from replay.patch.model import Channel
from replay.sound.player import fade
from replay.sound.reading import Reading
from replay.sound.timecode import sounds_like_timecode
from replay.take.model import Track
from replay.text import harmless
from replay.units import amplitude, db

START_DB = -20.0
LOUDEST_DB = 0.0
QUIETEST_DB = -60.0
STEP_DB = 2.0
CEILING_DBFS = -10.0
"""Levels on headphones; common practice, no source: begin quietly, and let nothing surprise."""
TIMECODE_DB = -50.0
"""How far timecode is turned down."""
TIMECODE_HOLD_S = 2.0
AHEAD_S = 0.4
"""Short, so that keys are answered at once; long enough for a laptop's disk that is awake."""

OUTPUTS = 2
_NEAR_FULL_SCALE = 1.0 - 2.0**-15


@dataclass(frozen=True)
class Item:
    """Something to hear: its name, its tracks, and the factors (tracks, 2) by which they reach left and right."""

    label: str
    channels: tuple[int, ...]
    tracks: tuple[Track, ...]
    factors: np.ndarray
    timecode: tuple[bool, ...]


@dataclass(frozen=True)
class Moment:
    """What is heard from `at_s` on (seconds since the start of playing): where on the take, and how loud after the
    model (dBFS, before the listening level). `quiet` says that something is taken for timecode."""

    at_s: float
    take_s: float
    peak_dbfs: float
    clipped: bool
    quiet: bool
    label: str


def channel_item(show: Opened, channels: Sequence[Channel]) -> Item:
    """Channels together, each at its level after trim; both sides of a stereo pair left and right, all else in the
    middle. Raises CallError with every channel that no track feeds."""
    problems, tracks, factors = [], [], []
    numbers = {channel.number for channel in channels}
    for channel in channels:
        track = show.track_of(channel)
        if track is None:
            problems.append(Problem(f"channel {channel.number} {harmless(channel.name, 60)} has no track in this take"))
            continue
        own = factor(channel, show.ways.of(channel.number).point)
        sides = (1.0, 1.0)
        if channel.pair in numbers and (channel.pairing or "stereo") == "stereo":
            sides = (1.0, 0.0) if channel.number < (channel.pair or 0) else (0.0, 1.0)
        tracks.append(track)
        factors.append((own * sides[0], own * sides[1]))
    if problems:
        raise CallError(problems)
    label = " + ".join(f"{channel.number} {harmless(channel.name, 40)}" for channel in channels)
    kinds = tuple(channel.kind == "timecode" for channel in channels)
    return Item(f"ch {label}", tuple(channel.number for channel in channels), tuple(tracks), np.array(factors), kinds)


def bus_item(show: Opened, name: str) -> Item:
    """A bus: the channels that go to it, at their levels. CallError where the patch has none of that name."""
    if all(bus.name != name for bus in show.patch.buses):
        there = ", ".join(harmless(bus.name, 40) for bus in show.patch.buses)
        raise CallError(
            f"the patch has no bus {harmless(name, 60)!r}", hint=f"there are: {there}" if there else "it has none"
        )
    tracks, factors, kinds, numbers = [], [], [], []
    for channel in show.patch.channels:
        track = show.track_of(channel)
        for send in channel.sends:
            if send.bus == name and track is not None:
                own = factor(channel, show.ways.of(channel.number).point) * amplitude(send.level)
                tracks.append(track)
                factors.append((own, own))
                kinds.append(channel.kind == "timecode")
                numbers.append(channel.number)
    if not tracks:
        raise CallError(f"no channel with a track goes to bus {harmless(name, 60)!r}")
    return Item(f"bus {harmless(name, 40)}", tuple(numbers), tuple(tracks), np.array(factors), tuple(kinds))


class Listening:
    """What is heard, from items that follow each other at a key.

    Wishes are set by the caller's thread: `gain_db`, `paused`, `jump` (to an item and a frame), `leave`.
    """

    def __init__(
        self, items: Sequence[Item], rate: int, frames: int, *, start: int, stop: int | None = None, index: int = 0
    ) -> None:
        self.items, self.rate = items, rate
        self.index, self.position = index, start
        self.stop = frames if stop is None else stop
        self.gain_db = START_DB
        self.paused = False
        self.leave = False
        self.moments: deque[Moment] = deque(maxlen=600)
        self.broken: dict[int, int] = {}
        self._jump: tuple[int, int] | None = None
        self._guard: dict[int, float] = {}
        self._made = 0
        self._gain = amplitude(START_DB)

    def jump(self, index: int, frame: int) -> None:
        """Go on with another item, or from elsewhere."""
        self._jump = (index, min(max(frame, 0), max(self.stop - 1, 0)))

    def blocks(self) -> Iterator[np.ndarray]:
        """float64 (frames, 2) at the take's rate, until the end or until `leave`."""
        while not self.leave:
            if self._jump is not None:
                (self.index, self.position), self._jump = self._jump, None
            if self.paused:
                yield self._still()
                continue
            yield from self._running()
            if self._jump is None and not self.paused:
                return

    def _still(self) -> np.ndarray:
        frames = self.rate // 10
        self._made += frames
        return np.zeros((frames, OUTPUTS))

    def _running(self) -> Iterator[np.ndarray]:
        item = self.items[self.index]
        reading = Reading(item.tracks, self.rate)
        first = True
        for block, following in _with_next(reading.blocks(self.position, self.stop)):
            out = self._model(item, block, following)
            ends = self._jump is not None or self.paused or self.leave
            if first:
                out *= fade(len(out))[:, None]
            if ends or self.position + len(block) >= self.stop:
                out *= fade(len(out))[::-1, None]
            first = False
            self.position += len(block)
            self._made += len(block)
            yield out
            if ends:
                break
        self.broken |= reading.broken

    def _model(self, item: Item, block: np.ndarray, following: np.ndarray) -> np.ndarray:
        factors, quiet = item.factors, False
        for place in range(len(item.tracks)):
            number = item.tracks[place].number
            # The block behind it counts too: of a code that begins here, too little may lie in this one to know it.
            is_code = any(sounds_like_timecode(one[:, place], self.rate) for one in (block, following))
            if item.timecode[place] or is_code:
                self._guard[number] = TIMECODE_HOLD_S
            if self._guard.get(number, 0.0) > 0:
                self._guard[number] -= len(block) / self.rate
                factors = factors.copy() if factors is item.factors else factors
                factors[place] *= amplitude(TIMECODE_DB)
                quiet = True
        summed = block @ factors
        peak = float(np.abs(summed).max(initial=0.0))
        clipped = bool((np.abs(block) >= _NEAR_FULL_SCALE).any())
        self.moments.append(
            Moment(self._made / self.rate, self.position / self.rate, db(peak), clipped, quiet, item.label)
        )
        wanted = amplitude(min(max(self.gain_db, QUIETEST_DB), LOUDEST_DB))
        ramp = np.linspace(self._gain, wanted, len(summed), endpoint=False)
        self._gain = wanted
        return summed * ramp[:, None]

    def moment(self, played_s: float) -> Moment | None:
        """What is heard `played_s` seconds after the start."""
        found = None
        for moment in list(self.moments):
            if moment.at_s > played_s:
                break
            found = moment
        return found


def _with_next(blocks: Iterator[np.ndarray]) -> Iterator[tuple[np.ndarray, np.ndarray]]:
    """Every block with the one that follows it (an empty one behind the last)."""
    before: np.ndarray | None = None
    for block in blocks:
        if before is not None:
            yield before, block
        before = block.copy()
    if before is not None:
        yield before, before[:0]


def energy_of(item: Item, energies: Mapping[int, np.ndarray]) -> np.ndarray:
    """The energy of an item by hop, its tracks taken as unrelated."""
    length = max((len(energies[track.number]) for track in item.tracks), default=0)
    total = np.zeros(length)
    for track, factors in zip(item.tracks, item.factors, strict=True):
        energy = energies[track.number]
        total[: len(energy)] += energy * float((factors**2).sum())
    return total
