"""The simulated show: measurements put through the patch. What checks and reports look at.

Conventions: levels in dB as named in DESIGN (dBFS, dBTP, LUFS); a level that does not exist (loudness of silence, a
figure that needs more audio) is None, never infinite. Times in seconds on the take's clock.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

from replay.ear import NOTHING_SAID, Ear
from replay.evidence.gain_moves import GainMove
from replay.evidence.model import NOTHING, Evidence
from replay.evidence.off_mains import OffMains
from replay.evidence.timecode import Timecode
from replay.evidence.timecode_slips import Slip
from replay.mapping.model import NOT_JUDGED, UNKNOWN, ChannelMapping, MappingResult
from replay.meters.model import Measurement
from replay.patch.model import Bus, Channel, Patch, Slot
from replay.patch.routes import Routes
from replay.take.model import Take, Track


@dataclass(frozen=True, kw_only=True)
class Levels:
    """Figures of one signal over the judged part. `played_peak_dbtp` is the peak that recurs (the gain rule's);
    `lone_peak_s` is when the highest single peak is, set only where that peak is 6 dB or more above the played one."""

    sample_peak_dbfs: float | None = None
    true_peak_dbtp: float | None = None
    true_peak_s: float | None = None
    played_peak_dbtp: float | None = None
    lone_peak_s: float | None = None
    integrated_lufs: float | None = None
    momentary_max_lufs: float | None = None
    short_term_max_lufs: float | None = None
    loudness_range_lu: float | None = None
    rms_dbfs: float | None = None
    crest_db: float | None = None
    noise_floor_dbfs: float | None = None
    dc_dbfs: float | None = None
    active_percent: float | None = None


@dataclass(frozen=True, kw_only=True)
class ClipRun:
    """A run of samples at full scale: when, how long, and whether at the positive side."""

    start_s: float
    length: int
    length_ms: float
    positive: bool


@dataclass(frozen=True, kw_only=True)
class Clipping:
    """Clip runs of a track: those in the judged part, and how many lie before it. Counts are exact, lists capped."""

    runs: tuple[ClipRun, ...] = ()
    count: int = 0
    before: int = 0
    longest_ms: float = 0.0
    overshoot_db: tuple[float, float] | None = None


@dataclass(frozen=True, kw_only=True)
class Advice:
    """What to do about a channel's level.

    `gain_db` is the change of the preamp (negative: down), `was_db`/`new_gain_db` its setting before and after (None
    where the patch does not state the gain). `pad` is "in", "out" or None. `trim_db` is the channel's trim that keeps
    its level at the new gain, None where the system compensates or nothing changes; `trim_left_db` what the trim's
    range could not give (for the fader). `order` is the order of work in words, `ask` whom to tell or ask first ("" if
    nobody). `at_source` is true where the cure is at the source (pack, receiver, instrument) and not the preamp.
    `reason` is one plain sentence; `may` stands for it where many channels may come up and none needs to ("" where it
    needs to); `notes` are further plain sentences.
    """

    gain_db: float
    was_db: float | None = None
    new_gain_db: float | None = None
    pad: str | None = None
    trim_db: float | None = None
    trim_left_db: float = 0.0
    order: str = ""
    ask: str = ""
    at_source: bool = False
    reason: str = ""
    may: str = ""
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class TrackView:
    """A track of the take, measured. `channels` are the numbers of the channels that it feeds (empty: an extra).
    `judged_from_s` is set where its levels are judged from its last gain move on.
    """

    track: Track
    slot: Slot | None
    channels: tuple[int, ...]
    measurement: Measurement
    whole: Levels
    recorded: Levels
    clipping: Clipping
    all_zero: bool
    active_s: float
    judged_from_s: float | None = None


@dataclass(frozen=True, kw_only=True)
class ChannelView:
    """A channel as the desk would have it.

    `status` says where its signal comes from: `track` (a track of the take), `no-track` (the take lacks it),
    `not-recorded` (no feed carries its socket), `live` (it keeps its live source on playback), `unfed` (no socket).
    `slot` is the slot that its socket is recorded on, `playback` the slot that feeds it on playback. `recorded` are
    levels on the track, `input` after the channel's trim and polarity. `mapping` says whether sound and names confirm
    that its source lies on its track. `fed_wrong` is whether findings tell that another's source may be on its track,
    or on that of a channel that turns with it: then nothing says what its gain should be, and `advice_waits` is whether
    there would have been advice.
    """

    channel: Channel
    status: str
    slot: Slot | None
    playback: Slot | None
    track: TrackView | None
    recorded: Levels | None
    input: Levels | None
    headroom_db: float | None
    expected_peak_dbtp: float | None
    advice: Advice | None
    mapping: ChannelMapping = UNKNOWN
    fed_wrong: bool = False
    advice_waits: bool = False


@dataclass(frozen=True, kw_only=True)
class PairView:
    """Two channels that belong together, with the loudness of both as one programme (stereo pairs only)."""

    left: int
    right: int
    pairing: str
    integrated_lufs: float | None = None
    momentary_max_lufs: float | None = None
    short_term_max_lufs: float | None = None
    loudness_range_lu: float | None = None
    true_peak_dbtp: float | None = None


@dataclass(frozen=True, kw_only=True)
class BusView:
    """A bus: the true peak of its sum over the judged part, and the channels in it with their levels."""

    bus: Bus
    channels: tuple[int, ...]
    true_peak_dbtp: float | None
    true_peak_s: float | None
    headroom_db: float | None
    loudest: tuple[int, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Show:
    """Everything that is known of one take under one patch.

    `judged_from_s`/`judged_to_s` bound the part on which levels are judged. `now` is the time of asking (seconds
    since the epoch), for a take's age. `limits` are the checks' limits, defaults overridden by the patch.
    `returns_heard` is set for a recorded-back ident take only: by track number, the track numbers whose bursts are on
    it.
    `timecode` are the tracks that carry some, `gain_moves` all steps of gain, `off_mains` mains at the wrong speed, all
    by track number; `slips` are what timecode says of the instants at which the clock slips.
    `evidence` is what the sound itself says, `mapping` what that and the engineer's ears say of the patch, `ear` what
    the engineer answered by ear about this take.
    """

    patch: Patch
    routes: Routes
    take: Take
    channels: tuple[ChannelView, ...]
    tracks: tuple[TrackView, ...]
    pairs: tuple[PairView, ...]
    buses: tuple[BusView, ...]
    judged_from_s: float
    judged_to_s: float
    now: float
    limits: Mapping[str, float] = field(default_factory=dict)
    returns_heard: Mapping[int, tuple[int, ...]] | None = None
    evidence: Evidence = NOTHING
    mapping: MappingResult = NOT_JUDGED
    timecode: Mapping[int, Timecode] = field(default_factory=dict)
    gain_moves: Mapping[int, tuple[GainMove, ...]] = field(default_factory=dict)
    off_mains: Mapping[int, OffMains] = field(default_factory=dict)
    slips: tuple[Slip, ...] = ()
    ear: Ear = NOTHING_SAID
    _found: dict[str, Any] = field(default_factory=dict, init=False, compare=False, repr=False)

    def once(self, what: str, find: Callable[[], Any]) -> Any:
        """What `find()` answers, worked out when it is first asked for of this show: several checks share it."""
        if what not in self._found:
            self._found[what] = find()
        return self._found[what]

    def view(self, channel: int) -> ChannelView:
        """The view of a channel by number; KeyError if there is none."""
        for view in self.channels:
            if view.channel.number == channel:
                return view
        raise KeyError(channel)

    def tracks_of_channels(self) -> dict[int, int]:
        """By channel number the number of the track that feeds it."""
        return {view.channel.number: view.track.track.number for view in self.channels if view.track is not None}

    def limit(self, name: str) -> float:
        """A check's limit in force."""
        return self.limits[name]
