"""What is missing between, before and behind the parts of a split recording, told by start times or by the other
tracks' parts."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from replay.take.chains import Chain
from replay.take.model import FileTrouble
from replay.text import clock, harmless, ranges

Row = tuple[Chain, tuple[int, ...]]
"""A chain and the numbers of its tracks."""


def missing_stretches(
    rows: Sequence[Row], starts: Sequence[Sequence[int]], rate: int, source: str
) -> list[FileTrouble]:
    """Stretches between parts, parts that other chains have, and part numbers that nobody has."""
    told: list[FileTrouble] = []
    common = {piece.part for chain, _ in rows if len(chain.pieces) > 1 for piece in chain.pieces}
    lengths = {part: max(p.frames for chain, _ in rows for p in chain.pieces if p.part == part) for part in common}
    gone = _skipped(common)
    for (chain, numbers), row in zip(rows, starts, strict=True):
        track = f"track {ranges(numbers)}" if len(numbers) == 1 else f"tracks {ranges(numbers)}"
        ends = [start + piece.frames for start, piece in zip(row, chain.pieces, strict=True)]
        for i in range(1, len(row)):
            if row[i] > ends[i - 1]:
                lost = (row[i] - ends[i - 1]) / rate
                at = ends[i - 1] / rate
                before, after = (harmless(piece.path.name) for piece in chain.pieces[i - 1 : i + 1])
                text = f"Between {before} and {after} {lost:.2f} s of {track} are missing, from {clock(at)} on."
                told.append(_segment(text, (before, after), numbers, lost, at))
        told.extend(_at_the_ends(chain, numbers, track, common, lengths, rate, row))
    if gone and source == "start":
        names = tuple(harmless(name) for chain, _ in rows[:1] for name in chain.file_names)
        parts = f"Part {ranges(gone)}" if len(gone) == 1 else f"Parts {ranges(gone)}"
        text = f"{parts} of the recording {'is' if len(gone) == 1 else 'are'} missing on all tracks; the parts around "
        text += "were joined, so times behind that are too early."
        numbers = tuple(sorted(number for _, numbers in rows for number in numbers))
        told.append(FileTrouble(code="segment-missing", detail=text, files=names, tracks=numbers))
    return told


def _at_the_ends(
    chain: Chain,
    numbers: tuple[int, ...],
    track: str,
    common: set[int],
    lengths: Mapping[int, int],
    rate: int,
    row: Sequence[int],
) -> list[FileTrouble]:
    """Parts before the first and behind the last of a chain that the other chains have."""
    own = {piece.part for piece in chain.pieces}
    if not common or not own & common:
        return []
    told = []
    first, last = harmless(chain.file_names[0]), harmless(chain.file_names[-1])
    before = [part for part in common if part < min(own)]
    behind = [part for part in common if part > max(own)]
    if before:
        lost = sum(lengths[part] for part in before) / rate
        text = f"The beginning of {track} is missing: {lost:.2f} s before {first}, which the other tracks have."
        told.append(_segment(text, (first,), numbers, lost, 0.0))
    if behind:
        lost = sum(lengths[part] for part in behind) / rate
        at = (row[-1] + chain.pieces[-1].frames) / rate
        text = f"The end of {track} is missing: {lost:.2f} s behind {last}, which the other tracks have."
        told.append(_segment(text, (last,), numbers, lost, at))
    return told


def _skipped(parts: set[int]) -> list[int]:
    """Numbers left out up to the last part; none where they are no plain count (one that starts at 7 was set so)."""
    plain = sorted(part % 1_000_000 for part in parts)
    if not plain or plain[-1] - plain[0] > 4 * len(plain):
        return []
    first = 1 if plain[0] == 2 else plain[0]
    return [part for part in range(first, plain[-1]) if part not in plain]


def _segment(text: str, files: tuple[str, ...], numbers: tuple[int, ...], lost: float, at: float) -> FileTrouble:
    return FileTrouble(code="segment-missing", detail=text, files=files, tracks=numbers, lost_s=lost, start_s=at)
