"""What a take is told by, wherever it is copied to: its tracks' places and lengths, and bytes from all of its parts."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from replay.take.model import Take
from replay.text import harmless

_PIECE = 4096
_PIECES = 9
_HEX = 20


@dataclass(frozen=True)
class Fingerprint:
    """Of the whole take, and of each track by its number: hexadecimal, 20 digits each."""

    take: str
    tracks: Mapping[int, str]


def fingerprint(take: Take) -> Fingerprint:
    """Read nine pieces of every file. A file that cannot be read has a fingerprint that no other state of it has."""
    files: dict[Path, bytes] = {}
    tracks = {}
    for track in sorted(take.tracks, key=lambda track: track.number):
        digest = hashlib.sha256(f"{take.rate}".encode())
        for segment in track.segments:
            file = segment.file
            if file.path not in files:
                files[file.path] = _pieces(file.path, file.size)
            digest.update(f"{segment.start} {segment.frames} {segment.channel} {file.size} ".encode())
            digest.update(files[file.path])
        tracks[track.number] = digest.hexdigest()[:_HEX]
    whole = "\n".join([f"{take.rate}", *(f"{number} {one}" for number, one in tracks.items())])
    return Fingerprint(hashlib.sha256(whole.encode()).hexdigest()[:_HEX], tracks)


def name_of(take: Take) -> str:
    """What a take is called in the list of answers: its folder, and what tells it from others in there."""
    return harmless("/".join(filter(None, (take.folder.name, take.label))))


def _pieces(path: Path, size: int) -> bytes:
    digest = hashlib.sha256()
    try:
        with open(path, "rb") as audio:
            # Spread over the file, for the beginning and the end of many tracks are silent.
            for part in range(_PIECES):
                audio.seek(max(0, (size - _PIECE) * part // (_PIECES - 1)))
                digest.update(audio.read(_PIECE))
    except OSError:
        return b"cannot be read"
    return digest.digest()
