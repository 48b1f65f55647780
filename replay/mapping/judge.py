"""From a patch and the evidence to a status for every channel, and to what is misplaced. Pure."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from replay.evidence.model import Evidence
from replay.mapping.content import best_family, fit, fits
from replay.mapping.model import ChannelMapping, MappingResult, Misplacement
from replay.mapping.names import FLAT, NameScores, score_names
from replay.mapping.weigh import Places, Weighing
from replay.patch.model import Channel, Patch
from replay.patch.routes import Routes

NAME_WEIGHT = 4.0
SILENT_MUST = -2.5
SOUND_ON_SPARE = -1.0
SOUND_ON_NOTHING = -2.5
GROSS = -6.0
"""A sound that fits its channel's kind so badly, and nothing else explains it, is told as unlikely."""

SAME_AS = 3.0
"""Two channels whose sounds could be exchanged for less (log odds) cannot be told apart by sound."""
NAMED = 0.75
_PAIR_WEIGHTS = {"stereo": 1.0, "one-source": 1.0, "spaced": 0.5}


def judge(patch: Patch, routes: Routes, names: Mapping[int, Sequence[str]], evidence: Evidence) -> MappingResult:
    """Weigh the patch against the evidence.

    Parameters
    ----------
    names : track number -> its names, the best first
    """
    scores = score_names(
        [(track, tuple(names.get(track, ()))) for track in evidence.tracks],
        [(channel.number, channel.name, channel.kind) for channel in patch.channels],
    )
    places, channels = _places(patch, routes, evidence, scores)
    if not places.channels:
        return MappingResult(judged=True)
    weighing = Weighing(places)
    misplaced = weighing.told()
    proven = [one for one in misplaced if _beyond_names(one)]
    by_names = [one for one in misplaced if not _beyond_names(one)]
    taken = {number for one in proven for number in one.channels}
    statuses = _Statuses(places, channels, evidence, scores, weighing, proven)
    return MappingResult(
        channels={channel.number: statuses.of(place, channel) for place, channel in channels.items()},
        misplaced=tuple(proven),
        by_names=tuple(by_names),
        line_check=statuses.line_check_sentence(),
        names=_names_sentence(scores, len(evidence.tracks)),
        misnamed=tuple(_misnamed(places, channels, scores, misplaced)),
        unlikely={
            channel.number: best_family(statuses.fits[place])
            for place, channel in channels.items()
            if channel.number not in taken and statuses.is_gross(place, channel)
        },
        judged=True,
    )


def _beyond_names(one: Misplacement) -> bool:
    """Whether something that was heard speaks for it, and not the names alone."""
    return any(kind != "names" for kind in one.agreeing)


def _places(patch: Patch, routes: Routes, evidence: Evidence, scores: NameScores) -> tuple[Places, dict[int, Channel]]:
    """The recorded slots in order, with matrices of evidence; and the channel of each place."""
    tracks = set(evidence.tracks)
    slots = sorted(
        (slot for slot in routes.sources if routes.track_of(slot) in tracks), key=lambda slot: routes.track_of(slot)
    )
    numbers = [routes.track_of(slot) for slot in slots]
    channels: dict[int, Channel] = {}
    taken: set[int] = set()
    for place, slot in enumerate(slots):
        fed = [number for number in routes.recorded_from(slot) if number not in taken]
        if fed:
            channels[place] = patch.channel(fed[0])
            taken.add(fed[0])
    count = len(slots)
    sound, silence, names = (np.zeros((count, count + 1)) for _ in range(3))
    for row, track in enumerate(numbers):
        here = evidence.sounds.get(track)
        found = fits(here) if here is not None else None
        quiet = track in evidence.silent
        best = max((scores.score(track, channel.number) for channel in channels.values()), default=FLAT)
        told = track in scores.informative and not scores.other_show
        for column in range(count + 1):
            channel = channels.get(column)
            if channel is None:
                silence[row, column] = 0.0 if quiet else SOUND_ON_NOTHING
                names[row, column] = NAME_WEIGHT * (FLAT - max(best, FLAT)) if told else 0.0
                continue
            if found is not None:
                sound[row, column] = fit(found, channel.kind)
            needed = _needed(channel)
            if quiet:
                silence[row, column] = SILENT_MUST if needed else 0.0
            elif not needed:
                silence[row, column] = SOUND_ON_SPARE
            if told:
                names[row, column] = NAME_WEIGHT * (scores.score(track, channel.number) - best)
    at = {channel.number: place for place, channel in channels.items()}
    order = {number: place for place, number in enumerate(_order(patch))}
    starts, ends = _bounds(patch, routes, slots, channels)
    row_of = {track: row for row, track in enumerate(numbers)}
    turns = evidence.line_check.turns if evidence.line_check else ()
    return (
        Places(
            channels=tuple(channels[place].number if place in channels else None for place in range(count)),
            tracks=tuple(numbers),
            sound=sound,
            silence=silence,
            names=names,
            turns=tuple(
                tuple(row_of[track] for track in turn.tracks if track in row_of)
                for turn in turns
                if turn.tracks[0] in row_of
            ),
            rank=tuple(order.get(channels[place].number, -1) if place in channels else -1 for place in range(count)),
            pairs=tuple(
                (at[channel.number], at[channel.pair], _PAIR_WEIGHTS.get(channel.pairing or "stereo", 0.5))
                for channel in channels.values()
                if channel.pair in at and channel.number < (channel.pair or 0)
            ),
            together=_together(evidence, numbers),
            ends=ends,
            starts=starts,
            definite=tuple(p in channels and _is_definite(channels[p]) for p in range(count)),
            lost=tuple(
                SILENT_MUST if place in channels and _needed(channels[place]) else 0.0 for place in range(count)
            ),
            order_stated=patch.line_check is not None,
        ),
        channels,
    )


