"""What every channel is called, once what is misplaced is known: heard, named, contradicted or unknown. Pure."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from replay.evidence.model import Evidence
from replay.mapping.content import fit, fits
from replay.mapping.model import ChannelMapping, Misplacement
from replay.mapping.names import FLAT, NAMED, NameScores
from replay.mapping.places import ANYTHING, Places, sureness
from replay.mapping.rises import on_every_longest_rise
from replay.mapping.weigh import Weighing
from replay.patch.model import Channel
from replay.text import ranges

GROSS = -9.5
"""A sound that fits its channel's kind so badly, and nothing else explains it, is told as unlikely."""

SAME_AS = 3.0
"""Two channels whose sounds could be exchanged for less (log odds) cannot be told apart by sound."""

LIKE_NEXT = 1.5
"""... of which each gives half."""


FITTING = -2.5
"""A sound that fits its channel's kind so well is like it."""


HEAR_ALL = ("overhead", "ambience")
"""Kinds that lead a turn when nobody else does: where in the order, says nothing."""

UNASKED = "talkback"
"""Whoever has one speaks when there is something to say: where all others had a turn, one of its own says nothing."""


@dataclass(frozen=True)
class Spoken:
    """A turn of the line check in order: when it began, and the ranks between which it lies (those of the turns before
    and after it, exclusive)."""

    start_s: float
    after: int
    before: int


