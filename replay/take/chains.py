"""Chains: the files that make one track (or the tracks of one polyphonic file), in order of their parts; and whether
one file goes on where another ends."""

from __future__ import annotations

import itertools
import statistics
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from replay.take.model import AudioFile, FileTrouble
from replay.take.names import Name
from replay.take.opened import Opened

DAY_S = 86_400
SEAM_S = 0.05
"""Start times that meet the end of the part before within this are one recording (they are whole frames, or tens of
milliseconds where a recorder rounds)."""
PAUSE_S = 60.0
"""Parts numbered without a gap, but further apart than this, are two recordings."""
SLACK_S = 30.0
"""By how much a file's modification may come later than its length explains before it counts as another recording."""


@dataclass(frozen=True, kw_only=True)
class Piece:
    """One file of a chain: `part` is its place among the parts (1 where the recording is not split)."""

    path: Path
    name: Name
    opened: Opened
    part: int = 1

    @property
    def file(self) -> AudioFile | None:
        return self.opened.file

    @property
    def frames(self) -> int:
        return self.opened.file.frames if self.opened.file else 0


@dataclass(frozen=True, kw_only=True)
class Chain:
    """`base` is what the files' names share (it holds the track's number and name, if any does)."""

    base: str
    pieces: tuple[Piece, ...]

    @property
    def files(self) -> tuple[AudioFile, ...]:
        """The files that can be read."""
        return tuple(piece.file for piece in self.pieces if piece.file is not None)

    @property
    def channels(self) -> int:
        """Channels of the first file that can be read; 1 where none can (most files of most takes are mono)."""
        return self.files[0].channels if self.files else 1

    @property
    def frames(self) -> int:
        return sum(piece.frames for piece in self.pieces)

    @property
    def seconds(self) -> float:
        return sum(file.frames / file.rate for file in self.files)

    @property
    def file_names(self) -> tuple[str, ...]:
        return tuple(piece.path.name for piece in self.pieces)


@dataclass(frozen=True, kw_only=True)
class Group:
    """Files that were recorded in one pass. `label` tells it from other takes in the same folder ("" if alone)."""

    label: str
    chains: tuple[Chain, ...]
    notes: tuple[FileTrouble, ...] = ()

    @property
    def files(self) -> tuple[AudioFile, ...]:
        return tuple(file for chain in self.chains for file in chain.files)

    @property
    def tracks(self) -> int:
        """How many tracks its files hold."""
        return sum(chain.channels for chain in self.chains if chain.frames)

    @property
    def seconds(self) -> float:
        return max((chain.seconds for chain in self.chains), default=0.0)


def gap_s(before: AudioFile, after: AudioFile) -> float | None:
    """Seconds between the end of one file and the start of the other by their bext times; negative where they overlap.

    None where the times say nothing: missing, in other rates, or equal (some recorders write the start of the whole
    recording into every part).
    """
    if before.start_frame is None or after.start_frame is None or before.rate != after.rate:
        return None
    if before.start_frame == after.start_frame:
        return None
    gap = (after.start_frame - before.start_frame - before.frames) / before.rate
    if gap < -DAY_S / 2:
        gap += DAY_S  # recorded across midnight
    if before.made is not None and after.made is not None:
        days = round((after.made - before.made - before.frames / before.rate - gap) / DAY_S)
        gap += days * DAY_S
    return gap


def follows(pieces: Sequence[Piece]) -> bool:
    """Whether start times prove that the files, in this order, are parts of one recording: none overlaps the one
    before, and at least one begins exactly where another ends."""
    files = [piece.file for piece in pieces if piece.file is not None]
    gaps = [gap_s(a, b) for a, b in itertools.pairwise(files)]
    known = [gap for gap in gaps if gap is not None]
    return bool(gaps) and len(known) == len(gaps) and min(known) >= -SEAM_S and min(known) <= SEAM_S


def split_recordings(label: str, chains: Sequence[Chain]) -> list[Group]:
    """The chains as one group, or as several where the parts turn out to be recordings of their own (recorded at other
    times under the same names, with a running number)."""
    parts = sorted({piece.part for chain in chains for piece in chain.pieces})
    runs: list[list[int]] = [parts[:1]]
    for before, after in itertools.pairwise(parts):
        if _apart(chains, before, after):
            runs.append([])
        runs[-1].append(after)
    if len(runs) == 1:
        return [Group(label=label, chains=tuple(chains))]
    groups = []
    for run in runs:
        kept = [
            replace(chain, pieces=tuple(piece for piece in chain.pieces if piece.part in run))
            for chain in chains
            if any(piece.part in run for piece in chain.pieces)
        ]
        groups.append(Group(label=f"{label} {run[0]}".strip(), chains=tuple(kept)))
    return groups


def seam(chains: Sequence[Chain], before: int, after: int) -> float | None:
    """The middle one of the gaps between two part numbers by bext, over all chains that have both; None if unknown."""
    gaps = [gap_s(a, b) for a, b in _both(chains, before, after)]
    known = [gap for gap in gaps if gap is not None]
    return statistics.median(known) if known and 2 * len(known) >= len(gaps) else None


def _both(chains: Sequence[Chain], before: int, after: int) -> list[tuple[AudioFile, AudioFile]]:
    pairs = []
    for chain in chains:
        by_part = {piece.part: piece.file for piece in chain.pieces}
        first, second = by_part.get(before), by_part.get(after)
        if first is not None and second is not None:
            pairs.append((first, second))
    return pairs


def _apart(chains: Sequence[Chain], before: int, after: int) -> bool:
    gap = seam(chains, before, after)
    if gap is not None:
        return gap < -SEAM_S or (gap > PAUSE_S and after == before + 1) or gap > DAY_S / 2
    pairs = _both(chains, before, after)
    # A part is last written to when it ends: more than its own length after the part before means a pause. (Copied
    # files often all carry the time of the copy, which says nothing.)
    return bool(pairs) and all(b.modified - a.modified > b.frames / b.rate + SLACK_S for a, b in pairs)
