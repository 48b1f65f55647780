"""Track names against the input list, with the trade's abbreviations. Pure.

Both names are read in the same way: the kind that they tell (`patch.kinds`), the words that say which one of that kind,
and what tells twins apart: number, side, top or bottom, in or out, DI or microphone. A score is 1 for the same name
and falls to 0 for another kind of source. Names that say nothing ('Track 07', 'Audio 12_3') give flat rows, and
so do all of them where they belong to another show. Names alone never confirm a channel.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache

import numpy as np

from replay.patch.kinds import kind_from_name, trade_words, words_of

FLAT = 0.5
"""The score of a name that says nothing: neither for nor against."""

NAMED = 0.75
"""A name with this score or more fits its channel."""

_EMPTY = (
    "track trk tr audio channel chan ch input in slot mono stereo wav rec recording take file untitled new aud "
    "multitrack multi bounce region poly part seg evening soundcheck sc line check show"
)
_EMPTY_WORDS = frozenset(_EMPTY.split())
_SIDES = {"l": "l", "left": "l", "lt": "l", "lft": "l", "r": "r", "right": "r", "rt": "r", "rgt": "r"}
_ENDS = {"top": "top", "tp": "top", "bottom": "bottom", "btm": "bottom", "bot": "bottom", "bt": "bottom"}
_ENDS |= {"under": "bottom", "over": "top"}
_DEPTHS = {"in": "in", "inside": "in", "inn": "in", "out": "out", "outside": "out"}
_WAYS = {"di": "di", "mic": "mic", "mike": "mic", "amp": "mic", "cab": "mic", "line": "di"}
_HEIGHTS = {"hi": "hi", "high": "hi", "upper": "hi", "mid": "mid", "low": "lo", "lo": "lo", "floor": "lo", "flr": "lo"}
_HEIGHTS |= {"rack": "hi"}
_ROLES = {"lead": "lead", "ld": "lead", "main": "lead"}
_MARKS = (_SIDES, _ENDS, _DEPTHS, _WAYS, _HEIGHTS, _ROLES)
SIDES, WAYS = 0, 3
"""Which of a reading's marks is the side (l or r), and which the way in (di or mic)."""

# "In" and "line" are also empty words, "rack" and "floor" also toms: what marks a twin is read first.

MARK_DIFFERS = 0.3
MARK_MISSING = 0.85
OTHER_SHOW_SHARE = 0.35
"""Names of which fewer fit any channel belong to another show (common practice, no source)."""
FITS = 0.6
LEAST_NAMES = 4


@dataclass(frozen=True)
class Reading:
    """A name as it is understood. `kind` is "other" where it tells none; `words` are those that tell more; `marks` what
    tells twins apart, as (what, value)."""

    kind: str
    words: tuple[str, ...]
    marks: tuple[tuple[int, str], ...]
    numbers: tuple[str, ...]

    @property
    def says_something(self) -> bool:
        return self.kind != "other" or bool(self.words)


@dataclass(frozen=True)
class NameScores:
    """How well names fit. `scores[i, j]` (0 to 1) of track `tracks[i]` against channel `channels[j]`; rows of names
    that say nothing are FLAT. `informative` are the tracks whose names say something. `other_show` is true where
    they say something and fit no channel of this list; then all rows are flat."""

    tracks: tuple[int, ...]
    channels: tuple[int, ...]
    scores: np.ndarray
    informative: frozenset[int]
    other_show: bool = False

    def score(self, track: int, channel: int) -> float:
        row, column = self._rows.get(track), self._columns.get(channel)
        return FLAT if row is None or column is None else float(self.scores[row, column])

    @cached_property
    def _rows(self) -> dict[int, int]:
        return {track: row for row, track in enumerate(self.tracks)}

    @cached_property
    def _columns(self) -> dict[int, int]:
        return {channel: column for column, channel in enumerate(self.channels)}


@lru_cache(maxsize=4096)
def read_name(name: str) -> Reading:
    """Take a name apart.

    >>> read_name("07 Snr Btm").kind, read_name("Track 07").says_something
    ('snare', False)
    """
    kind = kind_from_name(name)
    marks: dict[int, str] = {}
    numbers: list[str] = []
    words: list[str] = []
    found = words_of(name, keep_sides=True)
    if found and found[0].isdigit() and len(found) > 1:
        # A number in front orders the list; it does not name a twin.
        found = found[1:]
    for place, word in enumerate(found):
        if word.isdigit():
            numbers.append(word.lstrip("0") or "0")
            continue
        for what, values in enumerate(_MARKS):
            # "In" alone means nothing, behind a kick it is the inner microphone.
            if word in values and not (word in ("in", "line") and (place == 0 or kind == "other")):
                marks.setdefault(what, values[word])
                break
        else:
            if word not in _EMPTY_WORDS:
                words.append(word)
    if kind == "tom" and "tom" not in words:
        words.append("tom")
    return Reading(kind, tuple(words), tuple(sorted(marks.items())), tuple(numbers))


