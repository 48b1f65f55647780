"""Which hypothesis explains all evidence best, and by what margin. One rule, the same for everything. Pure.

Each kind of evidence gives every hypothesis a sum of log odds: how well the tracks fit the channels whose sources they
would hold (sound, bleed, silence, names: a matrix of tracks against channels), how well the line check would be in
order, how well declared pairs would stay together. The gain of a hypothesis is what it has more than 'as patched';
names count little against it (recorders take them from the desk, not from the plugs) and only so much for it. Told is
the one with the greatest gain less its price, where that margin is at least MARGIN (BY_SOUND_ALONE where nothing but
the sound speaks for an exchange); then, with it taken as given, another one on other channels. What gives flat rows
(dead tracks, like sources, names that say nothing) moves nothing.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from replay.mapping import earliest
from replay.mapping.explained import Explained
from replay.mapping.extent import NEARLY, Extent, Weighed, perhaps, reach, sources
from replay.mapping.hypotheses import LOST, Hypothesis, all_hypotheses, cycles
from replay.mapping.model import AGREES, EVIDENCE_KINDS, Misplacement
from replay.mapping.places import Places
from replay.mapping.rises import longest_rise
from replay.mapping.together import Pairs

MARGIN = 1.75
"""Told from odds of about 6 to 1, over a price that stands for 7 to 1 and more."""

EXCHANGED = ("exchange", "cycle", "pairs")
BY_SOUND_ALONE = 3.5
"""The margin of an exchange or ring that neither names nor order nor pairs speak for: a sound may be like nothing that
the table of sounds knows, and two such sounds look exchanged now and then."""

LEAST_BESIDE = 1.0
OUT_OF_ORDER = 4.5
SKIPPED = 2.5
"""What a source out of the line check's order costs; a single one may just have been asked for out of turn."""

PROOF = 2 * OUT_OF_ORDER
"""Two plugs exchanged put two sources out of order, and no other exchange puts both back."""

MOST_STRAY = 0.15
"""A line check that no hypothesis brings into order up to this share did not go by the list."""

NAMES_AGAINST, NAMES_FOR = 0.75, 6.0
MOST_TOLD = 4
MISFIT = -2.0
"""A track that fits its channel better than this gives no reason to exchange it."""

HELPED = 1.0
"""A track of a shift or block speaks for it, or against it, where it gains or loses so much."""

LEAST_HELPED = 2
HELPED_TO_HURT = 2.0
SUSPECTS = 12
HEARD = ("sound", "bleed", "silence")
"""What the tracks themselves say, as matrices of tracks against channels."""


@dataclass(frozen=True)
class _Given:
    """What is taken as given: place of a channel -> place of the track that holds its source, or LOST; what that costs
    by pairs and by who hears first, and how many sources are out of the line check's order."""

    source: Mapping[int, int]
    pairs: float
    early: float
    out_of_order: int


def _is_spoken_for(moves: Mapping[str, float], gains: Mapping[str, float]) -> bool:
    """Whether names, order or pairs speak for a hypothesis, beside what its tracks sound like and hear."""
    return moves["names"] >= AGREES or gains["pairs"] + gains["line check"] >= LEAST_BESIDE


