"""The pass over the take that writes the files, and the one before it that looks for what would clip."""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np

from replay.errors import CallError, OutputError, Place, Problem
from replay.new_folder import must_be_free, new_folder
from replay.opening import Opened
from replay.render.plan import Line, Plan, common_encoding, problems_of
from replay.sound.reading import Reading
from replay.sound.wav_file import LARGEST_RIFF, Shape, WavFile, file_name
from replay.text import harmless, size
from replay.units import db, largest_code

Progress = Callable[[float, str], None]

BUSES = "buses"
"""The folder of the buses: beside the channels they would be taken for tracks."""

CLIP_RUN = 3
"""Samples in a row at the greatest code that are a clip, as in the meters."""


@dataclass
class Written:
    """What a pass wrote: files with their sizes, peaks of buses above full scale (name -> dB), tracks that could not be
    read to their ends (number -> second), tracks with clips (number -> second of the first), samples that were not
    numbers."""

    folder: Path
    files: int = 0
    bytes: int = 0
    over: dict[str, float] = field(default_factory=dict)
    broken: dict[int, float] = field(default_factory=dict)
    clipped: dict[int, float] = field(default_factory=dict)
    bad: int = 0


def write(
    show: Opened,
    plan: Plan,
    folder: Path,
    *,
    start: int,
    stop: int,
    poly: bool = False,
    cure: str = "",
    progress: Progress | None = None,
    largest_riff: int = LARGEST_RIFF,
) -> Written:
    """Write frames `start` to `stop` - 1 of a plan into `folder`, which appears whole or not at all.

    Raises
    ------
    CallError
        Where `folder` is not new or empty, lies in the take, or an integer file would clip (nothing is written then;
        `cure` says what to do).
    OutputError
        Where the disk is full, or refuses.
    """
    say = progress or (lambda share, phrase: None)
    _must_be_free(folder, show)
    shapes = _shapes(show, plan, start, stop, poly)
    needed = sum(shape.data_bytes for _, shape, _ in shapes)
    _must_have_room(folder, needed)
    over = clipping(show, plan.lines, start, stop, lambda share: say(0.5 * share, "looking for what would clip"))
    if over:
        raise CallError(problems_of(over, cure))
    with new_folder(folder) as unfinished:
        written = _pour(show, shapes, unfinished, start, stop, say, largest_riff)
    return replace(written, folder=folder)


Shapes = list[tuple[Path, Shape, list[Line | None]]]
"""For every file its place, its shape, and the line of each channel (None: a silent one)."""


def _shapes(show: Opened, plan: Plan, start: int, stop: int, poly: bool) -> Shapes:
    take = show.take
    # The take's clock begins with its earliest tracks.
    begins = [t.segments[0].file.start_frame for t in take.tracks if t.start == 0]
    first = next((frame for frame in begins if frame is not None), 0) + start
    rate = take.rate

    def shape(lines: Sequence[Line | None], numbers: Sequence[int]) -> Shape:
        return Shape(
            frames=stop - start,
            rate=rate,
            encoding=common_encoding([line.encoding for line in lines if line is not None]),
            names=[line.name if line is not None else "" for line in lines],
            numbers=numbers,
            reference=first,
            recorded=take.recorded + start / rate,
        )

    digits = max(2, len(str(max(line.number for line in plan.lines))))
    shapes: Shapes = []
    if poly:
        by_number = {line.number: line for line in plan.lines}
        # Channel n of the file is track n, so that a recorder plays it to return n: gaps are silent channels.
        numbers = range(1, max(by_number) + 1)
        lines = [by_number.get(number) for number in numbers]
        shapes.append((Path("channels.wav"), shape(lines, numbers), lines))
    else:
        for line in plan.lines:
            shapes.append((Path(file_name(line.number, line.name, digits)), shape([line], [line.number]), [line]))
    for line in plan.buses:
        shapes.append((Path(BUSES, file_name(line.number, line.name, 2)), shape([line], [line.number]), [line]))
    return shapes


def clipping(
    show: Opened, lines: Sequence[Line], start: int, stop: int, progress: Callable[[float], None]
) -> list[tuple[Line, float, float]]:
    """Which lines would pass full scale in their integer files: (line, dB above, second of the highest sample)."""
    risky = []
    for line in lines:
        tracks = [show.take.track(number) for number in line.factors]
        is_float = any(s.file.is_float for track in tracks if track for s in track.segments)
        if not line.encoding.startswith("f") and (is_float or any(abs(f) > 1 for f in line.factors.values())):
            risky.append(line)
    if not risky:
        return []
    peaks, places = [0.0] * len(risky), [0] * len(risky)
    for at, block, column in _read(show, risky, start, stop, progress, Reading):
        for place, line in enumerate(risky):
            peak = float(np.abs(_signal(line, block, column)).max(initial=0.0))
            if peak > peaks[place]:
                peaks[place], places[place] = peak, at
    rate = show.take.rate
    # -1.0 turned over is one code too many for an integer; that much is rounded and no clip.
    found = [(line, peak, at) for line, peak, at in zip(risky, peaks, places, strict=True) if peak > 1.0]
    return [(line, db(peak), at / rate) for line, peak, at in found]


