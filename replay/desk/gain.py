"""The gain rule: played peak + rise = expected show peak; advice brings that to the target.

Played peak is the peak that recurs; the rise from soundcheck to show comes with the kind of source (common practice, no
source). Down rounds away from full scale, up toward zero. Raising is the dangerous direction and bounded: never where
the channel's own source was not heard, at most MOST_UP_DB at a time. All pure.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from replay.desk.model import Advice, Clipping
from replay.patch.model import Box, Channel, Desk, Kind, Range

LEAST_CHANGE_DB = 3.0
MOST_UP_DB = 10.0
LEAST_DOWN_FOR_CLIP_DB = 6.0
MOST_OVERSHOOT_DB = 6.0
SHOW_RISE_DB = 2.0
"""The rise for a take of a show, whatever the kind: players are as loud as they get."""

HEARD_S = 2.0
HEARD_OVER_FLOOR_DB = 20.0
"""A source counts as heard where it plays for two seconds or more and its played peak stands 20 dB over the floor."""

NO_PREAMP_KINDS = ("playback", "click", "timecode")
ANY_STEP = Range(min=-math.inf, max=math.inf, step=1.0)
_ROUNDING = 1e-9


@dataclass(frozen=True, kw_only=True)
class Source:
    """What the rule needs to know of one channel's source.

    `played_peak_dbtp` and `noise_floor_dbfs` as recorded, in the judged part; `active_s` seconds in which it plays.
    `box` is None for channels without a socket.
    """

    channel: Channel
    kind: Kind
    box: Box | None
    played_peak_dbtp: float | None
    noise_floor_dbfs: float | None
    active_s: float
    clipping: Clipping


def expected_peak(source: Source, of: str) -> float | None:
    """The peak in the show, in dBTP; None where nothing recurs, or for a line check (which says nothing of levels)."""
    if source.played_peak_dbtp is None or of == "line-check":
        return None
    return source.played_peak_dbtp + rise(source.kind, of)


def rise(kind: Kind, of: str) -> float:
    """How much louder the show is expected to be than the take, in dB."""
    if of == "show":
        return min(SHOW_RISE_DB, kind.rise)
    return kind.rise


def _unknown_rise(kind: Kind, of: str) -> float:
    """By how much more than its rise a source of unknown kind may get louder, in dB."""
    if of == "show" or kind.most_rise is None:
        return 0.0
    return max(kind.most_rise - kind.rise, 0.0)


def heard(source: Source) -> bool:
    """Whether the channel's own source plays, as far as levels can tell (bleed and noise do not count)."""
    if source.played_peak_dbtp is None or source.active_s < HEARD_S:
        return False
    floor = source.noise_floor_dbfs
    return floor is None or source.played_peak_dbtp - floor >= HEARD_OVER_FLOOR_DB


def wanted_change(source: Source, of: str, show_peak: float) -> float | None:
    """The change of gain in whole steps that the rule asks for on its own; None for none."""
    step = source.box.gain.step if source.box and source.box.gain else 1.0
    clipped = source.clipping.count > 0 and source.kind.name != "timecode"
    expected = expected_peak(source, of)
    if clipped:
        # What was lost above full scale is not in the played peak: a known overshoot counts up to a bound.
        over = min(source.clipping.overshoot_db[1], MOST_OVERSHOOT_DB) if source.clipping.overshoot_db else 0.0
        change = -LEAST_DOWN_FOR_CLIP_DB
        if expected is not None:
            change = min(change, show_peak - expected - over)
    elif expected is None:
        return None
    else:
        change = show_peak - expected
        if change > 0:
            if not _may_raise(source):
                return None
            # Never up by what a source of unknown kind may bring itself.
            change = min(max(change - _unknown_rise(source.kind, of), 0.0), MOST_UP_DB)
    # Under the least change nothing is advised, before rounding (which would make more of it) and after (less).
    if abs(change) < LEAST_CHANGE_DB - _ROUNDING:
        return None
    change = math.floor(change / step + _ROUNDING) * step
    return change if abs(change) >= LEAST_CHANGE_DB else None


def _may_raise(source: Source) -> bool:
    channel = source.channel
    allowed = source.kind.may_raise and channel.input not in ("rf", "digital") and channel.use == "must"
    return allowed and heard(source)


def together(changes: list[float | None]) -> float | None:
    """The one change of channels that move together: the larger reduction or the smaller raise; None for none.

    >>> together([-4.0, None]), together([6.0, 4.0]), together([6.0, None])
    (-4.0, 4.0, None)
    """
    least = min(change or 0.0 for change in changes)
    return least if least != 0 else None