class Weighing:
    """All hypotheses about a list, weighed."""

    def __init__(self, places: Places) -> None:
        self.places = places
        self.count = len(places.channels)
        # Plain lists: thousands of hypotheses ask for single figures.
        self._rows = {kind: getattr(places, kind).tolist() for kind in (*HEARD, "names")}
        self._own = [self._fit(place, place) for place in range(self.count)]
        self._partners = {(a, b) for a, b, _ in places.pairs} | {(b, a) for a, b, _ in places.pairs}
        self._pairs = Pairs(places)
        pairs = [(a, b) for a, b, _ in places.pairs]
        everything = [*all_hypotheses(self.count, places.ends, places.starts, pairs), *cycles(self._suspects())]
        # What the matrices give a hypothesis does not depend on what is given.
        self._explained = Explained(everything, places)
        worth = ~self._explained.came_round_unheard()
        self._hypotheses = [one for one, worth_it in zip(everything, worth.tolist(), strict=True) if worth_it]
        self._moves = {kind: self._explained.gains(kind)[worth] for kind in (*HEARD, "names")}
        self._prices = np.array([one.price for one in self._hypotheses])
        self._worth = worth
        self._exchanges = {tuple(one.source): at for at, one in enumerate(self._hypotheses) if one.shape == "exchange"}
        self._spoke = {turn[0] for turn in places.turns}
        self._speakers = self._in_turn()
        self.order_counts = bool(places.turns)
        self.least_out = self.out_of_order({})
        if self.order_counts:
            speaking = len(self._spoke)
            allowed = max(1, int(MOST_STRAY * speaking))
            if not places.order_stated and self.least_out > allowed:
                self.least_out = min(self.out_of_order(one.source) for one in self._hypotheses)
                self.order_counts = self.least_out <= allowed
            if speaking < 4:
                self.order_counts = False

    def told(self, kinds: Sequence[str] = EVIDENCE_KINDS) -> list[Misplacement]:
        """The misplacements that the evidence of these kinds tells, the surest first."""
        found: list[Misplacement] = []
        given = self._given({})
        used: set[int] = set()
        for _ in range(MOST_TOLD):
            best = self._best(given, used, kinds)
            if best is None:
                break
            weighed, extent = best
            given = self._given({**given.source, **weighed.hypothesis.source})
            used |= {*weighed.hypothesis.places, *range(extent.begins, extent.first)}
            used |= set(range(extent.last + 1, extent.ends + 1))
            found.append(self._as_misplacement(weighed, extent))
        return found

    def _given(self, source: Mapping[int, int]) -> _Given:
        return _Given(
            source=source,
            pairs=self._pairs.price(source) if self.places.pairs else 0.0,
            early=self._early(source),
            out_of_order=self.out_of_order(source) if self.order_counts else 0,
        )

    def _gains(self, hypothesis: Hypothesis, moves: Mapping[str, float], given: _Given) -> dict[str, float]:
        """What a hypothesis explains better than what is given, by kind of evidence."""
        gains = dict(moves)
        gains["names"] = min(max(gains["names"], -NAMES_AGAINST), NAMES_FOR)
        then = self._given({**given.source, **hypothesis.source})
        gains["pairs"] = given.pairs - then.pairs
        gains["bleed"] += given.early - then.early
        better = given.out_of_order - then.out_of_order
        gains["line check"] = OUT_OF_ORDER * better - (SKIPPED if better == 1 else 0.0)
        return gains

    def out_of_order(self, source: Mapping[int, int]) -> int:
        """How many of the sources that spoke in the line check are out of order under a hypothesis."""
        moved = {track: channel for channel, track in source.items() if track != LOST}
        rank = self.places.rank
        sequence: list[int] = []
        for row in self._speakers:
            channel = moved.get(row, LOST if row in source else row)
            if channel != LOST and rank[channel] >= 0:
                sequence.append(rank[channel])
        lost = sum(1 for row in self._spoke if row in source and row not in moved)
        return len(sequence) - longest_rise(sequence) + lost

    def _in_turn(self) -> list[int]:
        """Whose turn it was in the line check, one after another, each place once."""
        rows: list[int] = []
        seen: set[int] = set()
        for turn in self.places.turns:
            if turn[0] not in seen:
                rows.append(turn[0])
                seen.add(turn[0])
                # The other side of a pair speaks with it, whichever is louder.
                seen.update(row for row in turn[1:] if (turn[0], row) in self._partners)
        return rows

    def _mutual(
        self, hypothesis: Hypothesis, moves: Mapping[str, float], gains: Mapping[str, float], otherwise: float
    ) -> bool:
        """What only the sound speaks for has to be seen on all tracks of an exchange (of pairs too) or a ring, and on
        most of those of a shift or block to which it makes a difference; what may hold anything gives no reason."""
        if moves["names"] >= AGREES:
            return True
        exchanged = hypothesis.shape in EXCHANGED
        if exchanged and not all(self.places.definite[place] for place in hypothesis.source):
            return gains["pairs"] + gains["line check"] >= LEAST_BESIDE
        if otherwise > 0.0:
            return True
        if exchanged:
            return all(
                self._own[track] <= MISFIT and self._fit(track, channel) >= self._own[track]
                for channel, track in hypothesis.source.items()
            )
        # A row of like sources neither helps nor hurts.
        better = [
            self._fit(track, channel) - self._own[track]
            for channel, track in hypothesis.source.items()
            if track != LOST and self.places.definite[track]
        ]
        # An empty track at the head of a shift speaks for it as well, and so does a spare at its end that sounds.
        silence = self._rows["silence"]
        better += [silence[place][self.count] - silence[place][place] for place in hypothesis.empty]
        better += [
            silence[track][channel] - silence[track][track]
            for channel, track in hypothesis.source.items()
            if track != LOST and not self.places.definite[track]
        ]
        helped, hurt = sum(gain >= HELPED for gain in better), sum(gain <= -HELPED for gain in better)
        return helped >= LEAST_HELPED and helped >= HELPED_TO_HURT * hurt

    def _fit(self, track: int, channel: int) -> float:
        """How well the track of one place fits another place's channel, by all that was heard."""
        return sum(self._rows[kind][track][channel] for kind in HEARD)

    def _early(self, source: Mapping[int, int]) -> float:
        return earliest.price(self.places.firsts, self.places.standing, source)

    def _best(self, given: _Given, used: set[int], kinds: Sequence[str]) -> tuple[Weighed, Extent] | None:
        able: list[Weighed] = []
        # What order and pairs can give at most: most hypotheses need not be asked.
        early = given.early
        apart = self._explained.added(self._pairs.by_place(self.count, given.source))[self._worth]
        most_of = OUT_OF_ORDER * given.out_of_order + early + apart
        for at in self._asked(most_of):
            hypothesis, moves, most = self._hypotheses[at], self._moves_of(at), float(most_of[at])
            if used and used & hypothesis.places:
                continue
            gains = self._gains(hypothesis, moves, given)
            if gains["line check"] < 0.0:
                # Sources that came in their turns are where they belong, whatever they sound like.
                continue
            heard_early = early - self._early({**given.source, **hypothesis.source}) if early else 0.0
            # An exchange is spared the question by what pairs and order do say, a row that moved by what they could.
            said = gains["pairs"] + gains["line check"] if hypothesis.shape in EXCHANGED else most - early
            if not self._mutual(hypothesis, moves, gains, said + max(heard_early, 0.0)):
                continue
            margin = sum(gains[kind] for kind in kinds) - hypothesis.price
            # What the tracks hear of the others supports what something else says, and tells nothing by itself.
            beside = sum(gains[kind] for kind in kinds if kind != "bleed")
            least = MARGIN if hypothesis.shape not in EXCHANGED or _is_spoken_for(moves, gains) else BY_SOUND_ALONE
            if margin >= least and beside > LEAST_BESIDE and not self._is_a_substitute(hypothesis, margin, given):
                able.append(Weighed(hypothesis, gains, margin))
        if not able:
            return None
        return reach(able, max(able, key=lambda one: one.margin), self.places)

    def _asked(self, most: np.ndarray) -> list[int]:
        """The places of the hypotheses that can be told, where order and pairs give as much as they can at `most`."""
        names = np.minimum(self._moves["names"], NAMES_FOR)
        heard = sum(self._moves[kind] for kind in HEARD)
        reached = np.maximum(names, 0.0) + np.maximum(heard, 0.0) + most - self._prices
        return np.flatnonzero(reached >= MARGIN).tolist()

    def _moves_of(self, at: int) -> dict[str, float]:
        """What the matrices give the hypothesis at one place of the list, by kind."""
        return {kind: float(gains[at]) for kind, gains in self._moves.items()}

    def _is_a_substitute(self, hypothesis: Hypothesis, margin: float, given: _Given) -> bool:
        """Whether a source that was plugged into the spare, since its own line is dead, explains nearly as much as a
        shift between the two."""
        first, last = min(hypothesis.places), max(hypothesis.places)
        if hypothesis.shape != "shift" or self.places.definite[last]:
            return False
        instead = Hypothesis("exchange", {first: last, last: first})
        moves = self._moves_of(self._exchanges[first, last])
        return sum(self._gains(instead, moves, given).values()) - instead.price >= margin - NEARLY

    def _suspects(self) -> list[int]:
        """Places whose own track fits them worst, for rings."""
        matrix = self.places.sound + self.places.names + self.places.silence + self.places.bleed
        gap = matrix[:, : self.count].max(axis=0) - np.diag(matrix[:, : self.count])
        worst = [int(place) for place in np.argsort(-gap) if gap[place] > 1.0]
        return sorted(worst[:SUSPECTS])

    def _as_misplacement(self, weighed: Weighed, extent: Extent) -> Misplacement:
        hypothesis, gains = weighed.hypothesis, weighed.gains
        moved = sources(hypothesis, extent, self.places)
        before, behind = perhaps(hypothesis, extent, self.places)
        return Misplacement(
            shape=hypothesis.shape,
            channels=tuple(moved),
            sources=moved,
            by=hypothesis.by,
            gains=dict(gains),
            margin=weighed.margin,
            may_begin=before,
            may_end=behind,
            proven=gains["line check"] >= PROOF and gains["sound"] + gains["silence"] > -AGREES,
        )
