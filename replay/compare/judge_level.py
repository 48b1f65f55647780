"""What a change of level means, as far as the evidence allows: player, band, or the way from microphone to track.

People play louder or softer from day to day, so a change alone says little. It is told where it is large and steady
(all figures of level agree), where the others of its kind did not do the same, and by what moved along:

- what the microphone hears of the others moved too: its cable, pad, preamp or place, not its player (likely)
- what it hears of the others stayed: its source, or the distance to it (a note)
- a line or DI, of which nothing else is known: told from a larger change on

All pure.
"""

from __future__ import annotations

from dataclasses import dataclass

from replay.compare.judge_band import group_words
from replay.compare.model import ChannelChange, Expected, Moved, Told
from replay.compare.moves import LEAST_ASKED_DB
from replay.desk.model import Show
from replay.patch.model import Channel
from replay.report.phrases import setting
from replay.text import harmless

LEAST_WAY_DB = 4.5
"""Told where the bleed moved along; where the noise floor fell by as much as the bleed, whatever the level did. A lost
leg of a balanced line costs about 6 dB; players vary by 3 dB or so, and the bleed is known to 2 dB or better. Common
practice, no source."""

FLOOR_WITHIN_DB = 2.0

LEAST_SOURCE_DB = 6.0
"""Told (as a note) where only the source changed, or nothing else is known; common practice, no source."""

LEAST_ALONE_DB = 9.0
"""For the worse by itself, where neither bleed nor floor tells more; common practice, no source."""

LEAST_BLEED_DB = 4.0
STILL_BLEED_DB = 2.5
"""Bleed that moved by so much did move, by no more did not: it is known to 2 dB or better. In between it tells
nothing."""

FOLLOWS = 0.6
STAYS = 0.4
"""Shares of a change that the noise floor must reach to have followed, or stay below to have stayed."""

AGREE = 0.4
"""Every figure must show this share of the change."""

PAD_WITHIN_DB = 2.0
USUAL_PADS_DB = (10.0, 15.0, 20.0)
"""Pads of microphones, DI boxes and preamps; common practice."""

NOT_FOLLOWED_WITHIN_DB = 2.5

ALONE_KINDS = ("timecode", "talkback", "ambience", "other")
"""Kinds of whose level nothing is expected from day to day."""


@dataclass(frozen=True)
class _Evidence:
    follows: bool
    stays: bool
    floor_follows: bool
    floor_stays: bool


def level(change: ChannelChange, b: Show) -> Told | None:
    """The change of level of one channel, if it is worth being told."""
    moved = change.moved
    if moved is None or change.after.channel.kind in ALONE_KINDS or change.after.channel.use == "off":
        return None
    not_followed = _not_followed(change, moved)
    if not_followed is not None:
        return not_followed
    if _lost(moved):
        return _way(change, moved, _evidence(moved), b)
    if not _steady(moved):
        return None
    evidence = _evidence(moved)
    size = abs(moved.own_db)
    if evidence.follows and size >= LEAST_WAY_DB:
        return _way(change, moved, evidence, b)
    if _as_the_others(moved) or size < LEAST_SOURCE_DB:
        return None
    if evidence.stays:
        return _source(change, moved)
    return _alone(change, moved, evidence, b)


def _steady(moved: Moved) -> bool:
    """Whether every figure says the same of the direction, and much the same of the size."""
    rest = [figure - moved.recorded_db + moved.own_db for figure in moved.figures.values()]
    return len(rest) >= 2 and all(one * moved.own_db > 0 and abs(one) >= AGREE * abs(moved.own_db) for one in rest)


def _lost(moved: Moved) -> bool:
    """Whether bleed and noise floor fell by the same: then the way lost level, however loud it is played today."""
    if moved.bleed is None or moved.floor_db is None:
        return False
    way = moved.bleed.change_db
    return way <= -LEAST_WAY_DB and abs(moved.floor_db - way) <= FLOOR_WITHIN_DB


def _evidence(moved: Moved) -> _Evidence:
    own, bleed, floor = moved.own_db, moved.bleed, moved.floor_db
    way = 0.0 if bleed is None else bleed.change_db
    follows = (way * own > 0 and abs(way) >= LEAST_BLEED_DB) or _lost(moved)
    # The floor belongs to the way: where that is known, it is held against it and not against the player too.
    cause = way if follows else own
    share = floor / cause if floor is not None and cause else 0.0
    return _Evidence(
        follows=follows,
        stays=bleed is not None and abs(way) <= STILL_BLEED_DB,
        floor_follows=floor is not None and FOLLOWS <= share <= 2 - FOLLOWS,
        floor_stays=floor is not None and abs(share) <= STAYS,
    )


def _as_the_others(moved: Moved) -> bool:
    """Whether the others of its group moved along by enough to make it the band."""
    return moved.others_db is not None and abs(moved.own_db - moved.others_db) < LEAST_SOURCE_DB


def _not_followed(change: ChannelChange, moved: Moved) -> Told | None:
    """The patches state another gain, and the level is as it was."""
    stated = moved.expected.change_db
    if abs(stated) < LEAST_SOURCE_DB or moved.expected.advised or abs(moved.recorded_db) > NOT_FOLLOWED_WITHIN_DB:
        return None
    if abs(moved.own_db) < LEAST_SOURCE_DB:
        return None
    return Told(
        code="not-turned",
        worse=False,
        confidence="likely",
        channels=(change.number,),
        message=f"{_settings(change, moved.expected)}, but it is recorded as loud as before "
        f"({_signed(moved.recorded_db)} dB).",
        action=f"Read the gain off {_where(change.after.channel)} and write it into the patch, or turn it.",
        amount=round(moved.own_db, 1),
        unit="dB",
    )


