"""What else is worth being told: dull or thin sound, more noise, a polarity that turned, another socket. Pure."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from replay.checks.shared.pair_sound import PairSound, compared
from replay.compare.model import ChannelChange, PairChange, Told
from replay.desk.model import Show
from replay.text import harmless

STEADY_KINDS = frozenset(
    (
        "kick",
        "snare",
        "tom",
        "hi-hat",
        "overhead",
        "percussion",
        "brass",
        "woodwind",
        "vocal",
        "backing",
        "speech",
        "choir",
    )
)
"""Kinds whose sound comes from the thing itself. Amplifiers, keys and machines have sounds to choose from: of these a
change is a note."""

NOISIER_DB = 8.0
"""A floor that rose by less is the room; common practice, no source."""

FLOOR_DISTANCE_DB = 55.0
"""A floor further than this below the played peak disturbs nobody; common practice, no source."""

FLOORS_AGREE_DB = 4.0
FEWEST_FLOORS = 3
FLOOR_UP_DB = 3.0

MOST_LAG_S = 0.0025
"""Sides further apart in time are no pair to judge the polarity of, as in the check of one take."""

_WORDS = {"dull": "duller", "bright": "brighter", "thin": "thinner", "full": "fuller"}


def sound(change: ChannelChange) -> Told | None:
    """Dull, bright, thin or full, where there is a step in the channel's sound."""
    step = change.step
    if step is None or change.after.channel.use == "off":
        return None
    worse = step.what in ("dull", "thin")
    own = change.after.channel.input == "mic" and change.after.channel.kind in STEADY_KINDS
    side = "above" if step.what in ("dull", "bright") else "below"
    message = (
        f"{side.capitalize()} {_hertz(step.edge_hz)} it is {abs(step.change_db):.0f} dB "
        f"{'weaker' if worse else 'stronger'} than before, against the rest of its sound."
    )
    if not own:
        message += " Another sound chosen at the source looks the same."
    action = ""
    if worse:
        action = (
            "Look at the microphone: its place and direction, what covers it, another type; then a filter before the "
            "recording point."
            if step.what == "dull"
            else "Try another cable, look for a low cut at microphone or preamp, and at the microphone's place."
        )
    return Told(
        code=_WORDS[step.what],
        worse=worse and own,
        confidence="likely" if own else "possible",
        channels=(change.number,),
        message=message,
        action=action,
        amount=round(step.change_db, 1),
        unit="dB",
    )


def noisier(changes: Sequence[ChannelChange]) -> Iterator[Told]:
    """Channels whose noise floor rose by itself: against the settings, and against the other channels."""
    floors = {
        one.number: one.moved.floor_db for one in changes if one.moved is not None and one.moved.floor_db is not None
    }
    for one in changes:
        floor = floors.get(one.number)
        recorded = one.after.recorded
        if floor is None or floor < NOISIER_DB or recorded is None or one.after.channel.input == "digital":
            continue
        peak, level = recorded.played_peak_dbtp, recorded.noise_floor_dbfs
        rest = [
            floors[other.number]
            for other in changes
            if other.number in floors and other is not one and other.after.channel.input == one.after.channel.input
        ]
        if peak is None or level is None or peak - level > FLOOR_DISTANCE_DB or len(rest) < FEWEST_FLOORS:
            continue
        low, middle, high = np.percentile(rest, [25, 50, 75])
        if high - low > FLOORS_AGREE_DB or floor - middle < NOISIER_DB:
            continue
        assert one.moved is not None
        if one.moved.own_db >= floor - FLOOR_UP_DB:
            continue  # All of it got louder: that is told as a level.
        yield Told(
            code="noisier",
            worse=True,
            confidence="likely",
            channels=(one.number,),
            message=f"Its noise floor rose by {floor:.0f} dB at the same settings, to {level:.0f} dBFS, "
            f"{peak - level:.0f} dB below the played peak; the other channels' moved by {middle:+.0f} dB.",
            action="Listen to it in a pause: hum, hiss or a fan each have their own cure.",
            amount=round(floor, 1),
            unit="dB",
        )


def pairs(a: Show, b: Show, numbers: dict[int, int]) -> list[PairChange]:
    """Declared pairs that both patches have. `numbers` leads from a channel's number in A to that in B."""
    then = {frozenset(numbers.get(n, -n) for n in (one.left.channel.number, one.right.channel.number)): one
            for one in compared(a)}  # fmt: skip
    now = {frozenset((one.left.channel.number, one.right.channel.number)): one for one in compared(b)}
    found = []
    for pair in b.pairs:
        key = frozenset((pair.left, pair.right))
        sides = (then.get(key), now.get(key))
        if sides == (None, None):
            continue
        lags = [None if side is None else side.lag_s for side in sides]
        if sides[0] is not None and numbers.get(sides[0].left.channel.number) != pair.left and lags[0] is not None:
            lags[0] = -lags[0]
        found.append(
            PairChange(
                left=pair.left,
                right=pair.right,
                opposed=(_opposed(sides[0]), _opposed(sides[1])),
                lag_s=(lags[0], lags[1]),
            )
        )
    return found


def _opposed(side: PairSound | None) -> bool | None:
    if side is None or not side.sure or abs(side.lag_s) > MOST_LAG_S:
        return None
    return side.opposed


def polarity(pair: PairChange, b: Show) -> Told | None:
    """A pair whose polarity turned over."""
    then, now = pair.opposed
    if then is None or now is None or then == now:
        return None
    left, right = (b.view(number).channel for number in (pair.left, pair.right))
    names = f"{left.number} {harmless(left.name, 40)} and {right.number} {harmless(right.name, 40)}"
    return Told(
        code="polarity",
        worse=now,
        confidence="likely",
        channels=(pair.left, pair.right),
        message=f"{names} work against each other now, and did not before."
        if now
        else f"{names} work together now, and worked against each other before.",
        action="Look for a cable wired the other way round, and at the polarity switches of both." if now else "",
    )


def replugged(change: ChannelChange) -> Told | None:
    """A channel whose source is plugged in elsewhere."""
    before, after = change.before.channel.socket, change.after.channel.socket
    if before == after:
        return None
    there = ["nowhere" if socket is None else harmless(str(socket)) for socket in (before, after)]
    return Told(
        code="replugged",
        worse=False,
        confidence="certain",
        channels=(change.number,),
        message=f"From {there[0]} to {there[1]}.",
    )


def _hertz(value: float) -> str:
    return f"{value / 1000:g} kHz" if value >= 1000 else f"{value:.0f} Hz"