def _needed(channel: Channel) -> bool:
    return channel.use == "must" and channel.kind != "talkback"


def _is_definite(channel: Channel) -> bool:
    """Whether its track has to sound like its kind: what need not play may hold nothing but the others' bleed."""
    return channel.kind not in _ANYTHING and channel.use == "must"


def _order(patch: Patch) -> list[int]:
    """Channel numbers in the order in which a line check goes: the patch's, or the input list's."""
    if patch.line_check is not None and patch.line_check.order:
        return list(patch.line_check.order)
    return [channel.number for channel in patch.channels]


def _bounds(
    patch: Patch, routes: Routes, slots: Sequence, channels: Mapping[int, Channel]
) -> tuple[tuple[int, ...], tuple[int, ...]]:
    """Places at which feeds start, and at which a shift may end."""
    at = {slot: place for place, slot in enumerate(slots)}
    starts, ends = {0}, {len(slots) - 1}
    for feed in patch.feeds:
        here = [
            at[slot] for slot in routes.sources if slot.link == feed.link and slot.number in feed.slots if slot in at
        ]
        if here:
            starts.add(min(here))
            ends.add(max(here))
    ends |= {place for place in range(len(slots)) if place not in channels or channels[place].use != "must"}
    return tuple(sorted(starts)), tuple(sorted(ends))


def _together(evidence: Evidence, numbers: Sequence[int]) -> np.ndarray:
    out = np.full((len(numbers), len(numbers)), np.nan)
    for a, one in enumerate(numbers):
        for b, other in enumerate(numbers):
            value = evidence.alike(one, other) if a != b else None
            if value is not None:
                out[a, b] = value
    return out


