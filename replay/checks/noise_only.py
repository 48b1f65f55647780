"""A track holds nothing but steady noise: the preamp is alive, its source is not.

What it is
    Noise of the preamp or of an open line from start to end, and nothing that anybody played.

Why it matters before a show
    The source was not recorded: microphone, cable, phantom power or a mute stood in the way.

How it is told
    Active for less than a second, played peak below -45 dBTP, and steady (the 100 ms levels stay within 6 dB). A
    fault for channels that must play, one note for all spares, guests and talkback. Likely, because a source that
    nobody played on a quiet stage looks the same.

What can fool it
    An instrument that was plugged in and never played. A dead microphone whose cable picks up crackle is not steady.

What to do
    Check microphone, cable, phantom power and mutes from the source to the socket, then record again.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from replay.checks import words
from replay.checks.finding import Finding
from replay.checks.heard import LIMITS as HEARD
from replay.checks.heard import only_noise, peak_of
from replay.checks.limit import Limit
from replay.checks.place import of_tracks, source_name, views_of
from replay.checks.spares import must_play, one_note
from replay.desk.model import ChannelView, Show

CODE = "noise-only"
TITLE = "nothing but noise"
LIMITS: Mapping[str, Limit] = HEARD


def check(show: Show) -> Iterator[Finding]:
    spares = []
    for track in show.tracks:
        if not only_noise(show, track):
            continue
        views = views_of(show, track)
        if not must_play(views):
            spares.append(track)
            continue
        peak = peak_of(track)
        yield Finding(
            code=CODE,
            severity="fault",
            confidence="likely",
            message=f"Track {track.track.number} holds nothing but steady noise (peaks at {words.level(peak or 0.0)}): "
            "the preamp is alive, the source is not.",
            action=_action(views[0]),
            amount=peak,
            unit="dBTP",
            **of_tracks(show, [track.track.number]),
        )
    yield from one_note(show, CODE, spares, "steady noise")


def _action(view: ChannelView) -> str:
    channel = view.channel
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
