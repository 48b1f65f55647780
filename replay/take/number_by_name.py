"""Track numbers from the names of a take's files, or from the order of the names; what is a guess is told in a note."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence

from replay.take.chains import Chain
from replay.take.group import POLYPHONIC
from replay.take.model import FileTrouble
from replay.take.names import natural, track_number
from replay.text import harmless, ranges

HIGHEST = 1024
WAYS = ("word", "leading", "trailing")
_WHERE = {"word": "behind the word for a track", "leading": "at the beginning", "trailing": "at the end"}


def by_name(
    chains: Sequence[Chain], rest: list[int], taken: set[int], wanted_tracks: int
) -> tuple[dict[int, tuple[int, ...]], list[FileTrouble]]:
    """Numbers for the chains `rest`, by the one way of writing them that fits most names, else by the names' order; and
    what is to be told of it. `taken` are numbers that other chains have."""
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
        notes.append(told("The files are numbered from 0: 0 was taken as track 1, and so on.", chains, list(found), {}))
    for other, numbers in read.items():
        first_of = {i: pair[0] for i, pair in read[way].items()}
        other_of = {i: pair[0] for i, pair in numbers.items()}
        if other != way and first_of != other_of and sorted(first_of.values()) == sorted(other_of.values()):
            example = chains[next(i for i in first_of if first_of[i] != other_of[i])]
            text = f"The names carry two numbers, as in {file_of(example)}: "
            text += f"the one {_WHERE[way]} was taken as the track's."
            notes.append(told(text, chains, list(found), {}))
    given = _spread(chains, found)
    if given is None:
        order = sorted(found, key=lambda i: found[i][0])
        given = _moved_up(chains, order, found)
        text = "The numbers in the names count files, and some files hold two tracks: those behind were moved up."
        notes.append(told(text, chains, order, given))
    left = sorted((i for i in rest if i not in given), key=lambda i: natural(chains[i].base))
    if left:
        start = max((number for numbers in given.values() for number in numbers), default=0)
        more, _ = _in_order(chains, left, set(range(1, start + 1)) | taken)
        given = given | more
        names = ", ".join(f"{file_of(chains[i])} as {ranges(more[i])}" for i in left[:4])
        names += f" and {len(left) - 4} more" if len(left) > 4 else ""
        notes.append(
            told(f"No track number in every name: {names} were numbered on behind the others.", chains, left, more)
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
    text += (
        f"from {file_of(chains[first])} as {ranges(given[first])} to {file_of(chains[last])} as {ranges(given[last])}."
    )
    return given, [told(text, chains, rest, given)]


def told(text: str, chains: Sequence[Chain], which: Sequence[int], given: Mapping[int, tuple[int, ...]]) -> FileTrouble:
    """A note on how the chains `which` were numbered."""
    tracks = tuple(number for i in which for number in given.get(i, ()))
    return FileTrouble(
        code="track-order",
        detail=text,
        files=tuple(harmless(name) for i in which for name in chains[i].file_names),
        tracks=tuple(sorted(tracks)),
    )


def file_of(chain: Chain) -> str:
    """The chain's first file, as it is shown."""
    return harmless(chain.file_names[0], 60)
