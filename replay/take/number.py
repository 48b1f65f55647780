"""Track numbers for the chains of a take: from the patch's table, the files' metadata, their names, or their order.

Each way is used only where it fits all files; what remains a guess is told in a `track-order` note, and two chains
that claim one track in a `track-clash`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from replay.take.chains import Chain
from replay.take.model import FileTrouble
from replay.take.names import natural, track_number
from replay.take.number_by_name import HIGHEST, by_name, file_of, told
from replay.text import ranges


@dataclass(frozen=True, kw_only=True)
class Numbered:
    """`numbers[i]` are the track numbers of chain i's channels (empty: none could be given); `kept[i]` is False where
    another chain holds them."""

    numbers: tuple[tuple[int, ...], ...]
    kept: tuple[bool, ...]
    troubles: tuple[FileTrouble, ...]


def number(chains: Sequence[Chain], placed: Mapping[str, int], wanted_tracks: int) -> Numbered:
    """Give every chain its track numbers. `placed` maps file names to the first track of the file."""
    troubles: list[FileTrouble] = []
    given: dict[int, tuple[int, ...]] = {}
    for i, chain in enumerate(chains):
        first = _placed(chain, placed)
        if first is not None:
            given[i] = tuple(range(first, first + chain.channels))
    rest = [i for i in range(len(chains)) if i not in given]
    taken = {number for numbers in given.values() for number in numbers}
    by_metadata = _by_metadata(chains, rest, taken)
    if by_metadata is not None:
        given.update(by_metadata)
        troubles.extend(_contradicted(chains, by_metadata))
        for i in rest:
            if i not in given:
                given[i] = _free_number(chains[i], given)
    elif rest:
        found, notes = by_name(chains, rest, taken, wanted_tracks)
        given.update(found)
        troubles.extend(notes)
        pairs = [i for i in rest if chains[i].files and chains[i].channels == 2]
        if pairs and len(chains) > 1:
            troubles.append(_pairstold(chains, pairs, given))
    kept, clashes = _clashes(chains, given)
    return Numbered(
        numbers=tuple(given[i] for i in range(len(chains))), kept=kept, troubles=tuple(troubles) + tuple(clashes)
    )


def _placed(chain: Chain, placed: Mapping[str, int]) -> int | None:
    if not placed:
        return None
    folded = {name.casefold(): number for name, number in placed.items()}
    for piece in chain.pieces:
        for name in (piece.path.name, piece.path.stem):
            found = placed.get(name, folded.get(name.casefold()))
            if found is not None:
                return found
    return None


def _by_metadata(chains: Sequence[Chain], rest: list[int], taken: set[int]) -> dict[int, tuple[int, ...]] | None:
    """The recorder's own numbers, if every readable file has one for each channel and no two are the same."""
    found: dict[int, tuple[int, ...]] = {}
    for i in rest:
        if not chains[i].files:
            continue
        numbers = chains[i].files[0].numbers
        if None in numbers:
            return None
        found[i] = tuple(number for number in numbers if number is not None)
    flat = [number for numbers in found.values() for number in numbers]
    if not flat or len(set(flat)) != len(flat) or taken & set(flat):
        return None
    return found


def _contradicted(chains: Sequence[Chain], given: Mapping[int, tuple[int, ...]]) -> list[FileTrouble]:
    """A note where the names carry complete track numbers that differ from those of the metadata."""
    for way in ("word", "leading"):
        named = {i: track_number(chains[i].base, way) for i in given if chains[i].channels == 1}
        firsts = [found[0] for found in named.values() if found is not None]
        if len(firsts) < len(given) or len(set(firsts)) < len(firsts):
            continue
        odd = [i for i, found in named.items() if found is not None and found[0] != given[i][0]]
        if odd:
            i = odd[0]
            text = f"its metadata says track {given[i][0]}, its name says otherwise; the metadata was followed"
            more = f", as in {len(odd) - 1} more files" if len(odd) > 1 else ""
            return [told(f"{file_of(chains[i])}: {text}{more}.", chains, odd, given)]
    return []


def _free_number(chain: Chain, given: Mapping[int, tuple[int, ...]]) -> tuple[int, ...]:
    """The number in an unreadable file's name, where no other chain has it."""
    taken = {number for numbers in given.values() for number in numbers}
    for way in ("word", "leading"):
        found = track_number(chain.base, way)
        if found is not None and 1 <= found[0] <= HIGHEST and found[0] not in taken:
            return (found[0],)
    return ()


def _pairstold(chains: Sequence[Chain], pairs: list[int], given: Mapping[int, tuple[int, ...]]) -> FileTrouble:
    shown = ", ".join(f"{file_of(chains[i])} as {ranges(given[i])}" for i in pairs[:4])
    shown += f" and {len(pairs) - 4} more" if len(pairs) > 4 else ""
    return told(f"Files with two channels were taken as two tracks each: {shown}.", chains, pairs, given)


def _clashes(
    chains: Sequence[Chain], given: Mapping[int, tuple[int, ...]]
) -> tuple[tuple[bool, ...], list[FileTrouble]]:
    """Which chains keep their numbers: of two on one track the longer, of two equally long the first by name."""
    owner: dict[int, int] = {}
    kept = [True] * len(chains)
    clashes = []
    for i in sorted(given, key=lambda i: (-chains[i].frames, natural(chains[i].base), i)):
        rival = next((owner[number] for number in given[i] if number in owner), None)
        if rival is None:
            owner.update(dict.fromkeys(given[i], i))
            continue
        kept[i] = False
        first, second = file_of(chains[rival]), file_of(chains[i])
        why = "is longer" if chains[rival].frames > chains[i].frames else "comes first"
        shared = sorted(set(given[i]) & set(given[rival]))
        text = f"{first} and {second} both claim track {ranges(shared)}: {first} was kept, it {why}."
        clashes.append(FileTrouble(code="track-clash", detail=text, files=(first, second), tracks=tuple(shared)))
    clashes.sort(key=lambda clash: clash.tracks)
    return tuple(kept), clashes