class Statuses:
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
            place: fits(evidence.sounds[track])
            for place, track in enumerate(places.tracks)
            if track in evidence.sounds and sureness(evidence.sounds[track]) == 1.0
        }
        self._partners = {(a, b) for a, b, _ in places.pairs} | {(b, a) for a, b, _ in places.pairs}
        self._speakers: set[int] = set()
        self._out_of_turn: list[int] = []
        self._in_order = self._turns_in_order() if self.order_counts else {}
        self._beside_dead = self._rows_beside_dead_channels()

    def of(self, place: int, channel: Channel) -> ChannelMapping:
        track = self.places.tracks[place]
        for one in self.misplaced:
            if channel.number in one.sources:
                found = one.sources[channel.number]
                where = "on no track of this take" if found is None else f"on track {found}"
                sentence = f"its source is {where}, as {_listed(one.agreeing)} say{'s' * (len(one.agreeing) == 1)}"
                sure = "certain" if one.proven else "likely"
                return ChannelMapping("contradicted", sure, (sentence,), found)
            if channel.number in one.perhaps:
                sentence = (
                    f"the sources from channel {min(one.channels)} on lie beside their channels, perhaps this too"
                )
                return ChannelMapping("unknown", None, (sentence,))
        if track in self.evidence.silent:
            return ChannelMapping("unknown", None, ("nothing on the track that could be compared",))
        said: list[str] = []
        name = self.scores.score(track, channel.number) if track in self.scores.informative else FLAT
        named = name >= NAMED and not self.scores.other_show
        if named:
            said.append("the track's name fits")
        own = self.fits.get(place)
        sounds = own is not None and fit(own, channel.kind) >= FITTING and channel.kind not in ANYTHING
        twins = self._twins(place)
        spoke = self._in_order.get(place)
        in_turn = (
            spoke is not None
            and place not in self._beside_dead
            and not any(self._may_have_spoken(twin, spoke) for twin in twins)
        )
        if sounds and own is not None:
            said.insert(len(said) - named, f"it sounds like {_family(channel.kind)}")
        if spoke is not None and in_turn:
            said.insert(0, f"it sounded alone in its turn of the line check, at {_clock(spoke.start_s)}")
            return ChannelMapping("heard", "certain" if sounds else "likely", (*said, *self._sides(place)))
        if sounds and not twins and place not in self._beside_dead:
            return ChannelMapping("heard", "likely", (*said, *self._sides(place)))
        if sounds and place in self._beside_dead:
            said.append("so would its neighbour's source, if the row beside a dead channel moved along")
        elif sounds:
            said.append(f"so do channels {_numbers(self.places.channels[twin] for twin in twins)}")
        if named:
            return ChannelMapping("named", "possible", tuple(said))
        return ChannelMapping("unknown", None, tuple(said))

    def _sides(self, place: int) -> tuple[str, ...]:
        """What `heard` does not say of a side of a pair."""
        paired = any(place == side for side, _ in self._partners)
        return ("which side of the pair it is, nothing tells",) if paired else ()

    def is_gross(self, place: int, channel: Channel) -> bool:
        own = self.fits.get(place)
        return own is not None and channel.kind not in ANYTHING and fit(own, channel.kind) <= GROSS

    def line_check_sentence(self) -> str:
        check = self.evidence.line_check
        if check is None:
            return "no line check was found in this take"
        span = f"{_clock(check.start_s)} to {_clock(check.stop_s)}"
        if not self.order_counts:
            # A conference, or a piece whose players come in one after the other, sounds like this too.
            return f"sources were heard one after another ({span}), not as the input list has them: it tells nothing"
        went = f"the line check ({span}) went by the input list"
        # Whose sound tells it from all others was asked out of turn, and that is all.
        apart = [
            channel.number
            for place, channel in self.channels.items()
            if channel.number in self._out_of_turn and self.of(place, channel).status != "heard"
        ]
        which = f"channel{'s' * (len(apart) > 1)} {ranges(apart)}"
        return f"{went}, but for {which}: asked out of turn, or exchanged" if apart else went

    def _may_have_spoken(self, twin: int, spoke: Spoken) -> bool:
        """Whether a turn may be that of a like source beside it, which had none of its own."""
        return twin not in self._speakers and spoke.after < self.places.rank[twin] < spoke.before

    def _rows_beside_dead_channels(self) -> set[int]:
        """Places beside a dead channel whose sources may have moved along by one or two, up to it or away from it,
        without anybody noticing: such a row still speaks in order."""
        sound = self.places.sound
        dead = {
            place
            for place, channel in self.channels.items()
            if channel.use == "must" and self.places.tracks[place] in self.evidence.silent
        }
        found: set[int] = set()
        for place in dead:
            for way in (1, -1):
                steps = 2 if place - way in dead else 1
                for step in range(1, steps + 1):
                    loss, here, row = 0.0, place + way, []
                    while here in self.channels and self.places.tracks[here] not in self.evidence.silent:
                        # An odd sound, which would fit the next channel better, speaks for no other one.
                        worse = max(sound[here, here] - sound[here, here - way * step], 0.0)
                        loss += worse
                        if worse >= LIKE_NEXT or loss >= SAME_AS:
                            break
                        row.append(here)
                        here += way
                    # The sides of a pair are one source: which of them is left is not asked.
                    if row != [place + way] or (place, place + way) not in self._partners:
                        found.update(row)
        return found

    def _turns_in_order(self) -> dict[int, Spoken]:
        """Places that spoke in order, once what is misplaced is put right. Where two are out of order and either may
        be the one that was asked out of turn, neither is among them."""
        check = self.evidence.line_check
        assert check is not None
        row_of = {track: row for row, track in enumerate(self.places.tracks)}
        ranks = self._ranks()
        told: list[tuple[int, float, tuple[int, ...]]] = []
        for turn in check.turns:
            rows = tuple(row_of[track] for track in turn.tracks if track in row_of)
            if rows and rows[0] not in self._speakers and ranks[rows[0]] >= 0:
                # The other side of a pair speaks with it, whichever is louder.
                with_it = [row for row in rows[1:] if (rows[0], row) in self._partners]
                self._speakers.update([rows[0], *with_it])
                told.append((ranks[rows[0]], turn.start_s, (rows[0], *with_it)))
        surely = on_every_longest_rise([rank for rank, _, _ in told])
        self._out_of_turn = self._asked_out_of_turn(told)
        found: dict[int, Spoken] = {}
        for here, (_, start, rows) in enumerate(told):
            if not surely[here]:
                continue
            after = max((told[other][0] for other in range(here) if surely[other]), default=-1)
            later = (told[other][0] for other in range(here + 1, len(told)) if surely[other])
            spoken = Spoken(start, after, min(later, default=len(ranks)))
            for row in rows:
                found.setdefault(row, spoken)
        return found

    def _asked_out_of_turn(self, told: Sequence[tuple[int, float, tuple[int, ...]]]) -> list[int]:
        """The channels whose turns are not in order, among those that have a source of their own and are asked."""
        unheard = (*HEAR_ALL, UNASKED) if self._all_spoke() else HEAR_ALL
        own = [
            (rank, channel)
            for rank, _, (place, *_) in told
            if (channel := self.channels.get(place)) is not None and channel.kind not in unheard
        ]
        surely = on_every_longest_rise([rank for rank, _ in own])
        return sorted(channel.number for (_, channel), sure in zip(own, surely, strict=True) if not sure)

    def _all_spoke(self) -> bool:
        """Whether every channel that must play and has a source of its own, or its partner, had a turn."""
        spoke = self._speakers | {b for a, b in self._partners if a in self._speakers}
        return all(
            place in spoke
            for place, channel in self.channels.items()
            if channel.use == "must" and channel.kind not in ANYTHING
        )

    def _ranks(self) -> list[int]:
        """By place, the rank in the line check's order of the channel whose source its track holds."""
        ranks = list(self.places.rank)
        place_of = {number: place for place, number in enumerate(self.places.channels)}
        row_of = {track: row for row, track in enumerate(self.places.tracks)}
        moved = [(place_of[number], track) for one in self.misplaced for number, track in one.sources.items()]
        for place, _ in moved:
            ranks[place] = -1
        for place, track in moved:
            if track is not None:
                ranks[row_of[track]] = self.places.rank[place]
        return ranks

    def _twins(self, place: int) -> list[int]:
        """Places whose sounds could be exchanged with this one's without anybody noticing. The sides of a pair are
        one source: which is which is not asked."""
        sound = self.places.sound
        out: list[int] = []
        if place not in self.fits:
            return out
        for other in self.fits:
            if other == place or other not in self.channels or (place, other) in self._partners:
                continue
            loss = sound[place, place] + sound[other, other] - sound[place, other] - sound[other, place]
            if loss < SAME_AS:
                out.append(other)
        return out


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
