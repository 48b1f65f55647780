"""The audio files of one folder, sorted into takes, and within a take into chains of parts.

File names alone are ambiguous ("Vox 1" and "Vox 2" are two singers, "Kick_0001" and "Kick_0002" two parts of one
drum), so all names of the folder are weighed together with start times and lengths. Whatever remains a guess becomes
a `track-order` note.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import replace

from replay.take.chains import SEAM_S, Chain, Group, Piece, follows, gap_s, seam, split_recordings
from replay.take.model import FileTrouble
from replay.take.names import natural, stamp_time, track_number
from replay.text import harmless

POLYPHONIC = 3
"""From this many channels on, a file is a recording of several sources rather than a pair."""
ALIKE_S = 1.0
"""Files recorded side by side end within this of each other."""
_RUNNING = re.compile(r"\d+$")
STAMP_S = 2.0
"""A file whose name carries the time at which the file before ends, within this, goes on from it."""


def group(pieces: Sequence[Piece], wanted_tracks: int) -> list[Group]:
    """Takes found among the files of one folder, in order of their names. `pieces` come with their headers read."""
    by_label: dict[str, list[Piece]] = defaultdict(list)
    for piece in pieces:
        by_label[piece.name.label].append(piece)
    groups: list[Group] = []
    for label in sorted(by_label, key=natural):
        groups.extend(_groups(label, by_label[label], wanted_tracks))
    return _joined(groups)


def _groups(label: str, pieces: list[Piece], wanted_tracks: int) -> list[Group]:
    role = _role_of_tails(pieces, wanted_tracks)
    if role == "take":
        groups = []
        for body, members in sorted(_by_body(pieces).items(), key=lambda item: natural(item[0])):
            chains = [
                Chain(base=str(p.name.tail), pieces=(p,)) for p in sorted(members, key=lambda p: p.name.tail or 0)
            ]
            groups.append(Group(label=f"{label} {body}".strip(), chains=tuple(chains)))
        return groups
    chains = _continued(_chains(pieces, role))
    readable = [chain for chain in chains if chain.files]
    if len(readable) > 1 and all(chain.channels >= POLYPHONIC for chain in readable) and not _side_by_side(readable):
        return [found for chain in chains for found in split_recordings(f"{label} {chain.base}".strip(), [chain])]
    groups = split_recordings(label, chains)
    return [replace(found, notes=_doubts(found.chains, role)) for found in groups]


def _chains(pieces: list[Piece], role: str) -> list[Chain]:
    by_base: dict[str, dict[int, list[Piece]]] = defaultdict(lambda: defaultdict(list))
    for piece in pieces:
        name = piece.name
        part = name.part or 1
        if role == "part":
            part = (name.part or 0) * 1_000_000 + (1 if name.tail is None else name.tail)
        base = name.base if role == "track" else name.body
        by_base[base][part].append(replace(piece, part=part))
    chains = []
    for base in sorted(by_base, key=natural):
        parts = by_base[base]
        # Two files of one name (Kick.wav and Kick.flac) are rivals, not parts: a chain each.
        for rival in range(max(len(same) for same in parts.values())):
            row = tuple(parts[part][rival] for part in sorted(parts) if rival < len(parts[part]))
            chains.append(Chain(base=base, pieces=row))
    return chains


def _continued(chains: list[Chain]) -> list[Chain]:
    """Polyphonic files whose running number hangs on their name (REC0001, REC0002) and whose start times prove that
    each goes on exactly where the one before ends, made one chain."""
    out: list[Chain] = []
    for chain in chains:
        before = out[-1] if out else None
        if before is None or not _goes_on_exactly(before.pieces[-1], chain):
            out.append(chain)
            continue
        last = before.pieces[-1].part
        more = tuple(replace(piece, part=last + place) for place, piece in enumerate(chain.pieces, start=1))
        out[-1] = replace(before, pieces=before.pieces + more)
    return out


def _goes_on_exactly(before: Piece, chain: Chain) -> bool:
    after = chain.pieces[0]
    if before.file is None or after.file is None:
        return False
    if before.file.channels != after.file.channels or after.file.channels < POLYPHONIC:
        return False
    names = [_RUNNING.sub("", piece.path.stem) for piece in (before, after)]
    gap = gap_s(before.file, after.file)
    return names[0] == names[1] and gap is not None and abs(gap) <= SEAM_S


def _by_body(pieces: Sequence[Piece]) -> dict[str, list[Piece]]:
    bodies: dict[str, list[Piece]] = defaultdict(list)
    for piece in pieces:
        bodies[piece.name.body].append(piece)
    for members in bodies.values():
        members.sort(key=lambda piece: -1 if piece.name.tail is None else piece.name.tail)
    return bodies


def _role_of_tails(pieces: list[Piece], wanted_tracks: int) -> str:
    """What the numbers at the end of the names count: "track", "part", "pass" (all the same), or "take" (the number
    before it is the take's, the last one the track's)."""
    tailed = [piece for piece in pieces if piece.name.tail is not None]
    if not tailed or len(pieces) == 1 or any(_is_range(piece) for piece in tailed):
        return "track"
    bodies = _by_body(pieces)
    several = [members for members in bodies.values() if len(members) > 1]
    readable = [piece.file for piece in pieces if piece.file is not None]
    polyphonic = bool(readable) and all(file.channels >= POLYPHONIC for file in readable)
    proven = bool(several) and 2 * len(several) >= len(bodies) and all(follows(members) for members in several)
    if proven:
        return "part"
    if len(bodies) == 1:
        if not polyphonic:
            return "track"
        alike = len({file.frames for file in readable}) == 1
        return "track" if alike and wanted_tracks > readable[0].channels else "part"
    if not several:
        return "pass" if len(tailed) == len(pieces) and len({piece.name.tail for piece in pieces}) == 1 else "track"
    if polyphonic:
        return "part"
    if _numbered(list(bodies)):
        if all(body.isdigit() for body in bodies) and _take_comes_first(bodies):
            return "take"
        return "part" if len(tailed) == len(pieces) or 2 * len(several) >= len(bodies) else "track"
    if len(tailed) == len(pieces) and all(piece.name.digits >= 3 for piece in pieces):
        return "part"
    complete = len({frozenset(piece.name.tail for piece in members) for members in bodies.values()}) == 1
    uneven = len({file.frames for file in readable}) > 1
    return "part" if complete and uneven and all(piece.name.mark for piece in tailed) else "track"


def _is_range(piece: Piece) -> bool:
    """Whether the number at the end is the second of a range of tracks: "Keys 05-06" with two channels."""
    found = track_number(piece.name.base, "trailing")
    channels = piece.file.channels if piece.file else 1
    return found is not None and channels > 1 and found[1] - found[0] + 1 == channels


def _numbered(bodies: list[str]) -> bool:
    """Whether the names carry a track number besides the one at their end."""
    for way in ("word", "leading", "trailing"):
        numbers = [track_number(body, way) for body in bodies]
        if None not in numbers and len(set(numbers)) == len(numbers):
            return True
    return False


def _take_comes_first(bodies: dict[str, list[Piece]]) -> bool:
    """Of names with two bare numbers (1-07), whether the first is the take's. All tracks of a take, and all files of
    one part, are equally long: that tells which is which; else the number that has fewer values is the take's."""
    by_tail: dict[int | None, set[int]] = defaultdict(set)
    for members in bodies.values():
        for piece in members:
            by_tail[piece.name.tail].add(piece.frames)
    even_takes = all(len({piece.frames for piece in members}) == 1 for members in bodies.values())
    even_parts = all(len(lengths) == 1 for lengths in by_tail.values())
    if even_takes != even_parts:
        return even_takes
    return len(by_tail) > len(bodies)


