"""What the mapping says: a status for every channel, and the faults that explain all evidence best."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

STATUSES = ("heard", "named", "contradicted", "unknown")
SHAPES = ("exchange", "pairs", "cycle", "shift", "block")
EVIDENCE_KINDS = ("line check", "sound", "bleed", "silence", "pairs", "names")


@dataclass(frozen=True)
class ChannelMapping:
    """One channel: `status` as in STATUSES, `confidence` (certain, likely, possible; None where unknown), plain
    sentences of `evidence`, and the track that its source is on where that is not its own (`found_on`)."""

    status: str
    confidence: str | None = None
    evidence: tuple[str, ...] = ()
    found_on: int | None = None


@dataclass(frozen=True)
class Misplacement:
    """One thing that went wrong in the wiring, in its own words: `shape` (SHAPES), `channels` whose sources lie
    elsewhere, `sources` (channel -> track that holds its source, None where it was not recorded), `by` how many
    slots (shifts), `gains` by kind of evidence (natural logarithms of odds against 'as patched'), `margin` what is
    left after the price of the hypothesis, `proven` whether the line check alone proves it. `may_begin` are channels
    before these of which nothing tells whether they moved too (a shift that begins in a row of like sources), `may_end`
    those behind them. What only the engineer's ears tell has no gains and no margin (None), and is proven."""

    shape: str
    channels: tuple[int, ...]
    sources: Mapping[int, int | None]
    by: int
    gains: Mapping[str, float]
    margin: float | None
    proven: bool
    may_begin: tuple[int, ...] = ()
    may_end: tuple[int, ...] = ()

    @property
    def perhaps(self) -> tuple[int, ...]:
        """The channels that may have moved too."""
        return *self.may_begin, *self.may_end

    @property
    def agreeing(self) -> tuple[str, ...]:
        """The kinds of evidence that speak for it by themselves."""
        return tuple(kind for kind in EVIDENCE_KINDS if self.gains.get(kind, 0.0) >= AGREES)


AGREES = 2.0
"""A kind of evidence speaks for a hypothesis from this gain on (odds of about 7 to 1)."""


@dataclass(frozen=True)
class MappingResult:
    """The whole answer. `line_check` says in a sentence what became of it; `names` likewise, "" where there is nothing
    to say. `by_names` is a misplacement that only names tell."""

    channels: Mapping[int, ChannelMapping] = field(default_factory=dict)
    misplaced: tuple[Misplacement, ...] = ()
    by_names: tuple[Misplacement, ...] = ()
    line_check: str = ""
    names: str = ""
    misnamed: tuple[tuple[int, int, str], ...] = ()
    unlikely: Mapping[int, str] = field(default_factory=dict)
    judged: bool = False


UNKNOWN = ChannelMapping("unknown")
NOT_JUDGED = MappingResult()
