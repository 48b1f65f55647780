"""The bench's shows: a band of sampled instruments, streamed to files of any length.

`python -m tests.bench.shows FOLDER CORE_S SPEC...` where a SPEC is NAME:MINUTES:TRACKS:REAL:FORM. The first REAL tracks
are files of their own, further ones are links to these under other names; FORM is mono or polyphonic, or `of=NAME` for
links to another show's files only.

Takes longer than the recorded core consist of its songs in changing order; the seams lie in the pauses.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import pairwise
from pathlib import Path

import numpy as np

from tests.material.ltc import ltc
from tests.material.recording import Input, Recording
from tests.material.show import inputs_csv, patch_toml
from tests.material.stage import LTC_PEAK, record
from tests.material.take import Plan, encode, long_plan, wav_head

BAND = 56
SEED = 11


@dataclass(frozen=True)
class Spec:
    """What a show is to be: see the module."""

    name: str
    minutes: float
    tracks: int
    real: int
    form: str

    @classmethod
    def read(cls, text: str) -> Spec:
        name, minutes, tracks, real, form = text.split(":")
        return cls(name, float(minutes), int(tracks), int(real), form)


class Band:
    """The recording, encoded once: `codes` is uint8 of shape (tracks, frames, 3)."""

    def __init__(self, core_s: float) -> None:
        self.recording = record(BAND, seed=SEED, seconds=core_s)
        self.codes = np.stack([encode(samples, "s24") for samples in self.recording.tracks])
        self.recording.tracks = np.zeros((BAND, 0), np.float32)
        self.frames = self.codes.shape[1]

    def plan(self, seconds: float) -> Plan:
        frames = round(seconds * self.recording.rate)
        if frames <= self.frames:
            return [(0, frames)]
        # `long_plan` reads the rate and the cuts only.
        return long_plan(self.recording, seconds, SEED)

    def stretches(self, row: int, plan: Plan) -> Iterator[np.ndarray]:
        """A track's bytes, stretch by stretch; timecode runs on over the seams."""
        at = 0
        for start, stop in plan:
            if self.recording.inputs[row].source == "ltc":
                for low in range(at, at + stop - start, 60 * self.recording.rate):
                    high = min(low + 60 * self.recording.rate, at + stop - start)
                    yield encode(ltc(self.recording.rate, low, high - low, peak=LTC_PEAK), "s24")
            else:
                yield self.codes[row, start:stop]
            at += stop - start


def inputs(band: Band, count: int) -> list[Input]:
    """The band's input list, begun again under other names and on further boxes until there are `count`."""
    made = []
    for number in range(1, count + 1):
        turn, row = divmod(number - 1, BAND)
        one = band.recording.inputs[row]
        pair = one.pair + turn * BAND if one.pair and one.pair + turn * BAND <= count else None
        again = {"name": f"{one.name} {turn + 1}", "box": f"{one.box}{turn + 1}"} if turn else {}
        made.append(replace(one, number=number, pair=pair, pairing=one.pairing if pair else "", **again))
    return made


def write(folder: Path, spec: Spec, band: Band, all_shows: Path) -> None:
    """One show."""
    folder.mkdir()
    audio = folder / "audio"
    audio.mkdir()
    rows = inputs(band, spec.tracks)
    listed = Recording(rate=band.recording.rate, inputs=rows, tracks=np.zeros((0, 0), np.float32))
    (folder / "patch.toml").write_text(patch_toml(listed, of="show"), encoding="utf-8")
    (folder / "inputs.csv").write_text(inputs_csv(rows), encoding="utf-8")
    names = [f"{row.number:03d} {row.name.replace('/', '-')}.wav" for row in rows]
    if spec.form.startswith("of="):
        there = sorted((all_shows / spec.form[3:] / "audio").iterdir())
        for place, name in enumerate(names):
            os.link(there[place % len(there)], audio / name)
        return
    plan = band.plan(60 * spec.minutes)
    frames = sum(stop - start for start, stop in plan)
    if spec.form == "polyphonic":
        polyphonic(audio / "evening.wav", band, plan, frames, spec.tracks)
        return
    for row in range(spec.real):
        with open(audio / names[row], "wb") as file:
            file.write(wav_head(1, listed.rate, "s24", frames))
            for stretch in band.stretches(row, plan):
                file.write(np.ascontiguousarray(stretch).data)
            file.write(b"\0" * (frames % 2))
    for row in range(spec.real, spec.tracks):
        os.link(audio / names[row % spec.real], audio / names[row])


def polyphonic(path: Path, band: Band, plan: Plan, frames: int, tracks: int) -> None:
    """One file of all tracks, a second at a time."""
    rate = band.recording.rate
    timecode = [row for row in range(tracks) if band.recording.inputs[row].source == "ltc"]
    at = 0
    with open(path, "wb") as file:
        file.write(wav_head(tracks, rate, "s24", frames))
        for start, stop in plan:
            edges = [*range(start, stop, rate), stop]
            for low, high in pairwise(edges):
                block = band.codes[:tracks, low:high].transpose(1, 0, 2).copy()
                for row in timecode:
                    block[:, row] = encode(ltc(rate, at, high - low, peak=LTC_PEAK), "s24")
                file.write(block.data)
                at += high - low


def main(words: list[str]) -> None:
    """Write all shows into a folder, one below the other."""
    folder, core_s = Path(words[0]), float(words[1])
    band = Band(core_s)
    for spec in map(Spec.read, words[2:]):
        write(folder / spec.name, spec, band, folder)
    os.sync()


if __name__ == "__main__":
    main(sys.argv[1:])
