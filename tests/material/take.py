"""Recordings written as files of every form that recorders leave: the files of a take, made without the program.

Forms: `mono` (a WAV a track), `polyphonic` (one WAV of all tracks), `pairs` (stereo partners in two-channel files),
`segments` and `polyphonic-segments` (cut in a row), `rf64` and `rf64-mono` (written by libsndfile), `flac`, `w64`.
Encodings: `s16` (dithered), `s24`, `s32`, `f32`.

A take longer than its recording is made from slots of it in changing order (`long_plan`), streamed to disk.
"""

from __future__ import annotations

import struct
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path
from xml.sax.saxutils import escape

import numpy as np

from tests.material.ltc import ltc
from tests.material.recording import Recording
from tests.material.stage import LTC_PEAK
from tests.need import need_package

BITS = {"s16": 16, "s24": 24, "s32": 32, "f32": 32}
SUBTYPES = {"s16": "PCM_16", "s24": "PCM_24", "s32": "PCM_32", "f32": "FLOAT"}

Plan = list[tuple[int, int]]
"""Stretches of a recording in the order in which they are written, as (start, stop) frames."""

LARGEST_RIFF = 0xFFFFFFFF
MIDNIGHT_TO_START_S = 20 * 3600
"""Time of day at which takes start, for bext."""


