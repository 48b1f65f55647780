"""Writes wave files whose length is known beforehand: 24 and 32 bit integers, 32 and 64 bit float, any channels.

Layout: RIFF WAVE; beyond what 32-bit sizes hold, RF64 with a ds64 chunk (EBU Tech 3306). A bext chunk (EBU Tech 3285
version 1) says when the first frame was recorded, an iXML chunk (iXML 3) names the tracks.
"""

from __future__ import annotations

import datetime
import os
import struct
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType
from xml.sax.saxutils import escape

import numpy as np

from replay.text import harmless

WIDTHS = {"s24": 3, "s32": 4, "f32": 4, "f64": 8}
"""Encodings that can be written, with the bytes of a sample."""

LARGEST_RIFF = 2**32 - 1
"""The greatest size that a RIFF header can give; longer files are RF64."""

_PCM, _FLOAT, _EXTENSIBLE = 1, 3, 0xFFFE
_SUBFORMAT_TAIL = bytes.fromhex("000000001000800000aa00389b71")
_ORIGINATOR = b"replay"
_NOT_IN_NAMES = set('/\\:*?"<>|')
_LONGEST_NAME = 60


@dataclass(frozen=True, kw_only=True)
class Shape:
    """What a file is: `names[c]` and `numbers[c]` are the name and the track number of channel c. `reference` is the
    first frame counted from midnight, `recorded` when it was made (seconds since the epoch); None leaves bext out."""

    frames: int
    rate: int
    encoding: str
    names: Sequence[str]
    numbers: Sequence[int]
    reference: int = 0
    recorded: float | None = None
    description: str = ""

    @property
    def frame_bytes(self) -> int:
        return len(self.names) * WIDTHS[self.encoding]

    @property
    def data_bytes(self) -> int:
        return self.frames * self.frame_bytes


def header(shape: Shape, largest_riff: int = LARGEST_RIFF) -> bytes:
    """Everything before the samples. Sizes are final: the file needs no going back."""
    data = shape.data_bytes
    chunks = _fmt(shape) + _bext(shape) + _ixml(shape)
    rest = 4 + len(chunks) + 8 + data + data % 2
    if rest + 8 <= largest_riff:
        return struct.pack("<4sI4s", b"RIFF", rest, b"WAVE") + chunks + struct.pack("<4sI", b"data", data)
    # riffSize counts everything behind its own field, the ds64 chunk included.
    sizes = struct.pack("<4sIQQQI", b"ds64", 28, rest + 36, data, shape.frames, 0)
    head = struct.pack("<4sI4s", b"RF64", 0xFFFFFFFF, b"WAVE") + sizes
    return head + chunks + struct.pack("<4sI", b"data", 0xFFFFFFFF)


def _fmt(shape: Shape) -> bytes:
    channels, width = len(shape.names), WIDTHS[shape.encoding]
    tag = _FLOAT if shape.encoding.startswith("f") else _PCM
    fields = (channels, shape.rate, shape.rate * shape.frame_bytes, shape.frame_bytes, 8 * width)
    if channels <= 2:
        return struct.pack("<4sIHHIIHH", b"fmt ", 16, tag, *fields)
    # More than two channels belong to no loudspeakers: channel mask 0.
    extension = struct.pack("<HHIH", 22, 8 * width, 0, tag) + _SUBFORMAT_TAIL
    return struct.pack("<4sIHHIIHH", b"fmt ", 40, _EXTENSIBLE, *fields) + extension


def _bext(shape: Shape) -> bytes:
    if shape.recorded is None:
        return b""
    try:
        when = datetime.datetime.fromtimestamp(shape.recorded)
    except (OverflowError, OSError, ValueError):
        when = datetime.datetime(1970, 1, 1)  # a file's date that no calendar has
    description = shape.description or (shape.names[0] if len(shape.names) == 1 else "")
    body = struct.pack(
        "<256s32s32s10s8sQH",
        harmless(description).encode("ascii", "replace")[:256],
        _ORIGINATOR,
        b"",
        when.strftime("%Y-%m-%d").encode("ascii"),
        when.strftime("%H:%M:%S").encode("ascii"),
        shape.reference,
        1,
    ) + bytes(64 + 190)
    return struct.pack("<4sI", b"bext", len(body)) + body


