"""One audio file opened: what its header says, held against what is really in the file.

Plain PCM and float wave files (RIFF, RF64, BW64) are read here, from their chunks, and so are the W64 files that the
sound-file library misreads (`w64`); whatever else the library reads is left to it (`library`). Frames are counted from
the file's size. What can be read is read, and what is wrong with the file is told beside it; a file that cannot be read
at all is told too and never raises.
"""

from __future__ import annotations

import os
import stat
import time
from dataclasses import dataclass
from pathlib import Path

from replay.take import library
from replay.take.bext import Bext, read_bext
from replay.take.chunks import Chunks, read_chunks
from replay.take.ixml import place_tracks, read_ixml
from replay.take.model import AudioFile, FileTrouble
from replay.take.opened import Opened, Unreadable, check_counts, cut_off
from replay.take.w64 import read_float_chunks
from replay.text import harmless

FRESH_S = 5.0
"""A file whose header is not final and that was written to this recently is still being recorded."""
UNTOLD_S = 0.1
"""Samples behind the claimed end that are shorter than this are not worth a word."""

_NEVER_CLOSED = (
    "was never closed: its header does not give its length. All {:.2f} s that are there were read, "
    "but its last moments may be missing and a player may see less or nothing."
)
_PCM, _FLOAT, _EXTENSIBLE = 1, 3, 0xFFFE
_GUID_TAIL = bytes.fromhex("0000 1000 8000 00aa00389b71")  # of KSDATAFORMAT_SUBTYPE_*, behind the 32-bit tag
_AMBISONIC_TAIL = bytes.fromhex("2107 d311 8644 c8c1ca000000")
_INTEGER = {1: "u8", 2: "s16", 3: "s24", 4: "s32"}
_REAL = {4: "f32", 8: "f64"}


@dataclass(frozen=True)
class _Format:
    rate: int
    channels: int
    encoding: str
    width: int  # bytes of one sample in the file
    odd: str  # what contradicts itself, "" if nothing does


def read_header(path: Path, *, now: float | None = None) -> Opened:
    """Open `path` for reading, look at its header, close it again. Never raises for what a file holds.

    `now` (seconds since the epoch; the clock's by default) decides whether a file that was never closed is still
    being written.
    """
    now = time.time() if now is None else now
    try:
        status = os.stat(path)
        if not stat.S_ISREG(status.st_mode):
            raise Unreadable("it is not a regular file")
        if status.st_size == 0:
            raise Unreadable("it has 0 bytes")
        with open(path, "rb") as file:
            chunks = read_chunks(file, status.st_size) or read_float_chunks(file, status.st_size)
            if chunks is not None:
                shape = _shape(chunks)
                if shape is not None:
                    return _wave(path, status, chunks, shape, now)
        return library.read_header(path, status)
    except Unreadable as error:
        return Opened(None, (_unreadable(path, str(error)),))
    except FileNotFoundError:
        return Opened(None, (_unreadable(path, "it is a link to a file that is gone, or has just been removed"),))
    except OSError as error:
        return Opened(None, (_unreadable(path, (error.strerror or str(error)).lower()),))
    except ValueError as error:  # a name with a zero byte
        return Opened(None, (_unreadable(path, str(error)),))


def _unreadable(path: Path, why: str) -> FileTrouble:
    name = harmless(path.name)
    return FileTrouble(code="unreadable", detail=f"{name} cannot be read: {why}.", files=(name,))


