"""What every channel is called, once what is misplaced is known: heard, named, contradicted or unknown. Pure."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from replay.evidence.model import Evidence
from replay.mapping.content import fit, fits
from replay.mapping.model import ChannelMapping, Misplacement
from replay.mapping.names import FLAT, NAMED, NameScores
from replay.mapping.places import ANYTHING, Places, sureness
from replay.mapping.weigh import Weighing
from replay.patch.model import Channel

GROSS = -6.0
"""A sound that fits its channel's kind so badly, and nothing else explains it, is told as unlikely."""

SAME_AS = 3.0
"""Two channels whose sounds could be exchanged for less (log odds) cannot be told apart by sound."""


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
        sounds = own is not None and fit(own, channel.kind) >= -2.5 and channel.kind not in ANYTHING
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
        return own is not None and channel.kind not in ANYTHING and fit(own, channel.kind) <= GROSS

    def line_check_sentence(self) -> str:
        check = self.evidence.line_check
        if check is None:
            return "no line check was found in this take"
        span = f"{_clock(check.start_s)} to {_clock(check.stop_s)}"
        if not self.order_counts:
            # A conference, or a piece whose players come in one after the other, sounds like this too.
            return f"sources were heard one after another ({span}), not as the input list has them: it tells nothing"
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
