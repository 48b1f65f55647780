"""What was recorded, as arrays with everything known about it.

Conventions: samples are float32 with full scale at 1.0; levels in dBFS peak; times in seconds from the take's start.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np


@dataclass(frozen=True, kw_only=True)
class Input:
    """One line of the input list, with where it comes from.

    `source` is what is played into it (`ltc` is made anew for any position, so that timecode never jumps). `gain` is
    the preamp's, None where there is no preamp. `pair` is the partner's number.
    """

    number: int
    name: str
    source: str
    kind: str
    box: str
    socket: int
    use: str = "must"
    input: str = "mic"
    gain: int | None = None
    phantom: str = "no"
    trim: float = 0.0
    polarity: str = ""
    pair: int | None = None
    pairing: str = ""
    note: str = ""


@dataclass
class Recording:
    """A take before it is written.

    `tracks` is float32 of shape (inputs, frames). `songs` are (start, stop) in seconds; between them nobody plays.
    `turns` are the line check's (input number, start, stop), empty where there was none. `cuts` are frames in the
    pauses where the recording can be taken apart and put together in another order without a seam.
    """

    rate: int
    inputs: list[Input]
    tracks: np.ndarray
    songs: tuple[tuple[float, float], ...] = ()
    turns: tuple[tuple[int, float, float], ...] = ()
    cuts: tuple[int, ...] = ()
    planted: list[str] = field(default_factory=list)

    @property
    def frames(self) -> int:
        return self.tracks.shape[1]

    def index(self, number: int) -> int:
        """The row of input `number`; ValueError if there is none."""
        return [one.number for one in self.inputs].index(number)

    def named(self, name: str) -> Input:
        """The input of that name; StopIteration if there is none."""
        return next(one for one in self.inputs if one.name == name)

    def track(self, number: int) -> np.ndarray:
        """The samples of input `number` (a view: writing into it plants a fault)."""
        return self.tracks[self.index(number)]

    def change(self, number: int, **changes: object) -> None:
        """Change what the input list says about input `number`."""
        row = self.index(number)
        self.inputs[row] = replace(self.inputs[row], **changes)  # type: ignore[arg-type]

    def copy(self) -> Recording:
        """A copy with its own samples, to plant faults in."""
        return Recording(
            rate=self.rate,
            inputs=list(self.inputs),
            tracks=self.tracks.copy(),
            songs=self.songs,
            turns=self.turns,
            cuts=self.cuts,
            planted=list(self.planted),
        )

    def part(self, numbers: list[int], *, start_s: float = 0.0, stop_s: float | None = None) -> Recording:
        """Only some inputs and a stretch of time, renumbered from 1; partners that are left out are forgotten."""
        first = round(start_s * self.rate)
        last = self.frames if stop_s is None else round(stop_s * self.rate)
        new = {number: place for place, number in enumerate(numbers, start=1)}
        inputs = []
        for number in numbers:
            old = self.inputs[self.index(number)]
            pair = new.get(old.pair) if old.pair else None
            inputs.append(replace(old, number=new[number], pair=pair, pairing=old.pairing if pair else ""))
        rows = [self.index(number) for number in numbers]
        songs = tuple((max(a - start_s, 0.0), b - start_s) for a, b in self.songs if b > start_s)
        return Recording(rate=self.rate, inputs=inputs, tracks=self.tracks[rows, first:last].copy(), songs=songs)
