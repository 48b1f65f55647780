"""The recorded slots in order of track numbers, with matrices of what the evidence says of each. Pure."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from replay.evidence.bleed import Bleed
from replay.evidence.model import Evidence
from replay.evidence.sound import LEAST_MOMENTS, Sound
from replay.mapping.content import fit, fits
from replay.mapping.earliest import firsts, stands
from replay.mapping.names import FLAT, NameScores
from replay.patch.model import Channel, Patch
from replay.patch.routes import Routes

NAME_WEIGHT = 4.0
SILENT_MUST = -2.5
SOUND_ON_SPARE = -1.0
SOUND_ON_NOTHING = -2.5
LOST_MUST = -1.0
"""That a source is on no track costs little: it has nowhere to go where a row was moved up to the end of a box."""

SURE_OF_SOUND = (0.0, 0.5, 0.75, 1.0)
"""How much the sound of a track counts that was heard in no, one, two, three moments."""

RESTS_DB, HEARS_DB, MOST_HEARD_DB = 4.0, 8.0, 45.0
"""While the stage is loud, a direct line whose source rests lies at its own noise (within 4 dB); a microphone lies
10 to 45 dB above the quiet room. Measured on the bands on which the limits were chosen."""

PLAYS_ON_DB = 55.0
FOLLOWS = 0.4
DEAF, HEARING, PLAYS_ON = -2.5, -2.5, -1.5
"""Log odds of an open microphone that hears nothing of a loud stage (some are gated or behind walls), of a direct line
that lies where a microphone would and follows the others, and of a microphone that is never as low as bleed is."""

_PAIR_WEIGHTS = {"stereo": 1.0, "one-source": 1.0, "spaced": 0.5}

ANYTHING = ("playback", "timecode", "other", "overhead", "ambience", "talkback")
"""Kinds that may hold anything, or hear everything: they give no reason to move anything."""


@dataclass(frozen=True)
class Places:
    """The recorded slots in order of track numbers, with what the evidence says of them.

    `channels[p]` is the channel whose source place p records (None: a slot without channel), `tracks[p]` its track.
    `sound`, `silence`, `bleed`, `names` are float64 (places, places + 1): track of row against channel of column; the
    last column is 'holds no channel's source'. `turns` are the places that spoke in the line check, in order, and
    `rank` each place's rank in the order in which it was to be. `pairs` are places of declared pairs with a weight;
    `together[p, q]` how alike two tracks rise and fall (NaN: not told). `definite[p]` is false where the channel's
    kind may hold anything or hears everything; `lost[p]` what it costs that its source is on no track.
    `firsts` are pairs of places of which the first's track hears what both hear before the other's; `standing[p]`
    whether the channel's microphone is `close` or `open`.
    """

    channels: tuple[int | None, ...]
    tracks: tuple[int, ...]
    sound: np.ndarray
    silence: np.ndarray
    bleed: np.ndarray
    names: np.ndarray
    turns: tuple[tuple[int, ...], ...]
    rank: tuple[int, ...]
    pairs: tuple[tuple[int, int, float], ...]
    together: np.ndarray
    ends: tuple[int, ...]
    starts: tuple[int, ...]
    definite: tuple[bool, ...]
    lost: tuple[float, ...]
    firsts: tuple[tuple[int, int], ...] = ()
    standing: tuple[str, ...] = ()
    order_stated: bool = False


def places_of(
    patch: Patch, routes: Routes, evidence: Evidence, scores: NameScores
) -> tuple[Places, dict[int, Channel]]:
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
    sound, silence, hears, names = (np.zeros((count, count + 1)) for _ in range(4))
    # Whoever names DI boxes and lines means microphones where nothing is named.
    stated = any(channel.input != "mic" for channel in patch.channels)
    for row, track in enumerate(numbers):
        here = evidence.sounds.get(track)
        found = fits(here) if here is not None else None
        heard = evidence.bleed.get(track)
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
                sound[row, column] = sureness(here) * fit(found, channel.kind)
            needed = _needed(channel)
            if quiet:
                silence[row, column] = SILENT_MUST if needed else 0.0
            elif not needed and (channel.kind == "other" or channel.use == "off"):
                silence[row, column] = SOUND_ON_SPARE
            if heard is not None and needed:
                hears[row, column] = _hearing(heard, channel, stated)
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
            bleed=hears,
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
            # Losing a source explains no silence: what lies dead on its own track costs the same either way.
            lost=tuple(
                0.0 if place not in channels or not _needed(channels[place]) else min(LOST_MUST, silence[place, place])
                for place in range(count)
            ),
            firsts=firsts(evidence.likeness, row_of),
            standing=tuple(stands(channels.get(place)) for place in range(count)),
            order_stated=patch.line_check is not None,
        ),
        channels,
    )


def sureness(sound: Sound | None) -> float:
    """How much a track's sound counts, 0 to 1."""
    return 0.0 if sound is None else SURE_OF_SOUND[min(sound.moments, LEAST_MOMENTS)]


def _hearing(bleed: Bleed, channel: Channel, stated: bool) -> float:
    """Log odds of what a track hears, if it is this channel's. `stated`: the list says what is no microphone."""
    if channel.input in ("di", "line", "digital"):
        hears = HEARS_DB <= bleed.floor_db <= MOST_HEARD_DB and (bleed.follows or 0.0) >= FOLLOWS
        return HEARING if hears else 0.0
    open_microphone = channel.kind in _MIKED or (stated and channel.input == "mic" and channel.kind not in ANYTHING)
    if not open_microphone:
        return 0.0
    if bleed.floor_db <= RESTS_DB:
        return DEAF
    return PLAYS_ON if bleed.floor_db >= PLAYS_ON_DB else 0.0


_MIKED = (
    *("kick", "snare", "tom", "hi-hat", "percussion", "overhead", "ambience", "brass", "woodwind"),
    *("vocal", "backing", "speech", "choir"),
)
"""Kinds that are picked up by microphones, also where the list does not say so."""


def _needed(channel: Channel) -> bool:
    return channel.use == "must" and channel.kind != "talkback"


def _is_definite(channel: Channel) -> bool:
    """Whether its track has to sound like its kind: what need not play may hold nothing but the others' bleed."""
    return channel.kind not in ANYTHING and channel.use == "must"


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
