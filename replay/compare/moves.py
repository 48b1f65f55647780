"""How far every channel's level moved, what the settings explain of it, and what the others did. Pure."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from replay.compare.bleed import bleed
from replay.compare.hops import Hops
from replay.compare.model import ChannelChange, Expected, Moved
from replay.desk.gain import rise
from replay.desk.model import ChannelView, Show

LEAST_ACTIVE_S = 1.0
OVER_FLOOR_DB = 20.0
"""A channel plays where it is active for a second (as in the check that tells noise from a source), or where peaks
recur 20 dB over its floor (as in the gain rule): single hits are short. Noise alone peaks 12 dB or so over its RMS."""

ADVISED_WITHIN_DB = 3.0
"""A level that changed by what was advised, within the least change that advice gives."""

MOST_OVERSHOOT_DB = 6.0
"""What a clip may have hidden where it was not estimated, as in the gain rule."""

LEAST_ASKED_DB = 3.0
"""A level and a noise floor that moved by less need no witness: the least change that the gain rule advises."""

FEWEST_OF_A_KIND = 2
FEWEST_OF_ALL = 4
OTHERS_AGREE_DB = 3.0

FAMILIES: Mapping[str, str] = {
    **dict.fromkeys(("kick", "snare", "tom", "hi-hat", "overhead", "percussion"), "drums"),
    **dict.fromkeys(("bass", "guitar", "acoustic", "keys"), "backline"),
    **dict.fromkeys(("strings", "brass", "woodwind"), "players"),
    **dict.fromkeys(("vocal", "backing", "speech", "choir"), "voices"),
}
"""Kinds that swell and rest together. Machines (playback, click, timecode) and what hears everything are alone."""


def why_not(before: ChannelView, after: ChannelView) -> str:
    """Why the sound of a channel cannot be held against the other take's, in a few words; "" where it can."""
    for view, letter in ((before, "A"), (after, "B")):
        if view.track is None or view.recorded is None:
            return f"no track in {letter}"
        if view.mapping.status == "contradicted":
            return f"another source in {letter}"
    silent = [letter for view, letter in ((before, "A"), (after, "B")) if not plays(view)]
    if silent:
        return "plays in neither" if len(silent) == 2 else f"does not play in {silent[0]}"
    return ""


def plays(view: ChannelView) -> bool:
    """Whether something plays on a channel's track."""
    if view.track is None or view.recorded is None or view.recorded.played_peak_dbtp is None:
        return False
    if view.track.active_s >= LEAST_ACTIVE_S:
        return True
    floor = view.recorded.noise_floor_dbfs
    return floor is not None and view.recorded.played_peak_dbtp - floor >= OVER_FLOOR_DB


def expected(a: Show, b: Show, before: ChannelView, after: ChannelView) -> Expected:
    """What the settings explain of a change of level, and what else may."""
    gains = (before.channel.gain, after.channel.gain)
    digital = before.channel.input == after.channel.input == "digital"
    known = None not in gains or (gains == (None, None) and digital)
    change = referred(b, after, with_gain=known) - referred(a, before, with_gain=known)
    rises = [rise(show.patch.kinds[view.channel.kind], show.patch.take.of) for view, show in ((before, a), (after, b))]
    more = rises[0] - rises[1]
    return Expected(
        change_db=change, known=known, low=min(more, 0.0) - _hidden(after), high=max(more, 0.0) + _hidden(before)
    )


def _hidden(view: ChannelView) -> float:
    if view.track is None or not view.track.clipping.count:
        return 0.0
    overshoot = view.track.clipping.overshoot_db
    return MOST_OVERSHOOT_DB if overshoot is None else overshoot[1]


def referred(show: Show, view: ChannelView, *, with_gain: bool) -> float:
    """What the settings add to a channel's level between its socket and its track, in dB: gain, less a pad, and the
    trim where it is recorded."""
    channel = view.channel
    added = channel.gain or 0.0 if with_gain else 0.0
    if channel.pad and channel.socket is not None:
        added -= show.patch.box(channel.socket.box).pad or 0.0
    if show.routes.of(channel.number).point == "after-trim":
        added += channel.trim
    return added


def moved(change: ChannelChange, hops: tuple[Hops, Hops], settings: Expected) -> Moved | None:
    """The change of one channel's level by itself; None where there are no figures."""
    figures = _figures(change, hops)
    if not figures:
        return None
    recorded = float(np.median(list(figures.values())))
    rest = recorded - settings.change_db
    own = rest - min(max(rest, settings.low), settings.high)
    floors = [view.recorded.noise_floor_dbfs if view.recorded else None for view in (change.before, change.after)]
    floor = None if floors[0] is None or floors[1] is None else floors[1] - floors[0] - settings.change_db
    return Moved(recorded_db=recorded, own_db=own, figures=figures, expected=settings, floor_db=floor)


