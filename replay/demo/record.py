"""Records the take: plays the score block by block, lets every track hear it, and writes the files."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Iterable, Sequence
from contextlib import ExitStack
from pathlib import Path

import numpy as np

from replay.demo.score import Event
from replay.demo.sound import RATE, Noise, key, low
from replay.demo.stage import Track
from replay.demo.wav import LARGEST_CODE, Recorder, bext

BLOCK = RATE
HISTORY = 12288
"""Frames of every source that are kept before a block, for sound that is still on its way (a quarter of a second)."""

KEPT_SOUNDS = 48 * 2**20
"""Bytes of ready sounds that are kept for when they are played again."""

Scene = tuple[int, Sequence[Event]]
"""A frame, and events none of which starts before it; scenes follow each other in time."""


class Orchestra:
    """Turns events into the signals of all sources."""

    def __init__(self, scenes: Iterable[Scene]) -> None:
        self._scenes = iter(scenes)
        self._next: Scene | None = next(self._scenes, None)
        self._waiting: list[Event] = []
        self._sounding: list[tuple[Event, np.ndarray]] = []
        self._made: OrderedDict[tuple, np.ndarray] = OrderedDict()
        self._made_bytes = 0

    def block(self, start: int, frames: int) -> dict[str, np.ndarray]:
        """What each source plays from `start` on; sources that are silent are left out."""
        stop = start + frames
        while self._next is not None and self._next[0] < stop:
            self._waiting += self._next[1]
            self._waiting.sort(key=lambda event: event.start, reverse=True)
            self._next = next(self._scenes, None)
        while self._waiting and self._waiting[-1].start < stop:
            event = self._waiting.pop()
            self._sounding.append((event, self._sound(event)))
        played: dict[str, np.ndarray] = {}
        still = []
        for event, sound in self._sounding:
            if event.source not in played:
                played[event.source] = np.zeros(frames, np.float32)
            first, last = max(event.start, start), min(event.start + len(sound), stop)
            if first < last:
                part = sound[first - event.start : last - event.start]
                played[event.source][first - start : last - start] += part * np.float32(event.level)
            if event.start + len(sound) > stop:
                still.append((event, sound))
        self._sounding = still
        return played

    def _sound(self, event: Event) -> np.ndarray:
        name = (event.make, event.args)
        if name in self._made:
            self._made.move_to_end(name)
            return self._made[name]
        sound = event.make(*event.args)
        self._made[name] = sound
        self._made_bytes += sound.nbytes
        while self._made_bytes > KEPT_SOUNDS:
            _, oldest = self._made.popitem(last=False)
            self._made_bytes -= oldest.nbytes
        return sound


class Stage:
    """Keeps the sound that is still on its way from every source, and mixes what a track hears of it."""

    def __init__(self, tracks: Sequence[Track]) -> None:
        self._taps = [track.taps() for track in tracks]
        self._air: dict[str, np.ndarray] = {}
        self._silent: set[str] = set()
        for taps in self._taps:
            for tap in taps:
                self._air.setdefault(tap.source, np.zeros(HISTORY + BLOCK, np.float32))
        self._scratch = np.zeros(BLOCK, np.float32)

    def hear(self, played: dict[str, np.ndarray], frames: int) -> None:
        """Let the next block sound."""
        for source, air in self._air.items():
            air[:HISTORY] = air[BLOCK:]
            if source in played:
                air[HISTORY : HISTORY + frames] = played[source]
            else:
                air[HISTORY:] = 0
        self._silent = {source for source, air in self._air.items() if not air.any()}

    def mix(self, track: int, frames: int) -> np.ndarray:
        """What the track hears in this block, float32."""
        heard = np.zeros(frames, np.float32)
        scratch = self._scratch[:frames]
        for source, delay, gain in self._taps[track]:
            if source in self._silent:
                continue
            begin = HISTORY - delay
            np.multiply(self._air[source][begin : begin + frames], np.float32(gain), out=scratch)
            heard += scratch
        return heard


class Murmur:
    """The noise of a barn, RMS 1, falling by 12 dB an octave from 500 Hz; no two microphones hear it at one moment."""

    APART = 997
    """Frames from one track's murmur to the next one's."""

    def __init__(self, tracks: int) -> None:
        self._noise = Noise(key("barn"))
        self._filter = low(500)
        self._state = np.zeros(2)
        self._kept = tracks * self.APART
        self._recent = self._more(self._kept)

    def _more(self, frames: int) -> np.ndarray:
        from scipy.signal import lfilter

        b, a = self._filter
        out, self._state = lfilter(b, a, self._noise.take(frames).astype(np.float64), zi=self._state)
        # Of white noise's power the filter passes what lies below 555 Hz: the equivalent bandwidth of a second-order
        # Butterworth is 1.11 times its corner, out of 24 kHz.
        return (out * round((24000 / 555) ** 0.5, 6)).astype(np.float32)

    def advance(self, frames: int) -> None:
        """Go on by a block."""
        self._recent = np.concatenate([self._recent[-self._kept :], self._more(frames)])

    def at(self, track: int, frames: int) -> np.ndarray:
        """The block as this track hears it."""
        begin = self._kept - track * self.APART
        return self._recent[begin : begin + frames]


def codes(signal: np.ndarray) -> np.ndarray:
    """What a 24-bit converter makes of a signal: int32 codes; what is beyond full scale is flat."""
    scaled = np.rint(signal * np.float32(2**23))
    return np.clip(scaled, -LARGEST_CODE - 1, LARGEST_CODE, out=scaled).astype(np.int32)


def record(
    folder: Path,
    tracks: Sequence[Track],
    scenes: Iterable[Scene],
    frames: int,
    *,
    date: str,
    time: str,
    progress: Callable[[float, str], None] | None = None,
) -> None:
    """Write a take of `frames` frames, one file a track, into an existing folder.

    Raises OSError where a file cannot be written.
    """
    hours, minutes, seconds = (int(part) for part in time.split(":"))
    reference = ((hours * 60 + minutes) * 60 + seconds) * RATE
    orchestra, stage, murmur = Orchestra(scenes), Stage(tracks), Murmur(len(tracks))
    lengths = [min(BLOCK, frames - start) for start in range(0, frames, BLOCK)]
    noises = [Noise(key("preamp", number)) for number in range(len(tracks))]
    hisses = [np.float32(round(10 ** (track.noise / 20), 12)) for track in tracks]
    murmurs = [np.float32(round(10 ** (track.room / 20), 12)) for track in tracks]
    with ExitStack() as files:
        recorders = [
            files.enter_context(
                Recorder(
                    folder / f"{number:02d} {track.name}.wav", frames, RATE, bext(track.name, date, time, reference)
                )
            )
            for number, track in enumerate(tracks, start=1)
        ]
        for number, length in enumerate(lengths):
            murmur.advance(length)
            stage.hear(orchestra.block(number * BLOCK, length), length)
            for index, recorder in enumerate(recorders):
                signal = stage.mix(index, length)
                if murmurs[index]:
                    signal += murmur.at(index, length) * murmurs[index]
                if hisses[index]:
                    signal += noises[index].take(length) * hisses[index]
                recorder.write(codes(signal))
            if progress is not None:
                progress((number + 1) / len(lengths), "recording the demo take")
