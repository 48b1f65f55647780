"""Track numbers for the chains of a take: from the patch's table, the files' metadata, their names, or their order.

Each way is used only where it fits all files; what remains a guess is told in a `track-order` note, and two chains
that claim one track in a `track-clash`.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from replay.take.chains import Chain
from replay.take.group import POLYPHONIC
from replay.take.model import FileTrouble
from replay.take.names import natural, track_number
from replay.text import harmless, ranges

HIGHEST = 1024
WAYS = ("word", "leading", "trailing")
_WHERE = {"word": "behind the word for a track", "leading": "at the beginning", "trailing": "at the end"}


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
        by_name, notes = _by_name(chains, rest, taken, wanted_tracks)
        given.update(by_name)
        troubles.extend(notes)
        pairs = [i for i in rest if chains[i].files and chains[i].channels == 2]
        if pairs and len(chains) > 1:
            troubles.append(_pairs_told(chains, pairs, given))
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
            return [_told(f"{_file(chains[i])}: {text}{more}.", chains, odd, given)]
    return []


def _by_name(
    chains: Sequence[Chain], rest: list[int], taken: set[int], wanted_tracks: int
) -> tuple[dict[int, tuple[int, ...]], list[FileTrouble]]:
    notes: list[FileTrouble] = []
    way, found = None, {}
    read = {}
    for candidate in WAYS:
        numbers = _read(chains, rest, candidate, wanted_tracks)
        if numbers:
            read[candidate] = numbers
            if way is None:
                way, found = candidate, numbers
    if way is None:
        return _in_order(chains, rest, taken)
    if way != "trailing":  # names built in another way among them (TRK09 beside 07 Snare, Keys 07-08)
        for i in rest:
            if i not in found and (other_way := _clear_number(chains[i])):
                found[i] = other_way
    if min(first for first, _ in found.values()) == 0:
        found = {i: (first + 1, last + 1) for i, (first, last) in found.items()}
        notes.append(
            _told("The files are numbered from 0: 0 was taken as track 1, and so on.", chains, list(found), {})
        )
    for other, numbers in read.items():
        first_of = {i: pair[0] for i, pair in read[way].items()}
        other_of = {i: pair[0] for i, pair in numbers.items()}
        if other != way and first_of != other_of and sorted(first_of.values()) == sorted(other_of.values()):
            example = chains[next(i for i in first_of if first_of[i] != other_of[i])]
            text = (
                f"The names carry two numbers, as in {_file(example)}: the one {_WHERE[way]} was taken as the track's."
            )
            notes.append(_told(text, chains, list(found), {}))
    given = _spread(chains, found)
    if given is None:
        order = sorted(found, key=lambda i: found[i][0])
        given = _moved_up(chains, order, found)
        text = "The numbers in the names count files, and some files hold two tracks: those behind were moved up."
        notes.append(_told(text, chains, order, given))
    left = sorted((i for i in rest if i not in given), key=lambda i: natural(chains[i].base))
    if left:
        start = max((number for numbers in given.values() for number in numbers), default=0)
        more, _ = _in_order(chains, left, set(range(1, start + 1)) | taken)
        given = given | more
        names = ", ".join(f"{_file(chains[i])} as {ranges(more[i])}" for i in left[:4])
        names += f" and {len(left) - 4} more" if len(left) > 4 else ""
        notes.append(
            _told(f"No track number in every name: {names} were numbered on behind the others.", chains, left, more)
        )
    return given, notes


def _read(chains: Sequence[Chain], rest: list[int], way: str, wanted_tracks: int) -> dict[int, tuple[int, int]]:
    """Numbers read from the names in one way, as (first, last); empty where that way does not fit these files."""
    found: dict[int, tuple[int, int]] = {}
    for i in rest:
        numbers = track_number(chains[i].base, way)
        if numbers is None or numbers[0] > HIGHEST:
            continue
        first, last = numbers
        if last - first + 1 == chains[i].channels:
            found[i] = (first, last)
        elif chains[i].channels < POLYPHONIC:
            first = last if way == "trailing" else first
            found[i] = (first, first + chains[i].channels - 1)
    distinct = len({first for first, _ in found.values()})
    if not found or 2 * len(found) < len(rest):
        return {}
    if way == "trailing":
        return found if _trailing_fits(chains, rest, found, distinct, wanted_tracks) else {}
    return found if 2 * distinct >= len(found) else {}


def _trailing_fits(
    chains: Sequence[Chain], rest: list[int], found: Mapping[int, tuple[int, int]], distinct: int, wanted_tracks: int
) -> bool:
    """Whether numbers at the end count tracks. They often mean something else (Kick 52 after a microphone, Vox 1 after
    the singer), unless they are all in which the names differ."""
    if len(rest) == 1:
        return all(last > first for first, last in found.values())
    if len(found) < len(rest):
        return False
    if len({chain.pieces[0].name.body for chain in chains}) == 1:
        return distinct == len(found)
    highest = max(last for _, last in found.values())
    return highest <= max(2 * len(rest), wanted_tracks) and 4 * distinct >= 3 * len(found)


def _clear_number(chain: Chain) -> tuple[int, int] | None:
    """A number that means a track whatever the other names look like: behind a word for it, at the beginning, or a
    range that has as many numbers as the file has channels."""
    for way in WAYS:
        found = track_number(chain.base, way)
        if found is None or not 1 <= found[0] <= HIGHEST:
            continue
        if found[1] > found[0] and found[1] - found[0] + 1 == chain.channels:
            return found
        if way != "trailing" and chain.channels < POLYPHONIC:
            return (found[0], found[0] + chain.channels - 1)
    return None


def _spread(chains: Sequence[Chain], found: Mapping[int, tuple[int, int]]) -> dict[int, tuple[int, ...]] | None:
    """All track numbers of every chain; None where a second channel lands on the number of another file."""
    firsts = Counter(first for first, _ in found.values())
    for i, (first, last) in found.items():
        if chains[i].channels > 1 and any(number in firsts for number in range(first + 1, last + 1)):
            return None
    return {i: tuple(range(first, last + 1)) for i, (first, last) in found.items()}


def _moved_up(
    chains: Sequence[Chain], order: Sequence[int], found: Mapping[int, tuple[int, int]]
) -> dict[int, tuple[int, ...]]:
    """Numbers of files turned into numbers of tracks: every second channel moves what follows up by one."""
    given: dict[int, tuple[int, ...]] = {}
    moved = 0
    for i in order:
        first = found[i][0] + moved
        given[i] = tuple(range(first, first + chains[i].channels))
        moved += chains[i].channels - 1
    return given


def _in_order(
    chains: Sequence[Chain], rest: Sequence[int], taken: set[int]
) -> tuple[dict[int, tuple[int, ...]], list[FileTrouble]]:
    """Numbers counted on from the first free one, in the order of `rest`."""
    given: dict[int, tuple[int, ...]] = {}
    used, following = set(taken), 1
    for i in rest:
        while any(number in used for number in range(following, following + chains[i].channels)):
            following += 1
        given[i] = tuple(range(following, following + chains[i].channels))
        following += chains[i].channels
    if len(rest) < 2:
        return given, []
    first, last = rest[0], rest[-1]
    text = "No track numbers in the files' names or metadata: they were numbered in the order of their names, "
    text += f"from {_file(chains[first])} as {ranges(given[first])} to {_file(chains[last])} as {ranges(given[last])}."
    return given, [_told(text, chains, rest, given)]


def _free_number(chain: Chain, given: Mapping[int, tuple[int, ...]]) -> tuple[int, ...]:
    """The number in an unreadable file's name, where no other chain has it."""
    taken = {number for numbers in given.values() for number in numbers}
    for way in ("word", "leading"):
        found = track_number(chain.base, way)
        if found is not None and 1 <= found[0] <= HIGHEST and found[0] not in taken:
            return (found[0],)
    return ()