class _Statuses:
    """The status of every channel, once what is misplaced is known."""

    def __init__(
        self,
        places: Places,
        channels: Mapping[int, Channel],
        evidence: Evidence,
        scores: NameScores,
        weighing: Weighing,
        misplaced: Sequence[Misplacement],
    ) -> None:
        self.places, self.channels, self.evidence, self.scores = places, channels, evidence, scores
        self.misplaced = misplaced
        self.order_counts = weighing.order_counts
        self.fits = {
            place: fits(evidence.sounds[track]) for place, track in enumerate(places.tracks) if track in evidence.sounds
        }
        self._in_order = self._turns_in_order() if self.order_counts else {}

    def of(self, place: int, channel: Channel) -> ChannelMapping:
        track = self.places.tracks[place]
        for one in self.misplaced:
            if channel.number in one.sources:
                found = one.sources[channel.number]
                where = "on no track of this take" if found is None else f"on track {found}"
                sentence = f"its source is {where}, as {_listed(one.agreeing)} say{'s' * (len(one.agreeing) == 1)}"
                sure = "certain" if one.proven else "likely"
                return ChannelMapping("contradicted", sure, (sentence,), found)
        if track in self.evidence.silent:
            return ChannelMapping("unknown", None, ("nothing on the track that could be compared",))
        said: list[str] = []
        name = self.scores.score(track, channel.number) if track in self.scores.informative else FLAT
        named = name >= NAMED and not self.scores.other_show
        if named:
            said.append("the track's name fits")
        in_turn = place in self._in_order
        if in_turn:
            said.insert(0, f"it sounded alone in its turn of the line check, at {_clock(self._in_order[place])}")
        own = self.fits.get(place)
        sounds = own is not None and fit(own, channel.kind) >= -2.5 and channel.kind not in _ANYTHING
        twins = self._twins(place) if sounds else []
        if sounds and own is not None:
            said.insert(len(said) - named, f"it sounds like {_family(channel.kind)}")
        if in_turn:
            return ChannelMapping("heard", "certain" if sounds else "likely", tuple(said))
        if sounds and not twins:
            return ChannelMapping("heard", "likely", tuple(said))
        if sounds and named and all(self._named_apart(place, twin) for twin in twins):
            return ChannelMapping("heard", "likely", tuple(said))
        if named:
            return ChannelMapping("named", "possible", tuple(said))
        if sounds:
            said.append(f"so do channels {_numbers(self.places.channels[twin] for twin in twins)}")
        return ChannelMapping("unknown", None, tuple(said))

    def is_gross(self, place: int, channel: Channel) -> bool:
        own = self.fits.get(place)
        return own is not None and channel.kind not in _ANYTHING and fit(own, channel.kind) <= GROSS

    def line_check_sentence(self) -> str:
        check = self.evidence.line_check
        if check is None:
            return "no line check was found in this take"
        span = f"{_clock(check.start_s)} to {_clock(check.stop_s)}"
        if not self.order_counts:
            return f"the line check ({span}) did not go by the input list, so its order tells nothing"
        return f"the line check ({span}) went by the input list"

    def _turns_in_order(self) -> dict[int, float]:
        """Places that spoke in order, and when: those on a longest rise of ranks."""
        check = self.evidence.line_check
        assert check is not None
        row_of = {track: row for row, track in enumerate(self.places.tracks)}
        told: list[tuple[int, float, tuple[int, ...]]] = []
        seen: set[int] = set()
        for turn in check.turns:
            rows = tuple(row_of[track] for track in turn.tracks if track in row_of)
            if rows and rows[0] not in seen and self.places.rank[rows[0]] >= 0:
                seen.add(rows[0])
                told.append((self.places.rank[rows[0]], turn.start_s, rows))
        best: list[list[int]] = []
        for here, (rank, _, _) in enumerate(told):
            before = [chain for chain in best if told[chain[-1]][0] < rank]
            best.append([*max(before, key=len, default=[]), here])
        chain = max(best, key=len, default=[])
        found: dict[int, float] = {}
        for here in chain:
            _, start, rows = told[here]
            found[rows[0]] = start
            # Its pair and its other microphones spoke with it.
            for row in rows[1:]:
                if any({rows[0], row} == {a, b} for a, b, _ in self.places.pairs):
                    found.setdefault(row, start)
        return found

    def _twins(self, place: int) -> list[int]:
        """Places whose sounds could be exchanged with this one's without anybody noticing."""
        sound = self.places.sound
        out = []
        for other in self.fits:
            if other == place or other not in self.channels:
                continue
            loss = sound[place, place] + sound[other, other] - sound[place, other] - sound[other, place]
            if loss < SAME_AS:
                out.append(other)
        return out

    def _named_apart(self, place: int, other: int) -> bool:
        here, there = self.places.channels[place], self.places.channels[other]
        track = self.places.tracks[place]
        if here is None or there is None:
            return True
        return self.scores.score(track, here) >= self.scores.score(track, there) + 0.2


_ANYTHING = ("playback", "timecode", "other", "overhead", "ambience", "talkback")


def _misnamed(
    places: Places, channels: Mapping[int, Channel], scores: NameScores, told: Sequence[Misplacement]
) -> list[tuple[int, int, str]]:
    """(track, channel, the channel that the track's name fits) where names contradict and nothing explains it."""
    if scores.other_show:
        return []
    taken = {number for one in told for number in one.channels}
    out = []
    for place, channel in channels.items():
        track = places.tracks[place]
        if track not in scores.informative or channel.number in taken:
            continue
        best = max(channels.values(), key=lambda other: scores.score(track, other.number))
        if scores.score(track, channel.number) < 0.35 and scores.score(track, best.number) >= NAMED:
            out.append((track, channel.number, f"{best.number} {best.name}"))
    return out


def _names_sentence(scores: NameScores, tracks: int) -> str:
    if scores.other_show:
        return "the track names belong to another show"
    if tracks and len(scores.informative) < 0.2 * tracks:
        return "the track names say nothing about sources"
    return ""


def _family(kind: str) -> str:
    words = {"backing": "a voice", "vocal": "a voice", "speech": "speech", "talkback": "speech", "choir": "a choir"}
    words |= {"kick": "a kick", "snare": "a snare", "tom": "a tom", "hi-hat": "a hi-hat", "bass": "a bass"}
    words |= {"guitar": "a guitar", "acoustic": "a plucked instrument", "click": "a click"}
    words |= {"brass": "a wind instrument", "woodwind": "a wind instrument"}
    return words.get(kind, kind)


def _listed(kinds: Sequence[str]) -> str:
    return " and ".join(filter(None, [", ".join(kinds[:-1]), kinds[-1] if kinds else "the sum of the evidence"]))


def _numbers(numbers) -> str:
    return ", ".join(str(number) for number in sorted(number for number in numbers if number is not None)[:6])


def _clock(seconds: float) -> str:
    whole = int(seconds)
    return f"{whole // 60}:{whole % 60:02d}"