def _side_by_side(chains: Sequence[Chain]) -> bool:
    """Whether polyphonic files with different names were recorded together (two links), not one after the other."""
    lengths = [chain.seconds for chain in chains]
    if max(lengths) - min(lengths) > ALIKE_S:
        return False
    starts = [chain.files[0].start_frame for chain in chains]
    rates = [chain.files[0].rate for chain in chains]
    known = [start / rate for start, rate in zip(starts, rates, strict=True) if start is not None]
    return len(known) < len(chains) or max(known) - min(known) <= max(lengths)


def _doubts(chains: Sequence[Chain], role: str) -> tuple[FileTrouble, ...]:
    """A note where files were joined, or kept apart, on the word of their names alone."""
    if role != "part" or _numbered([chain.base for chain in chains]):
        return ()
    unproven = []
    for chain in chains:
        if len(chain.pieces) > 1 and not follows(chain.pieces) and not _split_by_size(chain):
            unproven.append(chain)
    if not unproven:
        return ()
    names = [harmless(name) for name in unproven[0].file_names[:2]]
    return (
        FileTrouble(
            code="track-order",
            detail=f"{names[0]} and {names[1]} were joined as parts of one recording by their names; "
            "nothing in the files proves it.",
            files=tuple(harmless(name) for chain in unproven for name in chain.file_names),
        ),
    )


def _split_by_size(chain: Chain) -> bool:
    """Whether the parts look split by a recorder: all equally long but the last, which is no longer."""
    lengths = [piece.frames for piece in chain.pieces]
    return len(set(lengths[:-1])) == 1 and lengths[-1] <= lengths[0]


def _joined(groups: list[Group]) -> list[Group]:
    """Groups whose stamps differ, but that go on from each other without a gap, made one."""
    joined: list[Group] = []
    for found in groups:
        if joined and _goes_on(joined[-1], found):
            before = joined.pop()
            step = max(piece.part for chain in before.chains for piece in chain.pieces)
            later = {chain.base: chain for chain in found.chains}
            chains = []
            for chain in before.chains:
                more = tuple(replace(piece, part=piece.part + step) for piece in later[chain.base].pieces)
                chains.append(replace(chain, pieces=chain.pieces + more))
            found = replace(before, chains=tuple(chains), notes=before.notes + found.notes)
        joined.append(found)
    return joined


def _goes_on(before: Group, after: Group) -> bool:
    bases = [chain.base for chain in before.chains]
    if before.label == after.label or sorted(bases) != sorted(chain.base for chain in after.chains):
        return False
    if len(set(bases)) != len(bases) or not before.files or not after.files:
        return False
    later = {chain.base: chain for chain in after.chains}
    pairs = [
        Chain(base=chain.base, pieces=(replace(chain.pieces[-1], part=1), replace(later[chain.base].pieces[0], part=2)))
        for chain in before.chains
    ]
    if any(len({file.channels for file in pair.files}) > 1 for pair in pairs):
        return False
    gap = seam(pairs, 1, 2)
    if gap is not None:
        return abs(gap) <= SEAM_S
    first, second = stamp_time(before.chains[0].pieces[-1].name.label), stamp_time(after.label)
    if first is None or second is None:
        return False
    last_part = max(chain.pieces[-1].frames / chain.files[-1].rate for chain in before.chains if chain.files)
    return last_part > 2 * STAMP_S and abs(second - first - last_part) <= STAMP_S