def _pairs_told(chains: Sequence[Chain], pairs: list[int], given: Mapping[int, tuple[int, ...]]) -> FileTrouble:
    shown = ", ".join(f"{_file(chains[i])} as {ranges(given[i])}" for i in pairs[:4])
    shown += f" and {len(pairs) - 4} more" if len(pairs) > 4 else ""
    return _told(f"Files with two channels were taken as two tracks each: {shown}.", chains, pairs, given)


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
        first, second = _file(chains[rival]), _file(chains[i])
        why = "is longer" if chains[rival].frames > chains[i].frames else "comes first"
        shared = sorted(set(given[i]) & set(given[rival]))
        text = f"{first} and {second} both claim track {ranges(shared)}: {first} was kept, it {why}."
        clashes.append(FileTrouble(code="track-clash", detail=text, files=(first, second), tracks=tuple(shared)))
    clashes.sort(key=lambda clash: clash.tracks)
    return tuple(kept), clashes


def _told(
    text: str, chains: Sequence[Chain], which: Sequence[int], given: Mapping[int, tuple[int, ...]]
) -> FileTrouble:
    tracks = tuple(number for i in which for number in given.get(i, ()))
    return FileTrouble(
        code="track-order",
        detail=text,
        files=tuple(harmless(name) for i in which for name in chains[i].file_names),
        tracks=tuple(sorted(tracks)),
    )


def _file(chain: Chain) -> str:
    return harmless(chain.file_names[0], 60)