def _read(
    show: Opened, lines: Sequence[Line], start: int, stop: int, progress: Callable[[float], None], make: Callable
) -> Iterator[tuple[int, np.ndarray, dict[int, int]]]:
    """Blocks of the tracks that the lines need, with the first frame, and which column a track is in."""
    tracks = [track for track in show.take.tracks if any(track.number in line.factors for line in lines)]
    column = {track.number: place for place, track in enumerate(tracks)}
    at = start
    for count, block in enumerate(make(tracks, show.take.rate).blocks(start, stop)):
        yield at, block, column
        at += len(block)
        if count % 50 == 0:
            progress((at - start) / (stop - start))


def _signal(line: Line, block: np.ndarray, column: dict[int, int]) -> np.ndarray:
    parts = [
        block[:, column[track]] * factor if factor != 1.0 else block[:, column[track]]
        for track, factor in line.factors.items()
    ]
    return sum(parts[1:], start=parts[0])


def _pour(
    show: Opened, shapes: Shapes, folder: Path, start: int, stop: int, say: Progress, largest_riff: int
) -> Written:
    written = Written(folder, files=len(shapes), bytes=sum(shape.data_bytes for _, shape, _ in shapes))
    lines = [line for _, _, held in shapes for line in held if line is not None]
    reading: list[Reading] = []

    def make(tracks, rate):
        reading.append(Reading(tracks, rate))
        return reading[0]

    rate = show.take.rate
    tops = {
        track.number: largest_code(min(segment.file.bits for segment in track.segments))
        for track in show.take.tracks
        if any(track.number in line.factors and not line.is_unchanged for line in lines)
        and not any(segment.file.is_float for segment in track.segments)
    }
    peaks: dict[str, float] = {}
    with ExitStack() as files:
        if any(path.parent.name == BUSES for path, _, _ in shapes):
            (folder / BUSES).mkdir()
        opened = [files.enter_context(WavFile(folder / path, shape, largest_riff)) for path, shape, _ in shapes]
        for at, block, column in _read(show, lines, start, stop, lambda share: say(0.5 + share / 2, "writing"), make):
            for file, (path, _, held) in zip(opened, shapes, strict=True):
                samples = np.zeros((len(block), len(held)))
                for place, line in enumerate(held):
                    if line is not None:
                        samples[:, place] = _signal(line, block, column)
                if path.parent.name == BUSES and held[0] is not None:
                    name = held[0].name
                    peaks[name] = max(peaks.get(name, 0.0), float(np.abs(samples).max(initial=0.0)))
                file.write(samples)
            for number, top in tops.items():
                if number not in written.clipped and _has_clip(block[:, column[number]], top):
                    written.clipped[number] = at / rate
    written.over = {name: db(peak) for name, peak in peaks.items() if peak > 1.0}
    for one in reading:
        written.bad += one.bad
        written.broken |= {number: frame / rate for number, frame in one.broken.items()}
    return written


def _has_clip(samples: np.ndarray, top: float) -> bool:
    """Whether CLIP_RUN samples in a row are at an end of the scale (a run over a block's edge may be missed)."""
    at_top = np.abs(samples) >= top
    if not at_top.any():
        return False
    return bool(np.lib.stride_tricks.sliding_window_view(at_top, CLIP_RUN).all(axis=1).any())


def _must_be_free(folder: Path, show: Opened) -> None:
    place = Place(harmless(str(folder), 4096))
    real, take = Path(os.path.realpath(folder)), Path(os.path.realpath(show.take.folder))
    if real == take or take in real.parents:
        raise CallError(Problem("this lies inside the take, and nothing is ever written into a take", place,
                                "give a folder outside it"))  # fmt: skip
    must_be_free(folder)


def _must_have_room(folder: Path, needed: int) -> None:
    there = next((parent for parent in folder.absolute().parents if parent.is_dir()), None)
    try:
        free = shutil.disk_usage(there).free if there is not None else needed
    except OSError:
        return
    if needed > free:
        message = f"there is no room for {size(needed)}: {size(free)} are free"
        raise OutputError(Problem(message, Place(harmless(str(folder), 4096)), "give a folder on another disk"))


def frames_of(show: Opened, from_s: float | None, to_s: float | None) -> tuple[int, int]:
    """The part of a call as frames of the take. CallError where there is nothing in it."""
    rate, frames = show.take.rate, show.take.frames
    start = 0 if from_s is None else round(from_s * rate)
    stop = frames if to_s is None else min(round(to_s * rate), frames)
    if start >= stop:
        raise CallError(
            f"the part from {start / rate:g} s to {stop / rate:g} s holds nothing",
            hint=f"the take is {frames / rate:.1f} s long",
        )
    return start, stop