def _shape(chunks: Chunks) -> _Format | None:
    """The format in the fmt chunk; None where it is an encoding that only the library may know.

    Raises Unreadable where the chunk is missing, cut off or says what no file can be.
    """
    fmt = chunks.fmt
    if fmt is None:
        raise Unreadable("it has no fmt chunk, which says how its samples are written")
    if len(fmt) < 16:
        raise Unreadable(f"its fmt chunk is cut off after {len(fmt)} of 16 bytes")
    tag, channels = (int.from_bytes(fmt[i : i + 2], "little") for i in (0, 2))
    rate, byte_rate = (int.from_bytes(fmt[i : i + 4], "little") for i in (4, 8))
    align, bits = (int.from_bytes(fmt[i : i + 2], "little") for i in (12, 14))
    if tag == _EXTENSIBLE:
        if len(fmt) < 40:
            raise Unreadable(f"its fmt chunk is cut off after {len(fmt)} of 40 bytes")
        tag = int.from_bytes(fmt[24:28], "little") if fmt[28:40] in (_GUID_TAIL, _AMBISONIC_TAIL) else 0
    check_counts(channels, rate)
    if tag not in (_PCM, _FLOAT):
        return None
    if chunks.data_offset is None:
        raise Unreadable("it has no data chunk, which holds the samples")
    table = _INTEGER if tag == _PCM else _REAL
    width, odd = _width(table, channels, align, bits, byte_rate == rate * align)
    if width == 0:
        kind = "integer" if tag == _PCM else "float"
        known = ", ".join(str(8 * size) for size in table)
        raise Unreadable(f"its header gives {kind} samples of {bits} bits; {known} can be read")
    return _Format(rate, channels, table[width], width, odd)


def _width(table: dict[int, str], channels: int, align: int, bits: int, byte_rate_agrees: bool) -> tuple[int, str]:
    """(bytes of one sample, what contradicts itself); 0 bytes where neither field makes sense.

    Bits that are not whole bytes (20 in 3 bytes) lie at the top of their container: no contradiction. Where the block
    size and the bits disagree, two fields outvote one: the byte rate decides.
    """
    stated = (bits + 7) // 8
    by_align = align // channels if align % channels == 0 else 0
    if stated in table and by_align == stated:
        return stated, ""
    if by_align in table and (stated not in table or (byte_rate_agrees and by_align > stated)):
        return by_align, f"{bits} bits a sample in {by_align} bytes"
    if stated in table:
        return stated, f"{bits} bits a sample, but {align} bytes a frame of {channels} channels"
    return 0, ""


def _wave(path: Path, status: os.stat_result, chunks: Chunks, shape: _Format, now: float) -> Opened:
    name, width = harmless(path.name), shape.width * shape.channels
    per_second = width * shape.rate
    there, rest = chunks.data_bytes, chunks.behind
    fresh = abs(now - status.st_mtime) <= FRESH_S
    told: list[FileTrouble] = []

    def tell(code: str, text: str, lost: float | None = None) -> None:
        told.append(FileTrouble(code=code, detail=f"{name} {text}", files=(name,), lost_s=lost))

    growing = fresh and (chunks.claimed is None or rest >= UNTOLD_S * per_second)
    if growing:
        there += rest
    frames = there // width
    seconds = frames / shape.rate
    if growing:
        tell("still-recording", f"is still being recorded; it was read up to {seconds:.1f} s.")
    elif frames == 0:
        promised = (chunks.claimed or 0) // width / shape.rate
        though = f", though its header promises {promised:.2f} s" if promised else ""
        tell("empty-file", f"holds no samples{though}.", promised or None)
    elif chunks.claimed is None:
        tell("truncated", _NEVER_CLOSED.format(seconds))
    elif chunks.claimed - there >= width:
        told.append(cut_off(path, chunks.claimed // width / shape.rate, seconds))
    elif rest >= UNTOLD_S * per_second:
        more = rest // width / shape.rate
        text = f"holds {more:.2f} s behind the end that its header gives ({seconds:.2f} s); a player stops there."
        tell("truncated", text, more)
    if shape.odd:
        text = f"contradicts itself: its header says {shape.odd}; it was read as {8 * shape.width}-bit samples."
        tell("depth-mismatch", text)
    bext = read_bext(chunks.bext) if chunks.bext is not None else Bext()
    names, numbers = place_tracks(read_ixml(chunks.ixml or b""), shape.channels)
    file = AudioFile(
        path=path,
        rate=shape.rate,
        channels=shape.channels,
        frames=frames,
        encoding=shape.encoding,
        data_offset=chunks.data_offset or 0,
        bits=8 * shape.width,
        is_float=shape.encoding.startswith("f"),
        names=names,
        numbers=numbers,
        start_frame=bext.reference,
        description=bext.description,
        modified=status.st_mtime,
        size=status.st_size,
        made=bext.made,
    )
    return Opened(file, tuple(told))
