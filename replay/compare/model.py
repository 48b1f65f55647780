"""The answer to `compare`: every channel then and now, and what follows from it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from replay.compare.bleed import Bleed
from replay.compare.sides import Side
from replay.compare.sound import Octaves, Step
from replay.desk.model import ChannelView
from replay.findings.finding import Finding
from replay.patch.model import Channel

NO_SUCH_CHANNEL = "B has no such channel"
"""How a finding of A came to be `not-heard` whose channels are A's own: their numbers are those of A."""

FATES = ("fixed", "eased", "not-heard", "still", "grown", "new")
"""What became of a finding: gone; less severe, or only what it hid is left; gone, but its channel does not play in B;
still there; more severe; there in B only."""

WORSE_FATES = ("grown", "new")


@dataclass(frozen=True, kw_only=True)
class Expected:
    """By how many dB the settings of the two patches change a channel's recorded level. `known` is whether gains are
    stated on both sides (else levels are compared as recorded). `low` and `high` bound what else the takes explain:
    clips that hid a level, a soundcheck held against a show. `advised` is set where A advised a change that the patches
    do not show, and the level shows it."""

    change_db: float
    known: bool
    low: float = 0.0
    high: float = 0.0
    advised: bool = False


@dataclass(frozen=True, kw_only=True)
class Moved:
    """A channel's level from A to B.

    `recorded_db` is the change as recorded, `own_db` what is left of it after `expected`, both the median over
    `figures` (each figure's change, by name). `others_db` is what the others of `group` did by themselves (None
    without three of them). `floor_db` is the change of the noise floor at the socket; `bleed` what the channel hears
    of the others.
    """

    recorded_db: float
    own_db: float
    figures: Mapping[str, float]
    expected: Expected
    group: str = ""
    others_db: float | None = None
    floor_db: float | None = None
    bleed: Bleed | None = None


@dataclass(frozen=True, kw_only=True)
class ChannelChange:
    """One channel that both takes have. `why_not` says in a few words why its sound was not compared ("" where it
    was)."""

    before: ChannelView
    after: ChannelView
    moved: Moved | None = None
    octaves: tuple[Octaves | None, Octaves | None] = (None, None)
    step: Step | None = None
    why_not: str = ""

    @property
    def number(self) -> int:
        """The channel's number in B."""
        return self.after.channel.number


@dataclass(frozen=True, kw_only=True)
class Told:
    """A change that is worth being told.

    `code` is one word, `worse` whether it is for the worse, `confidence` as in findings. `channels` are numbers in B.
    `swallowed` are codes of new findings in B that this change explains.
    """

    code: str
    worse: bool
    confidence: str
    channels: tuple[int, ...]
    message: str
    action: str = ""
    amount: float | None = None
    unit: str = ""
    swallowed: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class PairChange:
    """A declared pair (numbers in B): whether its sides work against each other in each take (None: cannot be told),
    and how much later the right one is, in seconds."""

    left: int
    right: int
    opposed: tuple[bool | None, bool | None]
    lag_s: tuple[float | None, float | None]


@dataclass(frozen=True, kw_only=True)
class FindingChange:
    """A finding and what became of it (FATES). `before` is None for new ones, `after` for those that are gone. `how`
    says what was done about it where that can be seen."""

    fate: str
    before: Finding | None = None
    after: Finding | None = None
    how: str = ""

    @property
    def finding(self) -> Finding:
        """The later one."""
        finding = self.after or self.before
        assert finding is not None
        return finding

    @property
    def weighs(self) -> bool:
        """Whether it is more than a note, on either side."""
        return any(one is not None and one.severity != "note" for one in (self.before, self.after))


@dataclass(frozen=True, kw_only=True)
class Comparison:
    """Everything. `channels` in the order of B; `told` and `findings` in order of weight; `one_patch` where both takes
    were read with one patch."""

    a: Side
    b: Side
    channels: tuple[ChannelChange, ...]
    gone: tuple[Channel, ...]
    added: tuple[Channel, ...]
    pairs: tuple[PairChange, ...]
    told: tuple[Told, ...]
    findings: tuple[FindingChange, ...]
    one_patch: bool

    @property
    def worse_channels(self) -> tuple[int, ...]:
        """Numbers in B of the channels of which something is worse."""
        found = {number for one in self.told if one.worse for number in one.channels}
        found |= {n for one in self.findings if self._worse(one) for n in one.finding.channels}
        return tuple(sorted(found))

    @property
    def verdict(self) -> str:
        """`worse`, or `not-worse`."""
        worse = any(one.worse for one in self.told) or any(self._worse(one) for one in self.findings)
        return "worse" if worse else "not-worse"

    @staticmethod
    def _worse(one: FindingChange) -> bool:
        return one.fate in WORSE_FATES and one.finding.severity != "note"

    def with_fate(self, *fates: str) -> tuple[FindingChange, ...]:
        """The findings with one of these fates that are more than notes."""
        return tuple(one for one in self.findings if one.fate in fates and one.weighs)
