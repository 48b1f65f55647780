"""Two recordings of one pass, compared: the records.

Frames and times count on the clock of take A unless a name says otherwise; frame a of A lies at frame a + lag of B.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from replay.take.model import Take, Track

SIDES = ("A", "B")


@dataclass(frozen=True, kw_only=True)
class Piece:
    """A stretch of A, from frame `start` to `stop` - 1, that has its counterpart in B at one lag."""

    start: int
    stop: int
    lag: int


@dataclass(frozen=True, kw_only=True)
class Slip:
    """At frame `frame`, `side` lacks `frames` frames that the other recording has: nothing marks the place, and all
    that follows lies earlier. It may be up to `unsure` frames before (in silence, in a held tone)."""

    frame: int
    side: str
    frames: int
    unsure: int = 0


@dataclass(frozen=True, kw_only=True)
class Alignment:
    """How A and B lie to each other. `drift_ppm` is by how much the clock of B runs faster than that of A, in
    millionths; None where both have one clock, or are digital copies. With a drift there is one piece, and its lag is
    the one at its start."""

    pieces: tuple[Piece, ...]
    slips: tuple[Slip, ...] = ()
    drift_ppm: float | None = None

    def lag_at(self, frame: int) -> int:
        """The lag at a frame of A."""
        piece = next((one for one in self.pieces if frame < one.stop), self.pieces[-1])
        return self._drifted(piece, frame)

    def steady(self, longest: int) -> Iterator[Piece]:
        """The pieces; with a drift cut to at most `longest` frames, each at its own lag."""
        if self.drift_ppm is None:
            yield from self.pieces
            return
        for piece in self.pieces:
            for start in range(piece.start, piece.stop, longest):
                stop = min(start + longest, piece.stop)
                yield Piece(start=start, stop=stop, lag=self._drifted(piece, (start + stop) // 2))

    def _drifted(self, piece: Piece, frame: int) -> int:
        return piece.lag + round((self.drift_ppm or 0.0) * 1e-6 * (frame - piece.start))


RELATIONS = ("identical", "cut", "rounded", "dithered", "gain", "similar", "other", "quiet", "silent")
"""How two tracks are related where they do not part: the same samples; one a copy of fewer bits, the rest cut off,
rounded away, or rounded with dither; the same but for a gain (to the last bit of 24); the same sound but not the same
samples; nothing in common; no samples in common, but too quiet to hold any sound; both digital silence."""

EXACT = ("identical", "cut", "rounded", "dithered", "gain", "silent")


@dataclass(frozen=True, kw_only=True)
class Relation:
    """`bits` are those of the copy of fewer bits, `coarser` the side that it is. `gain` is the factor from A to B,
    below 0 where the polarity is turned. `residual_db` is what is left of B's level after it, 0 dB being all of B, for
    `similar`."""

    kind: str
    bits: int | None = None
    coarser: str | None = None
    gain: float = 1.0
    residual_db: float | None = None


PARTINGS = ("silent", "held", "ends", "differs")
"""What a side does where two tracks part: digital silence, one value held, its track has ended, or other samples, and
then nobody can tell which side is right."""


@dataclass(frozen=True, kw_only=True)
class Parting:
    """A stretch in which two tracks part. `frames` of them differ; `side` is the one that lacks the sound ("" where
    that cannot be told)."""

    start: int
    stop: int
    frames: int
    kind: str
    side: str


@dataclass(frozen=True, kw_only=True)
class Pair:
    """A track of A and the one of B that holds the same. `compared` frames were looked at, `differing` of them differ;
    `partings` are the first of `parting_count` stretches."""

    a: Track
    b: Track
    relation: Relation
    compared: int = 0
    differing: int = 0
    partings: tuple[Parting, ...] = ()
    parting_count: int = 0

    @property
    def same(self) -> bool:
        """Whether the two hold the same, as far as their formats can."""
        return self.relation.kind in EXACT and not self.differing


@dataclass(frozen=True, kw_only=True)
class Loss:
    """What one side lacks and the other has, over all tracks: `kind` is one of PARTINGS but differs, or `slip`, `head`
    (it begins later), `tail` (it stops earlier), `tracks` (it has not got them). Frames are None where it is the whole
    length. A start before 0 lies before A begins, and may be up to `unsure` frames earlier."""

    side: str
    kind: str
    start: int | None
    frames: int | None
    tracks: tuple[int, ...]
    unsure: int = 0


@dataclass(frozen=True, kw_only=True)
class Answer:
    """The comparison. `only_a` and `only_b` are tracks without a counterpart; `both_from` and `both_to` the stretch of
    A that both recordings have."""

    a: Take
    b: Take
    alignment: Alignment
    pairs: tuple[Pair, ...]
    only_a: tuple[Track, ...]
    only_b: tuple[Track, ...]
    losses: tuple[Loss, ...]

    @property
    def both_from(self) -> int:
        return self.alignment.pieces[0].start

    @property
    def both_to(self) -> int:
        return self.alignment.pieces[-1].stop

    @property
    def same(self) -> bool:
        """Whether both hold the same, as far as their formats can, on all tracks and to the end."""
        return not self.losses and all(pair.same for pair in self.pairs)

    def is_whole(self, side: str) -> bool:
        """Whether a side lacks nothing that the other has."""
        return not any(loss.side == side for loss in self.losses)