def encode(samples: np.ndarray, encoding: str, seed: int = 0) -> np.ndarray:
    """Float samples of any shape as little-endian bytes, uint8 with a last axis of bytes a sample.

    Rounds and cuts off at the ends, as a converter does; 16 bits get triangular dither (one step a side).
    """
    if encoding == "f32":
        return np.ascontiguousarray(samples, "<f4").view(np.uint8).reshape(*samples.shape, 4)
    bits = BITS[encoding]
    steps = 2.0 ** (bits - 1)
    codes = samples.astype(np.float64) * steps
    if encoding == "s16":
        rng = np.random.default_rng([seed, len(samples)])
        codes += rng.random(samples.shape) - rng.random(samples.shape)
    codes = np.clip(np.rint(codes), -steps, steps - 1).astype("<i4")
    return codes.view(np.uint8).reshape(*samples.shape, 4)[..., : bits // 8]


def chunk(name: bytes, body: bytes) -> bytes:
    """A RIFF chunk with its pad byte where the body is odd."""
    return name + struct.pack("<I", len(body)) + body + b"\0" * (len(body) % 2)


def bext(description: str, start_frame: int) -> bytes:
    """A version 0 bext chunk (EBU Tech 3285) with the time reference in frames since midnight."""
    head = description.encode()[:256].ljust(256, b"\0") + b"test material".ljust(32, b"\0") + b"\0" * 32
    date = b"2024-05-0420:00:00"
    return chunk(b"bext", head + date + struct.pack("<Q", start_frame) + b"\0" * (602 - 346))


def ixml(names: list[str], first: int) -> bytes:
    """An iXML chunk that names the tracks, numbered from `first`."""
    tracks = "".join(
        f"<TRACK><CHANNEL_INDEX>{first + place}</CHANNEL_INDEX><INTERLEAVE_INDEX>{place + 1}</INTERLEAVE_INDEX>"
        f"<NAME>{escape(name)}</NAME></TRACK>"
        for place, name in enumerate(names)
    )
    text = f"<BWFXML><TRACK_LIST><TRACK_COUNT>{len(names)}</TRACK_COUNT>{tracks}</TRACK_LIST></BWFXML>"
    return chunk(b"iXML", text.encode())


def wav_head(channels: int, rate: int, encoding: str, frames: int, extra: bytes = b"") -> bytes:
    """Everything of a WAV before its samples. ValueError where RIFF's 32-bit sizes do not reach."""
    width = BITS[encoding] // 8
    size = frames * channels * width
    tag = 3 if encoding == "f32" else 1
    align = channels * width
    body = b"WAVE" + chunk(b"fmt ", struct.pack("<HHIIHH", tag, channels, rate, rate * align, align, width * 8)) + extra
    total = len(body) + 8 + size + size % 2
    if total > LARGEST_RIFF:
        raise ValueError(f"{total} bytes do not fit into a RIFF file: cut it into segments or write rf64")
    return b"RIFF" + struct.pack("<I", total) + body + b"data" + struct.pack("<I", size)


def long_plan(recording: Recording, seconds: float, seed: int = 1) -> Plan:
    """Slots of a recording in changing order until `seconds` are full; what stands before the first cut comes first.

    No slot follows itself, and all seams lie in pauses where only noise is heard.
    """
    slots = list(pairwise(recording.cuts))
    frames = round(seconds * recording.rate)
    plan: Plan = [(0, recording.cuts[0])] if recording.cuts[0] else []
    length = recording.cuts[0]
    rng = np.random.default_rng(seed)
    last = -1
    while length < frames:
        order = [int(slot) for slot in rng.permutation(len(slots))]
        if order[0] == last and len(order) > 1:
            order.append(order.pop(0))
        for slot in order:
            start, stop = slots[slot]
            stop = min(stop, start + frames - length)
            if stop > start:
                plan.append((start, stop))
                length += stop - start
                last = slot
    return plan


def _pieces(recording: Recording, row: int, plan: Plan, start: int, stop: int) -> Iterator[np.ndarray]:
    """Frames [start, stop) of the planned take for one row, in pieces; timecode runs on over seams."""
    position = 0
    whole = plan == [(0, recording.frames)]
    for first, last in plan:
        low, high = max(start, position), min(stop, position + last - first)
        if low < high:
            if recording.inputs[row].source == "ltc" and not whole:
                yield ltc(recording.rate, low, high - low, peak=LTC_PEAK)
            else:
                yield recording.tracks[row, first + low - position : first + high - position]
        position += last - first


def _write_wav(
    path: Path, recording: Recording, rows: list[int], plan: Plan, start: int, stop: int, encoding: str, extra: bytes
) -> Path:
    with path.open("wb") as file:
        file.write(wav_head(len(rows), recording.rate, encoding, stop - start, extra))
        if len(rows) == 1:
            at = start
            for piece in _pieces(recording, rows[0], plan, start, stop):
                file.write(encode(piece, encoding, seed=1000 * rows[0] + at).tobytes())
                at += len(piece)
        else:
            width = BITS[encoding] // 8
            for low in range(start, stop, recording.rate):
                high = min(low + recording.rate, stop)
                block = np.empty((high - low, len(rows), width), np.uint8)
                for place, row in enumerate(rows):
                    samples = np.concatenate(list(_pieces(recording, row, plan, low, high)))
                    block[:, place] = encode(samples, encoding, seed=1000 * row + low)
                file.write(block.tobytes())
        if file.tell() % 2:
            file.write(b"\0")
    return path


def _write_library(path: Path, recording: Recording, rows: list[int], plan: Plan, form: str, encoding: str) -> Path:
    """Through libsndfile: RF64, FLAC, W64. The samples it gets are already on the steps of the encoding."""
    need_package("soundfile")
    import soundfile

    total = sum(stop - start for start, stop in plan)
    with soundfile.SoundFile(
        path, "w", samplerate=recording.rate, channels=len(rows), format=form, subtype=SUBTYPES[encoding]
    ) as file:
        for low in range(0, total, recording.rate):
            high = min(low + recording.rate, total)
            block = [np.concatenate(list(_pieces(recording, row, plan, low, high))) for row in rows]
            samples = np.stack(block, axis=1)
            if encoding == "f32":
                file.write(samples)
            else:
                # As 32-bit integers: floats would be rounded once more, in another way.
                codes = np.zeros((*samples.shape, 4), np.uint8)
                codes[..., 4 - BITS[encoding] // 8 :] = encode(samples, encoding, seed=low)
                file.write(codes.view("<i4")[..., 0])
    return path


def file_name(number: int, name: str) -> str:
    """Track number and name as recorders write them, without what a file system refuses."""
    return f"{number:02d} {name.replace('/', '-')}"


def write(
    folder: Path,
    recording: Recording,
    form: str = "mono",
    encoding: str = "s24",
    *,
    plan: Plan | None = None,
    cuts_s: tuple[float, ...] = (),
    metadata: bool = False,
) -> list[Path]:
    """Write a take into `folder` (made if missing); the paths, in order of track and time.

    `plan` is a `long_plan`; `cuts_s` says where segments end (s from the start, any sample); `metadata` adds bext and
    iXML to WAV files. ValueError for an unknown form.
    """
    folder.mkdir(parents=True, exist_ok=True)
    plan = plan or [(0, recording.frames)]
    total = sum(stop - start for start, stop in plan)
    rows = list(range(len(recording.inputs)))
    names = [one.name for one in recording.inputs]
    ends = [0, *(round(cut * recording.rate) for cut in cuts_s), total]

    def extra(some: list[int], start: int) -> bytes:
        if not metadata:
            return b""
        chosen = [names[row] for row in some]
        return bext(", ".join(chosen), MIDNIGHT_TO_START_S * recording.rate + start) + ixml(chosen, some[0] + 1)

    def wav(name: str, some: list[int], start: int = 0, stop: int = total) -> Path:
        return _write_wav(folder / name, recording, some, plan, start, stop, encoding, extra(some, start))

    if form == "mono":
        return [wav(f"{file_name(row + 1, names[row])}.wav", [row]) for row in rows]
    if form == "pairs":
        out = []
        for row in rows:
            other = recording.inputs[row].pair
            if recording.inputs[row].pairing == "stereo" and other == row + 2:
                out.append(wav(f"{row + 1:02d}-{row + 2:02d} {names[row]}.wav", [row, row + 1]))
            elif not (recording.inputs[row].pairing == "stereo" and other == row):
                out.append(wav(f"{file_name(row + 1, names[row])}.wav", [row]))
        return out
    if form == "polyphonic":
        return [wav("evening.wav", rows)]
    if form == "segments":
        return [
            wav(f"{file_name(row + 1, names[row])}_{count:04d}.wav", [row], start, stop)
            for row in rows
            for count, (start, stop) in enumerate(pairwise(ends), start=1)
        ]
    if form == "polyphonic-segments":
        return [
            wav(f"evening_{count:04d}.wav", rows, start, stop)
            for count, (start, stop) in enumerate(pairwise(ends), start=1)
        ]
    if form == "rf64":
        return [_write_library(folder / "evening.wav", recording, rows, plan, "RF64", encoding)]
    libraries = {"rf64-mono": ("RF64", "wav"), "flac": ("FLAC", "flac"), "w64": ("W64", "w64")}
    if form not in libraries:
        raise ValueError(f"no form called {form}")
    library, suffix = libraries[form]
    return [
        _write_library(folder / f"{file_name(row + 1, names[row])}.{suffix}", recording, [row], plan, library, encoding)
        for row in rows
    ]
