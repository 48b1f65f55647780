"""What the names of a take's files say: which take, which track, which part of it.

Recorders and editors build names from a few pieces in many orders: a stamp of date and time, "take 2", the track's
number and name, and, where a recording is split, a running number at the end. The pieces are only taken apart here;
`group` and `number` decide what the numbers mean, from all files together.
"""

from __future__ import annotations

import datetime
import re
from dataclasses import dataclass
from pathlib import Path

_SEPARATORS = " _-.,"
_STAMP = re.compile(
    r"(?<!\d)(?:(?:19|20)\d\d)(?P<s>[-_.]?)(?:0[1-9]|1[0-2])(?P=s)(?:0[1-9]|[12]\d|3[01])"
    r"(?:[-_ T.]*(?:[01]\d|2[0-3])[-_.:h]?[0-5]\d(?:[-_.:m]?[0-5]\d)?)?(?!\d)"
    r"|(?<!\d)\d{6}[-_]\d{4}(?:\d\d)?(?!\d)"
)
_TAKE = re.compile(r"(?<![a-z])(?:take|pass)[ _.#-]*(\d{1,6})(?!\d)", re.IGNORECASE)
_PART = re.compile(r"(?<![a-z])(?:part|pt|segment|seg|split)[ _.#-]*(\d{1,6})(?!\d)", re.IGNORECASE)
_TAIL = re.compile(r"(?P<body>.*\S)(?P<mark>\s*[_.-]\s*|\s+|\s*\()(?P<tail>\d{1,6})\)?", re.DOTALL)
_TRACK_WORD = re.compile(
    r"(?<![a-z])(?:track|trk|tr|channel|chan|ch|audio|input|in|slot)[ _.#-]*(\d{1,4})(?!\d)"
    r"(?:\s*[-+&]\s*(\d{1,4})(?!\d))?",
    re.IGNORECASE,
)
_LEADING = re.compile(r"(\d{1,4})(?!\d)(?:\s*[-+&]\s*(\d{1,4})(?![\da-z]))?", re.IGNORECASE)
_TRAILING = re.compile(r"(?<!\d)(\d{1,4})(?:\s*[-+&]\s*(\d{1,4}))?$")
_DIGITS = re.compile(r"(\d+)")


@dataclass(frozen=True, kw_only=True)
class Name:
    """A file's name taken apart.

    `label` says which take (stamp and take words, "" if none); `base` is the rest, without an explicit part number
    (`part`). Where `base` ends in a separator and a number, `body` is what stands before it and `tail` the number
    (`digits` long, after `mark`); else `body` is `base` and `tail` None.
    """

    label: str
    base: str
    part: int | None
    body: str
    tail: int | None
    digits: int
    mark: str


def take_apart(path: Path) -> Name:
    """The pieces of a file's name."""
    stem, label, part = path.stem, [], None
    found = _STAMP.search(stem)
    if found:
        label.append(found.group(0))
        stem = _without(stem, found)
    found = _TAKE.search(stem)
    if found:
        label.append(found.group(0))
        stem = _without(stem, found)
    found = _PART.search(stem)
    if found:
        part = int(found.group(1))
        stem = _without(stem, found)
    base = stem.strip(_SEPARATORS)
    tail = _TAIL.fullmatch(base)
    if tail is None or not tail["body"].strip(_SEPARATORS):
        return Name(label=" ".join(label), base=base, part=part, body=base, tail=None, digits=0, mark="")
    return Name(
        label=" ".join(label),
        base=base,
        part=part,
        body=tail["body"].strip(_SEPARATORS),
        tail=int(tail["tail"]),
        digits=len(tail["tail"]),
        mark=tail["mark"].strip(),
    )


def track_number(text: str, way: str) -> tuple[int, int] | None:
    """The track number in a name as (first, last), read in one `way`: "word" (after track, ch, ...), "leading" or
    "trailing". A range such as 05-06 gives both ends, a single number twice the same."""
    if way == "word":
        found = _TRACK_WORD.search(text)
    elif way == "leading":
        found = _LEADING.match(text)
    else:
        found = _TRAILING.search(text)
    if found is None:
        return None
    first = int(found.group(1))
    last = int(found.group(2)) if found.group(2) else first
    if last < first:  # two numbers, no range: the outer one of the name counts
        first = last = last if way == "trailing" else first
    return first, last


def spoken(text: str) -> str:
    """The name without the number that orders it, where words remain: "07 Snare top" is Snare top."""
    for pattern in (_LEADING, _TRACK_WORD):
        found = pattern.match(text)
        if found:
            rest = text[found.end() :].strip(_SEPARATORS)
            if any(character.isalpha() for character in rest) and text[found.end()] in _SEPARATORS:
                return rest
    return text


def stamp_time(label: str) -> float | None:
    """Seconds on a calendar of a stamp with date and time, comparable with other stamps; None if it is not whole."""
    found = _STAMP.search(label)
    digits = "".join(_DIGITS.findall(found.group(0))) if found else ""
    if len(digits) != 14:
        return None
    try:
        return datetime.datetime.strptime(digits, "%Y%m%d%H%M%S").replace(tzinfo=datetime.UTC).timestamp()
    except ValueError:
        return None


def natural(text: str) -> tuple[tuple[int, int, str], ...]:
    """A sort key by which "Track 2" comes before "Track 10", whatever the case of its letters."""
    pieces = _DIGITS.split(text)
    key = tuple((0, int(piece), "") if i % 2 else (1, 0, piece.casefold()) for i, piece in enumerate(pieces) if piece)
    return key + ((2, 0, text),)


def _without(stem: str, found: re.Match[str]) -> str:
    """The stem without a piece; what stood on both sides of it stays apart."""
    before, after = stem[: found.start()].rstrip(_SEPARATORS), stem[found.end() :].lstrip(_SEPARATORS)
    return f"{before} {after}" if before and after else before + after
