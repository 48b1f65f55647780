"""Chains put on one clock: start times, parts in a row, stretches that are missing, rates and depths that differ."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace

from replay.take.chains import DAY_S, SEAM_S, Chain, Piece, gap_s
from replay.take.missing import Row, missing_stretches
from replay.take.model import FileTrouble, Segment, Track
from replay.take.names import spoken
from replay.take.number import Numbered
from replay.text import harmless

SEAM_FRAMES_S = 0.01
"""Parts whose start times meet within this are joined to the frame."""


@dataclass(frozen=True, kw_only=True)
class Assembled:
    """Tracks on the take's clock in order of their numbers, its rate and length, what was found wrong, and how the
    clock was set ("bext" or "start")."""

    tracks: tuple[Track, ...]
    rate: int
    frames: int
    troubles: tuple[FileTrouble, ...]
    clock_source: str


def assemble(chains: Sequence[Chain], numbered: Numbered, rate: int | None) -> Assembled:
    """Put the chains that were kept on one clock. `rate` decides where as many files have it as any other rate.

    ValueError where no chain holds a readable file with samples.
    """
    rows = [
        (chain, numbers) for chain, numbers, kept in zip(chains, numbered.numbers, numbered.kept, strict=True) if kept
    ]
    troubles = _from_files(chains, numbered)
    majority = _majority_rate(rows, rate)
    rows, odd = _of_one_rate(rows, majority)
    troubles += odd
    rows, odd = _of_one_width(rows)
    troubles += odd
    chains_left = [chain for chain, _ in rows]
    starts = _bext_starts(chains_left, majority)
    source = "start" if starts is None else "bext"
    if starts is None:
        starts = _row_starts(chains_left, majority)
    tracks: list[Track] = []
    for (chain, numbers), row in zip(rows, starts, strict=True):
        tracks.extend(_tracks(chain, numbers, row))
    tracks.sort(key=lambda track: track.number)
    troubles += missing_stretches(rows, starts, majority, source)
    troubles += _depths(rows)
    frames = max(track.stop for track in tracks)
    return Assembled(tracks=tuple(tracks), rate=majority, frames=frames, troubles=tuple(troubles), clock_source=source)


def _from_files(chains: Sequence[Chain], numbered: Numbered) -> list[FileTrouble]:
    """What opening the files told, with the numbers of the tracks concerned."""
    told: list[FileTrouble] = []
    for chain, numbers in zip(chains, numbered.numbers, strict=True):
        for piece in chain.pieces:
            told.extend(replace(trouble, tracks=numbers) for trouble in piece.opened.troubles)
    return told


def _majority_rate(rows: Sequence[Row], rate: int | None) -> int:
    count: Counter[int] = Counter()
    for chain, numbers in rows:
        for piece in chain.pieces:
            if piece.file is not None and piece.frames:
                count[piece.file.rate] += len(numbers) or 1
    if not count:
        raise ValueError("no samples")
    most = max(count.values())
    rivals = sorted((found for found, tracks in count.items() if tracks == most), reverse=True)
    return rate if rate in rivals else rivals[0]


def _of_one_rate(rows: Sequence[Row], majority: int) -> tuple[list[Row], list[FileTrouble]]:
    """Rows of readable pieces at that rate; others are told and left out."""
    kept: list[Row] = []
    odd: dict[int, list[tuple[str, tuple[int, ...]]]] = {}
    for chain, numbers in rows:
        pieces = []
        for piece in chain.pieces:
            if piece.file is None or not piece.frames:
                continue
            if piece.file.rate == majority:
                pieces.append(piece)
            else:
                odd.setdefault(piece.file.rate, []).append((harmless(piece.path.name), numbers))
        if pieces and numbers:
            kept.append((replace(chain, pieces=tuple(pieces)), numbers))
    told = []
    for rate, files in sorted(odd.items()):
        names = tuple(name for name, _ in files)
        tracks = tuple(sorted({number for _, numbers in files for number in numbers}))
        text = (
            f"{_list(names)} {'has' if len(names) == 1 else 'have'} a rate of {rate} Hz, the take has {majority} Hz: "
        )
        text += "left out, as a player would run it at the wrong speed."
        told.append(FileTrouble(code="rate-mismatch", detail=text, files=names, tracks=tracks))
    return kept, told


def _of_one_width(rows: Sequence[Row]) -> tuple[list[Row], list[FileTrouble]]:
    """Rows whose parts all have as many channels as the first; a part that has not is told and left out."""
    kept: list[Row] = []
    told = []
    for chain, numbers in rows:
        wide = [piece for piece in chain.pieces if piece.file is not None and piece.file.channels == len(numbers)]
        for piece in chain.pieces:
            if piece not in wide and piece.file is not None:
                first = harmless(chain.file_names[0])
                name = harmless(piece.path.name)
                text = f"{name} has {piece.file.channels} channels where {first} has {len(numbers)}: it was left out."
                told.append(FileTrouble(code="track-clash", detail=text, files=(name, first), tracks=numbers))
        if wide:
            kept.append((replace(chain, pieces=tuple(wide)), numbers))
    return kept, told


def _bext_starts(chains: Sequence[Chain], rate: int) -> list[list[int]] | None:
    """Start frames of every piece by bext, from 0; None where the times are not plausible for all files.

    Plausible: every file has one, within a day; no part overlaps the part before; every track starts while the
    longest is still running; and not all are zero (a recorder without a clock).
    """
    files = [file for chain in chains for file in chain.files]
    if any(file.start_frame is None or file.start_frame > 2 * DAY_S * rate for file in files):
        return None
    if not any(file.start_frame for file in files):
        return None
    made = [file.made for file in files if file.made is not None]
    if made and max(made) - min(made) > DAY_S:
        return None
    first = [chain.files[0].start_frame or 0 for chain in chains]
    if max(first) - min(first) > DAY_S * rate // 2:  # some began before midnight, some after
        first = [start + DAY_S * rate if start < DAY_S * rate // 2 else start for start in first]
    starts: list[list[int]] = []
    for chain, start in zip(chains, first, strict=True):
        row = [start]
        for before, after in zip(chain.files, chain.files[1:], strict=False):
            gap = gap_s(before, after)
            if gap is None or gap < -SEAM_S or gap > DAY_S:
                return None
            frames = round(gap * rate)
            row.append(row[-1] + before.frames + (0 if abs(gap) <= SEAM_FRAMES_S else max(0, frames)))
        starts.append(row)
    zero = min(first)
    longest = max(row[-1] + chain.files[-1].frames - row[0] for chain, row in zip(chains, starts, strict=True))
    if max(first) - zero > longest:
        return None
    return [[start - zero for start in row] for row in starts]


def _row_starts(chains: Sequence[Chain], rate: int) -> list[list[int]]:
    """Start frames where no times are known: all chains begin together, parts follow each other.

    Part n begins at the same frame in every chain that has parts, where the longest part before it ends: so a chain
    with a part missing or cut short stays in step with the others. Differences too short to be a loss are no gaps.
    """
    length: dict[int, int] = {}
    for chain in chains:
        if len(chain.pieces) > 1:
            for piece in chain.pieces:
                length[piece.part] = max(length.get(piece.part, 0), piece.frames)
    begins, at = {}, 0
    for part in sorted(length):
        begins[part] = at
        at += length[part]
    tolerance = round(SEAM_FRAMES_S * rate)
    rows = []
    for chain in chains:
        row: list[int] = []
        end = 0
        for piece in chain.pieces:
            start = begins.get(piece.part, 0)
            row.append(end if row and start - end <= tolerance else max(start, end))
            end = row[-1] + piece.frames
        rows.append(row)
    return rows


def _tracks(chain: Chain, numbers: tuple[int, ...], starts: Sequence[int]) -> list[Track]:
    tracks = []
    for channel, number in enumerate(numbers):
        segments = tuple(
            Segment(file=file, channel=channel, start=start) for file, start in zip(chain.files, starts, strict=True)
        )
        name = next((file.names[channel] for file in chain.files if file.names[channel]), "")
        if not name and chain.channels <= 2:
            name = spoken(chain.base) + ("" if chain.channels == 1 else f" {'LR'[channel]}")
        tracks.append(Track(number=number, name=name, file_name=chain.file_names[0], segments=segments))
    return tracks


def _depths(rows: Sequence[Row]) -> list[FileTrouble]:
    """A note where tracks of one take have unlike depths."""
    by_depth: dict[tuple[int, bool], list[tuple[Piece, tuple[int, ...]]]] = {}
    for chain, numbers in rows:
        for piece in chain.pieces:
            if piece.file is not None:
                by_depth.setdefault((piece.file.bits, piece.file.is_float), []).append((piece, numbers))
    if len(by_depth) < 2:
        return []
    usual = max(by_depth, key=lambda depth: (len(by_depth[depth]), depth))
    told = []
    for depth in sorted(by_depth):
        if depth == usual:
            continue
        files = tuple(harmless(piece.path.name) for piece, _ in by_depth[depth])
        tracks = tuple(sorted({number for _, numbers in by_depth[depth] for number in numbers}))
        verb = "is" if len(files) == 1 else "are"
        text = f"{_list(files)} {verb} {_depth(depth)}, the rest of the take is {_depth(usual)}."
        told.append(FileTrouble(code="depth-mismatch", detail=text, files=files, tracks=tracks))
    return told


def _depth(depth: tuple[int, bool]) -> str:
    return f"{depth[0]}-bit {'float' if depth[1] else 'integer'}"


def _list(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else f"{names[0]} and {len(names) - 1} more"