def score_names(tracks: Sequence[tuple[int, Sequence[str]]], channels: Sequence[tuple[int, str, str]]) -> NameScores:
    """Score every track's names against every channel.

    Parameters
    ----------
    tracks : (number, names), the best name first (metadata, then the file's)
    channels : (number, name, kind as the input list has it)
    """
    numbers = tuple(number for number, _ in tracks)
    wanted = [(read_name(name), kind, name) for _, name, kind in channels]
    common = _names_of_all([names for _, names in tracks])
    scores = np.full((len(tracks), len(channels)), FLAT)
    informative = set()
    shared = _words_of_all([names for _, names in tracks])
    for row, (number, names) in enumerate(tracks):
        told = [name for name in names if name not in common and _without(read_name(name), shared).says_something]
        if not told:
            continue
        informative.add(number)
        for column, (reading, kind, name) in enumerate(wanted):
            scores[row, column] = max(
                _score(_without(read_name(one), shared), one, reading, name, kind) for one in told
            )
    other = _belongs_elsewhere(scores, [row for row, number in enumerate(numbers) if number in informative])
    if other:
        scores[:] = FLAT
    return NameScores(numbers, tuple(number for number, _, _ in channels), scores, frozenset(informative), other)


def _names_of_all(names: Sequence[Sequence[str]]) -> frozenset[str]:
    """A name that several tracks bear is the take's, not a source's."""
    seen: dict[str, int] = {}
    for some in names:
        for name in set(some):
            seen[name] = seen.get(name, 0) + 1
    return frozenset(name for name, count in seen.items() if count > 1)


def _words_of_all(names: Sequence[Sequence[str]]) -> frozenset[str]:
    """Words in the names of all tracks that are no source ('STAGE_01', 'Friday kick'): the recorder's, the take's."""
    if len(names) < LEAST_NAMES:
        return frozenset()
    said = [{word for name in some for word in read_name(name).words} for some in names]
    return frozenset(word for word in set.intersection(*said) if kind_from_name(word) == "other")


def _without(reading: Reading, words: frozenset[str]) -> Reading:
    if words.isdisjoint(reading.words):
        return reading
    return replace(reading, words=tuple(word for word in reading.words if word not in words))


def _belongs_elsewhere(scores: np.ndarray, rows: list[int]) -> bool:
    if len(rows) < LEAST_NAMES or scores.shape[1] == 0:
        return False
    told = scores[rows]
    # Each channel can be claimed once, by the name that fits it best.
    claimed = sum(1 for column in range(told.shape[1]) if told[:, column].max() >= FITS)
    return min(claimed, int((told.max(axis=1) >= FITS).sum())) < OTHER_SHOW_SHARE * len(rows)


@lru_cache(maxsize=65536)
def _score(a: Reading, name_a: str, b: Reading, name_b: str, kind: str) -> float:
    if _plain(name_a) == _plain(name_b):
        return 1.0
    base = _base(a, b, kind)
    if base == 0.0:
        return 0.0
    marks_a, marks_b = dict(a.marks), dict(b.marks)
    for what in marks_a.keys() | marks_b.keys():
        if what in marks_a and what in marks_b:
            base *= 1.0 if marks_a[what] == marks_b[what] else MARK_DIFFERS
        else:
            base *= MARK_MISSING
    if a.numbers or b.numbers:
        if a.numbers and b.numbers:
            base *= 1.0 if a.numbers[-1] == b.numbers[-1] else MARK_DIFFERS
        else:
            base *= MARK_MISSING
    return base


@lru_cache(maxsize=4096)
def _plain(name: str) -> str:
    return " ".join(words_of(name, keep_sides=True))


def _base(a: Reading, b: Reading, kind: str) -> float:
    """How alike two readings are without what tells twins apart."""
    kinds = {b.kind, kind} - {"other"}
    if a.kind != "other" and kinds:
        if a.kind not in kinds:
            # Lead and backing voices, and the like, are one word apart.
            return 0.35 if {a.kind, *kinds} <= {"vocal", "backing", "speech", "choir"} else 0.0
        if a.words == b.words or not a.words or not b.words:
            return 0.95
        return 0.55 + 0.4 * _words_alike(a.words, b.words, a.kind)
    if not a.words or not b.words:
        return 0.0
    return _words_alike(a.words, b.words, "other")


def _words_alike(a: Sequence[str], b: Sequence[str], kind: str) -> float:
    """0 to 1: the mean, over the shorter name's words, of the best likeness with one of the other's."""
    short, long = sorted((a, b), key=len)
    return sum(max(_word_alike(word, other, kind) for other in long) for word in short) / len(short)


# Kinds whose words all mean one thing: "vox" is "voice" whatever the letters.
_SAME = "kick snare tom hi-hat overhead bass guitar vocal backing speech click timecode talkback playback ambience"
_ONE_THING = frozenset(_SAME.split())


def _word_alike(a: str, b: str, kind: str) -> float:
    if a == b:
        return 1.0
    known = trade_words(kind)
    if a in known and b in known and (kind in _ONE_THING or _abbreviates(a, b) or _abbreviates(b, a)):
        return 0.95
    if _abbreviates(a, b) or _abbreviates(b, a):
        return 0.8
    if min(len(a), len(b)) < 3:
        return 0.0
    from rapidfuzz.distance import JaroWinkler

    likeness = JaroWinkler.similarity(a, b)
    return likeness if likeness > 0.85 else 0.0


def _abbreviates(short: str, long: str) -> bool:
    """Whether the letters of `short` stand in `long` in this order, the first one first."""
    if len(short) < 2 or len(short) >= len(long) or short[0] != long[0]:
        return False
    # One look at every letter: as a pattern, a long name of one letter again and again would never be done with.
    letters = iter(long)
    return all(letter in letters for letter in short)