def advise(
    source: Source, change: float, desk: Desk, *, of: str, show_peak: float, own: float | None, moved_with: int | None
) -> Advice:
    """Turn a wanted change into settings, an order of work, and what becomes of the trim.

    `own` is what the channel asks for on its own; `moved_with` the channel that asked for the change where this one
    only goes with it.
    """
    channel, box = source.channel, source.box
    notes: list[str] = []
    reason = _reason(source, of, show_peak, moved_with)
    # A microphone or DI always has a preamp, stated or not; a line or receiver on a box without a range may have none.
    preamp = box is not None and (box.gain is not None or channel.input in ("mic", "di"))
    if box is None or not preamp or channel.input == "digital" or source.kind.name in NO_PREAMP_KINDS:
        return Advice(gain_db=change, at_source=True, reason=reason, order="turn the source's own output", ask="")
    pad, new, given = _settings(channel, box, change, notes)
    expected = expected_peak(source, of)
    if given > 0 and expected is not None:
        short = show_peak - expected - _unknown_rise(source.kind, of) - given
        if short >= LEAST_CHANGE_DB:
            notes.append(f"{short:.0f} dB more would be wanted{_why_not_more(change, own)}")
    if channel.input in ("rf", "line"):
        first = "the transmitter or receiver" if channel.input == "rf" else "the instrument's or player's output"
        notes.append(f"see to {first} first, then the preamp")
    if channel.gain is None and given:
        notes.append("the gain is not stated: turn it by so much from where it stands")
    trim, left = None, 0.0
    if box.compensated:
        notes.append("the system keeps the desk's level by itself: leave the trim")
    elif given:
        wanted = channel.trim - given
        trim = min(max(wanted, desk.trim.min), desk.trim.max)
        left = round(wanted - trim, 6)
        trim = round(trim, 6)
        if left:
            notes.append(f"the trim's range ends {abs(left):g} dB short: the rest is for the fader")
        back = f"put it back to {channel.trim:+g} for playback" if channel.trim else "put it back to 0 for playback"
        notes.append(f"the trim belongs to the new gain: record again, or {back} of this take")
    if pad:
        notes.append("switching a pad thumps: mute first")
    return Advice(
        gain_db=given,
        was_db=channel.gain,
        new_gain_db=new,
        pad=pad,
        trim_db=trim,
        trim_left_db=left,
        order=_order(given, trim is not None and given != 0),
        ask={"monitors": "ask the monitor desk, whose gains these are", "shared": "tell all who share the preamp"}.get(
            box.gains, ""
        ),
        reason=reason,
        may=_may(source, of, show_peak, given, moved_with),
        notes=tuple(notes),
    )


def _why_not_more(change: float, own: float | None) -> str:
    if own is not None and own - change >= LEAST_CHANGE_DB:
        return ", but what moves with it allows no more: see why they differ"
    return f": {MOST_UP_DB:g} dB at a time, then record again and look"


def _may(source: Source, of: str, show_peak: float, given: float, moved_with: int | None) -> str:
    """What holds for every raise alike, so that it can be said once for many: more is welcome, none is needed."""
    if given <= 0 or moved_with is not None or source.clipping.count:
        return ""
    return f"may come up, need not: expected to peak below the target of {show_peak:+.1f} dBTP"


def _settings(channel: Channel, box: Box, change: float, notes: list[str]) -> tuple[str | None, float | None, float]:
    """Pad, new gain, and the change of level that they make."""
    limits = box.gain or ANY_STEP
    if channel.gain is None:
        return None, None, change
    new = channel.gain + change
    pad = None
    if new < limits.min - _ROUNDING:
        if box.pad and not channel.pad and new + box.pad <= limits.max:
            pad, new = "in", _settable(new + box.pad, limits)
        if new < limits.min - _ROUNDING:
            notes.append(f"{limits.min - new:g} dB more than the preamp can give: turn the source down")
            new = limits.min
    elif channel.pad and box.pad and new - box.pad >= limits.min:
        pad, new = "out", _settable(new - box.pad, limits)
    if new > limits.max:
        notes.append(f"the preamp ends at {limits.max:g} dB")
        new = limits.max
    moved = new - channel.gain
    if pad == "in":
        moved -= box.pad or 0.0
    elif pad == "out":
        moved += box.pad or 0.0
    return pad, round(new, 6), round(moved, 6)


def _settable(gain: float, limits: Range) -> float:
    """The nearest setting at or below a gain: a pad is not always a whole number of steps."""
    return limits.min + math.floor((gain - limits.min) / limits.step + _ROUNDING) * limits.step


def _order(change: float, with_trim: bool) -> str:
    gain, trim = ("gain down", "trim up") if change < 0 else ("gain up", "trim down")
    if not with_trim:
        return gain
    return f"{gain} first, then {trim}" if change < 0 else f"{trim} first, then {gain}"


def _reason(source: Source, of: str, show_peak: float, moved_with: int | None) -> str:
    if moved_with is not None:
        return f"goes with channel {moved_with}"
    more = rise(source.kind, of)
    unknown = _unknown_rise(source.kind, of)
    if source.clipping.count:
        return "clipped: it needs less gain, whatever the show brings"
    expected = expected_peak(source, of)
    if expected is None or source.played_peak_dbtp is None:
        return ""
    if unknown and expected + unknown < show_peak:
        return (
            f"peaks recur at {source.played_peak_dbtp:.1f}; up to {more + unknown:g} dB more in the show, as its kind "
            f"is not known, makes {expected + unknown:+.1f}, the target is {show_peak:+.1f} dBTP"
        )
    return (
        f"peaks recur at {source.played_peak_dbtp:.1f}; {more:g} dB more in the show makes {expected:+.1f}, "
        f"the target is {show_peak:+.1f} dBTP"
    )