def _way(change: ChannelChange, moved: Moved, evidence: _Evidence, b: Show) -> Told | None:
    assert moved.bleed is not None
    down = moved.bleed.change_db < 0
    if not down and evidence.floor_stays:
        return None  # What raises the level behind the microphone raises its noise too: something else went on.
    way = moved.bleed.change_db
    pad = _pad(change.after.channel, way, b)
    louder, hidden = "quieter" if down else "louder", moved.own_db * way <= 0 or abs(moved.own_db) < LEAST_ASKED_DB
    heard = f"hat it hears of the others is {abs(way):.1f} dB {louder}"
    if hidden:
        said = [f"W{heard}; its player makes up for it today ({_signed(moved.own_db)} dB in all)."]
    else:
        said = [f"{_amount(moved)}; w{heard} too: so much is not its player."]
    if pad is not None:
        said.append(f"As a pad of {pad:g} dB {'left in' if down else 'taken out'} would.")
    elif down and way > -LEAST_ALONE_DB:
        said.append("A lost leg of a balanced line costs about 6 dB.")
    said += _floor(moved, evidence)
    said += _unstated(moved)
    return Told(
        code="quieter" if down else "louder",
        worse=down and moved.expected.known,
        confidence="likely" if moved.expected.known else "possible",
        channels=(change.number,),
        message=" ".join(said),
        action=_action(change.after.channel, down, pad),
        amount=round(way if hidden else moved.own_db, 1),
        unit="dB",
    )


def _source(change: ChannelChange, moved: Moved) -> Told:
    assert moved.bleed is not None
    word = "softer or further away" if moved.own_db < 0 else "louder or closer"
    return Told(
        code="source",
        worse=False,
        confidence="possible",
        channels=(change.number,),
        message=f"{_amount(moved)}, but it hears the others as before ({_signed(moved.bleed.change_db)} dB): "
        f"its source is {word}.",
        action="Ask whether that is how the show will be.",
        amount=round(moved.own_db, 1),
        unit="dB",
    )


def _alone(change: ChannelChange, moved: Moved, evidence: _Evidence, b: Show) -> Told:
    down = moved.own_db < 0
    pad = _pad(change.after.channel, moved.own_db, b)
    sure = abs(moved.own_db) >= LEAST_ALONE_DB and moved.expected.known
    said = [f"{_amount(moved)}."]
    if moved.others_db is not None:
        said[0] = f"{_amount(moved)}; {group_words(moved.group)}: {_signed(moved.others_db)} dB."
    if pad is not None:
        said.append(f"As a pad of {pad:g} dB {'left in' if down else 'taken out'} would.")
    said += _floor(moved, evidence)
    said += _unstated(moved)
    return Told(
        code="quieter" if down else "louder",
        worse=down and sure,
        confidence="likely" if sure else "possible",
        channels=(change.number,),
        message=" ".join(said),
        action=_action(change.after.channel, down, pad),
        amount=round(moved.own_db, 1),
        unit="dB",
    )


def _action(channel: Channel, down: bool, pad: float | None) -> str:
    where = _where(channel)
    if channel.input not in ("mic", "rf"):
        return f"Look at the source's own volume, at a pad in its DI or line, and at the gain of {where}."
    if not down:
        return f"Compare gain and pad of {where} with the patch."
    if pad is not None:
        return f"Look for a pad at {where}, at the microphone or in its line; then compare the gain; then the cable."
    return f"Try another cable at {where}, then look at the microphone and its place; compare gain and pad."


def _floor(moved: Moved, evidence: _Evidence) -> list[str]:
    if moved.floor_db is None:
        return []
    if evidence.floor_follows:
        return [f"Its noise floor moved along ({_signed(moved.floor_db)} dB)."]
    if evidence.floor_stays:
        return ["Its noise floor stayed: it happens before the preamp."]
    return []


def _unstated(moved: Moved) -> list[str]:
    return [] if moved.expected.known else ["Its gain is not stated on both sides: a turned preamp looks the same."]


def _pad(channel: Channel, own_db: float, b: Show) -> float | None:
    """The pad that a change is as large as; None where there is none."""
    stated = b.patch.box(channel.socket.box).pad if channel.socket is not None else None
    near = [pad for pad in (stated, *USUAL_PADS_DB) if pad and abs(abs(own_db) - pad) <= PAD_WITHIN_DB]
    return min(near, key=lambda pad: (pad != stated, abs(abs(own_db) - pad)), default=None)


def _amount(moved: Moved) -> str:
    word = "quieter" if moved.own_db < 0 else "louder"
    text = f"{abs(moved.own_db):.1f} dB {word}"
    if moved.expected.known and moved.expected.change_db:
        return f"{text} than the settings explain ({_signed(moved.recorded_db)} dB as recorded)"
    return text if moved.expected.known else f"{text} as recorded"


def _settings(change: ChannelChange, settings: Expected) -> str:
    before, after = change.before.channel, change.after.channel
    parts = []
    if before.gain != after.gain:
        parts.append(f"gain {setting(before.gain)} -> {setting(after.gain)}")
    if before.pad != after.pad:
        parts.append(f"pad {'in' if after.pad else 'out'}")
    said = ", ".join(parts) or f"settings worth {_signed(settings.change_db)} dB"
    return f"The patch says {said}"


def _where(channel: Channel) -> str:
    return harmless(str(channel.socket)) if channel.socket is not None else f"channel {channel.number}"


def _signed(value: float) -> str:
    return f"{round(value, 1) + 0.0:+.1f}"