def _figures(change: ChannelChange, hops: tuple[Hops, Hops]) -> dict[str, float]:
    a, b = change.before.recorded, change.after.recorded
    found: dict[str, float] = {}
    if a is None or b is None:
        return found
    for name, one, other in (
        ("integrated_lufs", a.integrated_lufs, b.integrated_lufs),
        ("played_peak_dbtp", a.played_peak_dbtp, b.played_peak_dbtp),
    ):
        if one is not None and other is not None:
            found[name] = other - one
    loud = [side.loud_levels() for side in hops]
    if loud[0] is not None and loud[1] is not None:
        found["loud_hops_dbfs"] = loud[1][0] - loud[0][0]
        found["loud_mean_dbfs"] = loud[1][1] - loud[0][1]
    return found


def with_others(changes: Sequence[ChannelChange]) -> list[ChannelChange]:
    """Each with what the others of its kind did: else of its family, else all, as long as enough of them agree."""
    measured = [one for one in changes if one.moved is not None]
    return [one if one.moved is None else replace(one, moved=_held(one, measured)) for one in changes]


def _held(change: ChannelChange, measured: Sequence[ChannelChange]) -> Moved:
    assert change.moved is not None
    kind = change.after.channel.kind
    family = FAMILIES.get(kind)
    others = [
        (one.after.channel.kind, one.moved.own_db)
        for one in measured
        if one.number != change.number
        and one.number != change.after.channel.pair
        and one.moved is not None
        and one.after.channel.kind in FAMILIES
    ]
    if family is not None:
        groups = (
            (kind, [own for other, own in others if other == kind], FEWEST_OF_A_KIND),
            (family, [own for other, own in others if FAMILIES[other] == family], FEWEST_OF_A_KIND),
            ("band", [own for _, own in others], FEWEST_OF_ALL),
        )
        for name, owns, fewest in groups:
            if len(owns) >= fewest:
                middle = float(np.median(owns))
                if sum(abs(own - middle) <= OTHERS_AGREE_DB for own in owns) * 2 > len(owns):
                    return replace(change.moved, group=name, others_db=middle)
    return change.moved


def with_bleed(
    changes: Sequence[ChannelChange], hops: tuple[Mapping[int, Hops], Mapping[int, Hops]]
) -> list[ChannelChange]:
    """Each whose level moved with what it hears of the others. Keys of `hops` are track numbers."""
    tracks: tuple[dict[int, Hops], dict[int, Hops]] = ({}, {})
    referred: tuple[dict[int, float], dict[int, float]] = ({}, {})
    for one in changes:
        if one.moved is None:
            continue
        for side, view in enumerate((one.before, one.after)):
            assert view.track is not None
            tracks[side][one.number] = hops[side][view.track.track.number]
            referred[side][one.number] = side * one.moved.expected.change_db
    return [_with_bleed(one, tracks, referred) for one in changes]


def _with_bleed(
    change: ChannelChange,
    tracks: tuple[Mapping[int, Hops], Mapping[int, Hops]],
    referred: tuple[Mapping[int, float], Mapping[int, float]],
) -> ChannelChange:
    moved = change.moved
    a, b = change.before.recorded, change.after.recorded
    if moved is None or a is None or b is None or change.after.channel.input not in ("mic", "rf"):
        return change
    level, floor = moved.recorded_db - moved.expected.change_db, moved.floor_db or 0.0
    if abs(level) < LEAST_ASKED_DB and abs(floor) < LEAST_ASKED_DB:
        return change
    found = bleed(
        change.number, tracks, referred, (a.noise_floor_dbfs, b.noise_floor_dbfs), apart_from=change.after.channel.pair
    )
    return replace(change, moved=replace(moved, bleed=found))


def as_advised(change: ChannelChange) -> ChannelChange:
    """The advice of A taken as followed, where the patches state the same gain and the level changed by what was
    advised. A source that happens to play so much louder does the same to the level: where the bleed (or, without it,
    the noise floor) is known, it must have moved along."""
    advice, moved = change.before.advice, change.moved
    if advice is None or moved is None or advice.gain_db == 0 or moved.expected.change_db != 0:
        return change
    settings = moved.expected
    if not -ADVISED_WITHIN_DB <= moved.recorded_db - advice.gain_db <= ADVISED_WITHIN_DB + settings.high:
        return change
    witness = moved.floor_db if moved.bleed is None else moved.bleed.change_db
    if witness is None or abs(witness - advice.gain_db) > ADVISED_WITHIN_DB:
        return change
    if any(abs(one - advice.gain_db) >= abs(one) for one in (witness, moved.recorded_db)):
        return change  # As near to nothing at all: advice of a few dB would be met by any performance.
    rest = moved.recorded_db - advice.gain_db
    settings = replace(settings, change_db=advice.gain_db, advised=True)
    return replace(
        change,
        moved=replace(
            moved,
            own_db=rest - min(max(rest, settings.low), settings.high),
            expected=settings,
            floor_db=None if moved.floor_db is None else moved.floor_db - advice.gain_db,
            bleed=None if moved.bleed is None else replace(moved.bleed, change_db=witness - advice.gain_db),
        ),
    )
