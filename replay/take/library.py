"""Files that only the sound-file library can decode: FLAC, W64, AIFF, CAF, big-endian wave files, odd encodings.

The library counts frames from the file's size for most forms and believes the header for compressed ones, so the last
frame is tried, and the true end looked for where it cannot be read.
"""

from __future__ import annotations

import os
import sys
from pathlib import Path
from typing import Any

from replay.take.model import AudioFile, FileTrouble
from replay.take.opened import Opened, Unreadable, check_counts, cut_off
from replay.text import harmless

_PLAIN = {"PCM_S8": 8, "PCM_U8": 8, "PCM_16": 16, "PCM_24": 24, "PCM_32": 32, "FLOAT": 32, "DOUBLE": 64}
_BITS = _PLAIN | {
    "ALAC_16": 16,
    "ALAC_20": 24,
    "ALAC_24": 24,
    "ALAC_32": 32,
    "ULAW": 16,
    "ALAW": 16,
    "DPCM_8": 8,
    "DPCM_16": 16,
}
_LONGEST = 1 << 46
"""Frames above this (46 years at 48 kHz) are a claim that no file keeps."""


def open_file(path: Path) -> Any:
    """`path` opened for reading, as a soundfile.SoundFile. Names of any bytes work.

    Raises Unreadable where the library does not know the file, OSError where it cannot be opened.
    """
    import soundfile

    try:
        # Bytes, because the library would encode a name strictly, and card readers leave names that are not UTF-8.
        return soundfile.SoundFile(str(path) if sys.platform == "win32" else os.fsencode(path), "r")
    except soundfile.LibsndfileError as error:
        with open(path, "rb"):
            pass  # raises the true reason where the file cannot be opened at all
        reason = error.error_string.strip().rstrip(".")
        raise Unreadable(f"it is no audio file that is known here ({reason})") from None
    except (RuntimeError, TypeError, ValueError, UnicodeError) as error:
        raise Unreadable(f"the audio library gave up on it ({error})") from None


def read_header(path: Path, status: os.stat_result) -> Opened:
    """Open a file with the library. Raises Unreadable or OSError where that does not work."""
    name = harmless(path.name)
    with open(path, "rb") as raw:
        head = raw.read(3)
    if head == b"ID3" or (head[:1] == b"\xff" and head[1:2] >= b"\xe0"):
        # The decoder for these writes to the terminal about every byte that it does not like.
        raise Unreadable("it is MPEG audio, or what is left of something else; no recorder of raw tracks writes that")
    with open_file(path) as sound:
        rate, channels, frames = int(sound.samplerate), int(sound.channels), int(sound.frames)
        subtype, title = str(sound.subtype), _title(sound)
    check_counts(channels, rate)
    troubles: list[FileTrouble] = []
    claimed = frames
    frames = readable_frames(path, claimed)
    bits = _BITS.get(subtype, 32)
    if frames == 0:
        troubles.append(FileTrouble(code="empty-file", detail=f"{name} holds no samples.", files=(name,)))
    elif frames < claimed <= _LONGEST:
        troubles.append(cut_off(path, claimed / rate, frames / rate))
    elif _PLAIN.get(subtype):
        frame_bytes = channels * bits // 8
        missing = (_container_claim(path) - status.st_size) // frame_bytes
        if missing > 0:
            troubles.append(cut_off(path, (frames + missing) / rate, frames / rate))
    file = AudioFile(
        path=path,
        rate=rate,
        channels=channels,
        frames=frames,
        encoding=None,
        data_offset=0,
        bits=bits,
        is_float=subtype not in _BITS or subtype in ("FLOAT", "DOUBLE"),
        names=(title,) if channels == 1 else ("",) * channels,
        numbers=(None,) * channels,
        start_frame=None,
        description="",
        modified=status.st_mtime,
        size=status.st_size,
    )
    return Opened(file, tuple(troubles))


def readable_frames(path: Path, claimed: int) -> int:
    """How many frames can be read, at most `claimed`: the claim itself where its last frame can, else by halving."""
    if claimed <= 0:
        return 0
    if _readable(path, claimed - 1):
        return claimed
    low, high = 0, min(claimed, _LONGEST)
    while low < high:
        middle = (low + high) // 2
        if _readable(path, middle):
            low = middle + 1
        else:
            high = middle
    return low


def _readable(path: Path, frame: int) -> bool:
    """Whether that frame can be sought and read. A fresh handle each time: decoders do not recover from an error."""
    try:
        with open_file(path) as sound:
            sound.seek(frame)
            return len(sound.read(1, dtype="float32", always_2d=True)) == 1
    except (Unreadable, OSError, RuntimeError, ValueError):
        return False


def _title(sound: Any) -> str:
    try:
        title = sound.title
    except (UnicodeError, RuntimeError):
        return ""
    return title.strip()[:200] if isinstance(title, str) else ""


def _container_claim(path: Path) -> int:
    """The size of the whole file as W64, AIFF and big-endian wave headers give it; 0 where nothing is claimed."""
    with open(path, "rb") as file:
        head = file.read(24)
    if head[:4] == b"riff" and len(head) == 24:
        return int.from_bytes(head[16:24], "little")
    if head[:4] in (b"FORM", b"RIFX") and len(head) >= 8:
        return int.from_bytes(head[4:8], "big") + 8
    return 0
