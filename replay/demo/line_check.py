"""The line check at the start of the take: every source alone, in the order of the input list.

Spares are passed over, and the room microphones hear all the others anyway.
"""

from __future__ import annotations

from collections.abc import Callable

from replay.demo import drums, tones
from replay.demo.parts import speak
from replay.demo.score import Dice, Event, Score, frames

ORDER = (
    "kick", "snare", "hat", "tom-high", "tom-low", "cymbals", "bass", "acoustic", "electric", "accordion-treble",
    "accordion-bass", "fiddle-1", "fiddle-2", "whistle", "trumpet", "trombone", "voice-1", "voice-2", "backing-1",
    "keys", "caller", "playback", "click",
)  # fmt: skip
"""Sources in the order of the input list; a stereo pair, and the microphones of one source, speak together."""

LONGEST = 4.6
"""Seconds for each source, its pause included, where there is time for them."""

SCALE = (0, 2, 4, 5, 7, 5, 4, 2)


def line_check(start: float, each: float) -> list[Event]:
    """The line check from `start` seconds, with `each` seconds for every source, a quarter of them a pause."""
    score = Score(Dice("line check"))
    for number, source in enumerate(ORDER):
        begin = start + number * each
        _alone(score, source, begin, begin + 0.75 * each)
    return score.events


def _alone(score: Score, source: str, start: float, stop: float) -> None:
    if source in ("voice-1", "voice-2", "backing-1", "caller"):
        voice, pitch = {
            "voice-1": ("lead", 120.0),
            "voice-2": ("second", 205.0),
            "backing-1": ("low", 110.0),
            "caller": ("caller", 130.0),
        }[source]
        speak(score, source, voice, start, stop, pitch)
        return
    if source == "playback":
        for side, right in (("left", False), ("right", True)):
            score.exact(f"playback-{side}", start, tones.pad, (50, 57, 62), frames(stop - start), right)
        return
    every, sound = _sounds(source)
    count = max(1, int((stop - start) / every))
    for number in range(count):
        at = start + number * every
        room = min(every, stop - at)
        sound(score, at, number, room)


def _sounds(source: str) -> tuple[float, Callable[[Score, float, int, float], None]]:
    """Seconds from one sound of this source to the next, and what writes one down."""
    scale = SCALE

    def hits(make: Callable, *args: object) -> Callable[[Score, float, int, float], None]:
        return lambda score, at, number, room: score.play(source, at, make, *args)

    def snare(score: Score, at: float, number: int, room: float) -> None:
        score.exact("snare", at, drums.snare, number % 4)
        score.exact("wires", at + 0.0006, drums.wires, number % 4)

    def bass(score: Score, at: float, number: int, room: float) -> None:
        note = 31 + scale[number % 8]
        score.exact("bass", at, tones.bass_line, note, frames(room))
        score.exact("bass-amp", at, tones.bass_amp, note, frames(room))

    def keys(score: Score, at: float, number: int, room: float) -> None:
        notes = tuple(note + scale[number % 8] for note in (55, 59, 62))
        score.exact("keys-left", at, tones.keys, notes, frames(room), False)
        score.exact("keys-right", at, tones.keys, notes, frames(room), True)

    def notes(make: Callable, lowest: int, *after: object, chord: bool = False) -> Callable:
        def write(score: Score, at: float, number: int, room: float) -> None:
            note = lowest + scale[number % 8]
            score.play(source, at, make, (note, note + 4, note + 7) if chord else note, frames(room), *after)

        return write

    def blown(body: str, lowest: int) -> Callable[[Score, float, int, float], None]:
        return lambda score, at, number, room: score.play(
            source, at, tones.brass, body, lowest + scale[number % 8], frames(room * 0.95)
        )

    return {
        "kick": (0.45, hits(drums.kick, 1)),
        "snare": (0.45, snare),
        "hat": (0.22, hits(drums.hat, 2, False)),
        "tom-high": (0.45, hits(drums.tom, 112.0, 1)),
        "tom-low": (0.45, hits(drums.tom, 79.0, 1)),
        "cymbals": (0.8, hits(drums.cymbal, 1, True)),
        "bass": (0.4, bass),
        "acoustic": (0.4, notes(tones.strum, 48, False, chord=True)),
        "electric": (0.4, notes(tones.electric, 55, chord=True)),
        "accordion-treble": (0.4, notes(tones.treble_reeds, 62, chord=True)),
        "accordion-bass": (0.4, notes(tones.bass_reeds, 43, chord=True)),
        "fiddle-1": (0.3, notes(tones.fiddle, 67, True)),
        "fiddle-2": (0.3, notes(tones.fiddle, 62, False)),
        "whistle": (0.3, notes(tones.whistle, 74)),
        "trumpet": (0.35, blown("trumpet", 62)),
        "trombone": (0.35, blown("trombone", 50)),
        "keys": (0.5, keys),
        "click": (0.5, hits(drums.beep, 1000.0)),
    }[source]
