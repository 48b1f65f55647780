"""A recorded take as frozen records: tracks on the take's clock, and what is wrong with the files.

Conventions: a frame is one sample of every track; frames count from 0 on the take's clock, which starts where the
earliest track starts. Track numbers count from 1. Paths are absolute.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

ENCODINGS = ("u8", "s16", "s24", "s32", "f32", "f64")
"""Sample encodings (little-endian) that the compiled reader takes straight from the bytes."""


@dataclass(frozen=True, kw_only=True)
class AudioFile:
    """One file, as far as its header can be trusted.

    `encoding` is one of ENCODINGS where the samples lie in the file as plain interleaved little-endian PCM or float
    from byte `data_offset` on; None where only a library can decode it (FLAC, W64, AIFF, ...). `frames` are those
    that are really there, not those claimed. `bits` is the container's bits per sample, `is_float` true for float.
    `names[c]` is the metadata's name for channel c of the file ("" where it has none), `numbers[c]` the recorder's
    track number (None where it has none). `start_frame` is the bext time reference in frames since midnight
    (None where there is no bext chunk). `modified` is the file's modification time in seconds since the epoch, `made`
    when bext says that it was recorded (None where it does not say).
    """

    path: Path
    rate: int
    channels: int
    frames: int
    encoding: str | None
    data_offset: int
    bits: int
    is_float: bool
    names: tuple[str, ...]
    numbers: tuple[int | None, ...]
    start_frame: int | None
    description: str
    modified: float
    size: int
    made: float | None = None

    @property
    def frame_bytes(self) -> int:
        """Bytes of one frame in the file (plain encodings only)."""
        return self.channels * self.bits // 8


@dataclass(frozen=True, kw_only=True)
class Segment:
    """A stretch of a track: channel `channel` (from 0) of `file`, lying at frame `start` of the take's clock."""

    file: AudioFile
    channel: int
    start: int

    @property
    def frames(self) -> int:
        return self.file.frames

    @property
    def stop(self) -> int:
        return self.start + self.file.frames


@dataclass(frozen=True, kw_only=True)
class Track:
    """The audio of one slot in a take: segments in order of time, without overlap; what lies between them is missing.

    `number` is the track's number in the take; `name` the best name known (metadata, then the file's name);
    `file_name` the first file's name with its suffix.
    """

    number: int
    name: str
    file_name: str
    segments: tuple[Segment, ...]

    @property
    def start(self) -> int:
        return self.segments[0].start

    @property
    def stop(self) -> int:
        return self.segments[-1].stop

    @property
    def coverage(self) -> tuple[tuple[int, int], ...]:
        """The stretches that exist, as (start, stop) frames on the take's clock, joined where they touch."""
        runs: list[tuple[int, int]] = []
        for segment in self.segments:
            if runs and segment.start <= runs[-1][1]:
                runs[-1] = (runs[-1][0], segment.stop)
            else:
                runs.append((segment.start, segment.stop))
        return tuple(runs)

    @property
    def frames(self) -> int:
        """Frames that exist (missing stretches not counted)."""
        return sum(stop - start for start, stop in self.coverage)


@dataclass(frozen=True, kw_only=True)
class FileTrouble:
    """Something that looks wrong with the files, found while opening them; a check makes a finding of it.

    `code` is the finding's code (unreadable, truncated, empty-file, segment-missing, track-clash, still-recording,
    rate-mismatch, depth-mismatch, track-order, ...). `tracks` are the numbers of the tracks concerned (empty where no
    track could be made). `lost_s` says how many seconds are known to be missing, `start_s` where on the take's clock.
    `detail` is one plain sentence.
    """

    code: str
    detail: str
    files: tuple[str, ...] = ()
    tracks: tuple[int, ...] = ()
    lost_s: float | None = None
    start_s: float | None = None


@dataclass(frozen=True, kw_only=True)
class Take:
    """One recording: all tracks made in one pass.

    `recorded` is when it was made (seconds since the epoch), from bext where plausible or the newest file's
    modification time; `others` names the other takes that were there to choose from. `clock_source` says how tracks
    were lined up: "bext" or "start" (all begin together). `label` tells it from other takes in the same folder (""
    where it is the only one there).
    """

    folder: Path
    rate: int
    frames: int
    tracks: tuple[Track, ...]
    troubles: tuple[FileTrouble, ...]
    recorded: float
    others: tuple[str, ...] = ()
    clock_source: str = "start"
    label: str = ""

    @property
    def duration_s(self) -> float:
        return self.frames / self.rate

    def track(self, number: int) -> Track | None:
        return next((track for track in self.tracks if track.number == number), None)
