"""A track holds nothing but steady noise, or nothing but what it hears of the others: its own source is not there.

What it is
    Noise of the preamp or of an open line from start to end, and nothing that anybody played. Or an open microphone
    that hears the stage, and no source of its own.

Why it matters before a show
    The source was not recorded: microphone, cable, phantom power or a mute stood in the way, or nobody played it.

How it is told
    Noise: played peak below -45 dBTP, and steady (the 100 ms levels stay within 6 dB). What is steady above -60 dBFS
    must be white noise and hum of the mains for the most part: a quiet drone is neither. A fault for channels that must
    play, one note for all spares, guests and talkback. Likely, because a source that nobody played on a quiet stage
    looks the same. It is also said where the stage was loud and three or more other microphones hear it while this one
    hears nothing: then it does not reach the preamp. And where the input list has a capacitor microphone or an active
    DI (by the words of its `mic` column) and its phantom power off. Where sources lie on each other's tracks, a dead
    track is explained by that if nobody's source came to lie there; if one that must play did, it is told too.

    Loud noise: the 100 ms levels stay within 3 dB for 20 s or more, from the first to the last, and the octaves vary as
    those of noise do; test noise, or hiss. A warning for channels that must play, likely; not asked of ambience,
    playback, timecode and click.

    Only the others: the power of the track over time is a fixed mix of several other tracks', from moment to moment
    within 2 dB, and never 5 dB above it for two seconds in all. Asked of microphones of singers, speakers, winds,
    strings and keys only, and not where the mix is of their own kind (a choir, a section, a pair). A warning for
    channels that must play, likely; for others nothing: an open microphone that nobody uses is no signal of its own.

What can fool it
    An instrument that was plugged in and never played. A dead microphone whose cable picks up crackle is not steady.
    A player who does just what others do, all the time.

What to do
    Check microphone, cable, phantom power and mutes from the source to the socket, then record again.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from replay.checks.shared import words
from replay.checks.shared.heard import LIMITS as HEARD
from replay.checks.shared.heard import only_noise, only_others, peak_of
from replay.checks.shared.limit import Limit
from replay.checks.shared.loud_noise import is_loud_noise
from replay.checks.shared.lying import lying
from replay.checks.shared.place import channel_name, of_tracks, source_name, views_of
from replay.checks.shared.spares import must_play, one_note
from replay.desk.model import ChannelView, Show, TrackView
from replay.findings.finding import Finding
from replay.findings.settle import DEAD_TOO
from replay.patch.kinds import words_of
from replay.patch.model import Channel

CODE = "noise-only"
TITLE = "nothing but noise"
LIMITS: Mapping[str, Limit] = HEARD

HEARS_DB = 8.0
"""A microphone that lies so far above its quiet room while the stage is loud hears the stage."""

LEAST_HEARING = 3

CAPACITOR = frozenset({"capacitor", "condenser", "condensers", "cond", "electret", "kondensator"})
OWN_SUPPLY = frozenset({"valve", "tube", "battery", "passive"})
"""Words of the `mic` column by which a microphone needs phantom power, and by which it does not."""


def check(show: Show) -> Iterator[Finding]:
    spares = []
    lie = lying(show)
    for track in show.tracks:
        noise = only_noise(show, track)
        views = views_of(show, track)
        if not noise and must_play(views) and is_loud_noise(show, track):
            yield _loud(show, track)
            continue
        if not noise and not only_others(show, track):
            continue
        if not must_play(views):
            if noise:
                spares.append(track)
            continue
        lost = [view for view in lie.get(track.track.number, ()) if view.channel.use == "must"]
        yield _noise(show, track, views[0], lost) if noise else _others(show, track, views[0])
    yield from one_note(show, CODE, spares, "steady noise")


def _noise(show: Show, track: TrackView, view: ChannelView, lost: Sequence[ChannelView]) -> Finding:
    """`lost` are the channels whose sources should lie on this track, as sources on each other's tracks tell."""
    peak = peak_of(track)
    text = f"Track {track.track.number} holds nothing but steady noise (peaks at {words.level(peak or 0.0)}): "
    hearing = _hearing(show, track) if view.channel.input == "mic" else 0
    if hearing >= LEAST_HEARING:
        text += f"the preamp is alive, and hears nothing of the stage that {hearing} other microphones hear."
    else:
        text += "the preamp is alive, the source is not."
    if _lacks_phantom(view.channel):
        text += f" {_what(view.channel)} needs phantom power, which the input list has off."
    if lost:
        text += (
            f" The source of {words.listed([channel_name(one) for one in lost])} came to lie here, and it is dead too."
        )
    return Finding(
        code=CODE,
        severity="fault",
        confidence="likely",
        message=text,
        action=_action(view),
        amount=peak,
        unit="dBTP",
        key=DEAD_TOO if lost else "",
        **of_tracks(show, [track.track.number]),
    )


def _loud(show: Show, track: TrackView) -> Finding:
    text = "holds nothing but steady noise from end to end, too loud for a preamp's"
    action = "Record it with its source; if that was on, find what hisses."
    return _no_source(show, track, text, ": a test signal, or a line that hisses.", action, "loud")


def _others(show: Show, track: TrackView, view: ChannelView) -> Finding:
    text = "hears the others on the stage and no source of its own"
    action = f"See who was to use {source_name(view)}; record it with its source, or set its use to may."
    return _no_source(show, track, text, ".", action, "others")


def _no_source(show: Show, track: TrackView, text: str, end: str, action: str, key: str) -> Finding:
    """What is there and is no source, with its peak between `text` and `end`."""
    peak = peak_of(track)
    return Finding(
        code=CODE,
        severity="warning",
        confidence="likely",
        message=f"Track {track.track.number} {text} (peaks at {words.level(peak or 0.0)}){end}",
        action=action,
        amount=peak,
        unit="dBTP",
        key=key,
        **of_tracks(show, [track.track.number]),
    )


def _hearing(show: Show, track: TrackView) -> int:
    """How many other microphones hear a loud stage."""
    return sum(
        1
        for other in show.tracks
        if other is not track
        and (heard := show.evidence.bleed.get(other.track.number)) is not None
        and heard.floor_db >= HEARS_DB
        and any(view.channel.input == "mic" for view in views_of(show, other))
    )


def _lacks_phantom(channel: Channel) -> bool:
    """Whether what is plugged in needs phantom power by the input list's words, and that is off there."""
    said = frozenset(words_of(channel.mic))
    if channel.phantom != "no" or said & OWN_SUPPLY:
        return False
    return bool(said & CAPACITOR) if channel.input == "mic" else channel.input == "di" and "active" in said


def _what(channel: Channel) -> str:
    return "An active DI" if channel.input == "di" else "A capacitor microphone"


def _action(view: ChannelView) -> str:
    channel = view.channel
    if _lacks_phantom(channel):
        what = "DI, instrument" if channel.input == "di" else "microphone, mute"
        return f"Mute, give {source_name(view)} phantom power; if it stays dead, check {what} and cable. Record again."
    if channel.input == "mic":
        phantom = {
            "yes": "microphone, cable and phantom power",
            "no": "microphone, cable and mute (and whether it needs phantom power, which the input list has off)",
            "elsewhere": "microphone, cable and the phantom power at the split",
            "unknown": "microphone, cable, mute and phantom power (which the input list does not state)",
        }[channel.phantom]
    elif channel.input == "rf":
        phantom = "pack, receiver, its mute and the cable"
    elif channel.input == "di":
        phantom = "instrument, DI and cable"
    else:
        phantom = "source, its output and the cable"
    return f"Check {phantom} at {source_name(view)}, then record again."