def _ixml(shape: Shape) -> bytes:
    tracks = "".join(
        f"<TRACK><CHANNEL_INDEX>{number}</CHANNEL_INDEX><INTERLEAVE_INDEX>{place}</INTERLEAVE_INDEX>"
        f"<NAME>{escape(harmless(name))}</NAME></TRACK>"
        for place, (name, number) in enumerate(zip(shape.names, shape.numbers, strict=True), start=1)
    )
    count = f"<TRACK_COUNT>{len(shape.names)}</TRACK_COUNT>"
    text = (
        '<?xml version="1.0" encoding="UTF-8"?>\n<BWFXML><IXML_VERSION>3.0</IXML_VERSION>'
        f"<TRACK_LIST>{count}{tracks}</TRACK_LIST></BWFXML>\n"
    ).encode()
    # An even length by a line end in the text: some readers of RF64 do not skip the byte that pads an odd chunk.
    text += b"\n" * (len(text) % 2)
    return struct.pack("<4sI", b"iXML", len(text)) + text


def file_name(number: int, name: str, digits: int) -> str:
    """A name for a recorder's file list: number first, nothing in it that some disk refuses.

    >>> file_name(7, "Vox: lead/BV", 2)
    '07 Vox- lead-BV.wav'
    """
    kept = "".join("-" if letter in _NOT_IN_NAMES else letter for letter in harmless(name, _LONGEST_NAME))
    kept = kept.replace("…", "").strip(" .")
    return f"{number:0{digits}d} {kept}".strip() + ".wav"


def encode(samples: np.ndarray, encoding: str) -> bytes:
    """Interleaved bytes of float64 samples (frames, channels) of which full scale is 1.0.

    Integers are rounded to the nearest code and flat beyond full scale; a sample that is a code already stays it.
    """
    if encoding == "f32":
        return samples.astype("<f4").tobytes()
    if encoding == "f64":
        return samples.astype("<f8").tobytes()
    bits = 8 * WIDTHS[encoding]
    scale = 2.0 ** (bits - 1)
    codes = np.clip(np.rint(samples * scale), -scale, scale - 1).astype("<i4")
    if encoding == "s32":
        return codes.tobytes()
    packed = np.ascontiguousarray(codes).view(np.uint8).reshape(-1, 4)[:, :3]
    return packed.tobytes()


class WavFile:
    """A file that is being written; all of its frames must have come when the `with` block ends."""

    def __init__(self, path: Path, shape: Shape, largest_riff: int = LARGEST_RIFF) -> None:
        self.shape = shape
        self._left = shape.frames
        self._waiting: list[bytes] = []
        self._bytes = 0
        self._file = path.open("xb", buffering=0)
        self._waiting.append(header(shape, largest_riff))

    def write(self, samples: np.ndarray) -> None:
        """Add frames: float64 (frames, channels), full scale 1.0."""
        self._left -= len(samples)
        data = encode(samples, self.shape.encoding)
        self._waiting.append(data)
        self._bytes += len(data)
        if self._bytes >= 1 << 18:
            self._flush()

    def _flush(self) -> None:
        rest = memoryview(b"".join(self._waiting))
        self._waiting, self._bytes = [], 0
        while rest:
            rest = rest[self._file.write(rest) or 0 :]

    def __enter__(self) -> WavFile:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, value: BaseException | None, trace: TracebackType | None
    ) -> None:
        try:
            if kind is None:
                if self._left:
                    raise ValueError(f"{self._left} frames are missing")
                self._waiting.append(bytes(self.shape.data_bytes % 2))
                self._flush()
                os.fsync(self._file.fileno())
        finally:
            self._file.close()
