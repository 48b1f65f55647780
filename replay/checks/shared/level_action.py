"""What to turn, in words, from the advice that the desk worked out."""

from __future__ import annotations

from replay.checks.shared import words
from replay.checks.shared.place import source_name
from replay.desk.model import ChannelView

_SOURCES = {
    "rf": "the pack or the receiver",
    "line": "the instrument's output",
    "di": "the instrument or the DI",
    "digital": "the player",
}


def source_words(view: ChannelView) -> str:
    """Where the level of a channel's source is set, before any preamp."""
    return _SOURCES.get(view.channel.input, "the source")


def turn(view: ChannelView, *, up: bool = False) -> str | None:
    """The channel's advice as a sentence without its full stop; None where there is no advice in that direction.

    `Turn riser 13 down by 10 dB (38 -> 28)`. Whoever owns or shares the preamp is asked first; radio and line sources
    are seen to before their preamp.
    """
    advice = view.advice
    if advice is None or (advice.gain_db != 0 and (advice.gain_db > 0) != up):
        return None
    direction = "up" if up else "down"
    change = words.plain(abs(advice.gain_db))
    where = source_name(view)
    if advice.at_source:
        return f"Bring it {direction} by {change} dB at {source_words(view)}"
    if advice.gain_db == 0 and advice.pad is None:
        return f"Bring it {direction} at {source_words(view)}: the preamp of {where} can give no more"
    settings = ""
    if advice.was_db is not None and advice.new_gain_db is not None:
        settings = f"{words.plain(advice.was_db)} -> {words.plain(advice.new_gain_db)}"
    if advice.pad is not None:
        then = f"set its gain {settings}" if settings else f"bring its level {direction} by {change} dB in all"
        text = f"mute it, put the pad of {where} {advice.pad} and {then}"
        if advice.pad == "out":
            text = f"mute it, take the pad of {where} out and {then}"
    else:
        text = f"turn {where} {direction} by {change} dB" + (f" ({settings})" if settings else "")
    first = [advice.ask] if advice.ask else []
    if view.channel.input in ("rf", "line"):
        first.append(f"see to {source_words(view)} first")
    text = "; then ".join([" and ".join(first), text]) if first else text
    return text[0].upper() + text[1:]


def rest_of(view: ChannelView) -> str:
    """How an expected show peak comes about: `: played peak -3.0 dBTP, rise 4 dB`."""
    played = view.recorded.played_peak_dbtp if view.recorded is not None else None
    if played is None or view.expected_peak_dbtp is None:
        return ""
    return f": played peak {words.level(played)}, rise {words.plain(view.expected_peak_dbtp - played)} dB"
