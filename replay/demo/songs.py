"""The dances of the evening: who plays when. All tunes are composed here, by dice."""

from __future__ import annotations

from replay.demo import drums
from replay.demo.parts import Bar, Dance, speak
from replay.demo.score import Dice, Event, Score, melody

DANCES = (
    Dance("reel", 108, 4, 2, 62, ((0, 0, 3, 4, 0, 5, 3, 4), (5, 3, 0, 4, 5, 3, 4, 0))),
    Dance("waltz", 126, 3, 2, 67, ((0, 5, 3, 4, 0, 1, 4, 0), (3, 0, 1, 4, 3, 0, 4, 0))),
    Dance("jig", 112, 2, 3, 69, ((0, 3, 0, 4, 0, 3, 4, 0), (0, 4, 5, 3, 0, 4, 3, 0))),
    Dance("polka", 122, 4, 2, 67, ((0, 0, 4, 4, 1, 4, 0, 0), (3, 3, 0, 0, 1, 4, 0, 4))),
)


def song(number: int, start: float, bars: int, machine: bool, closing: float) -> list[Event]:
    """A song of the whole band from `start`, and `closing` seconds of applause and announcements after it."""
    dance = DANCES[number % len(DANCES)]
    score = Score(Dice("song", number))
    places = dance.beats * dance.steps
    lines = [melody(score.dice, strain, places, dance.steps) for strain in dance.strains]
    section_bars = 4 if bars >= 32 else 2
    for count in range(bars):
        section, inside = divmod(count, section_bars)
        strain, turn = count // 16 % 2, count % 8
        line = lines[strain][turn * places : (turn + 1) * places]
        bar = Bar(dance, start + count * dance.bar, dance.strains[strain][turn], line, score)
        bar.drums(inside == 0, inside == section_bars - 1, section % 2 == 1)
        bar.bass()
        bar.guitar(section % 2 == 1)
        if section % 3 == 2:
            bar.keys()
        else:
            bar.accordion(section % 3 == 1)
        if section % 3 != 1:
            bar.fiddle(False)
        else:
            bar.whistle()
        if section % 3 != 2:
            bar.fiddle(True)
        if section % 3 == 0:
            bar.mandolin()
        if section % 2 == 1:
            bar.brass()
        else:
            bar.sing("voice-1", "lead", 50, 0, inside % 2 == 1)
            bar.sing("backing-1", "low", 45, -2, inside % 2 == 1)
            bar.sing("backing-2", "high", 57, 2, inside % 2 == 1)
        if section % 4 == 2:
            bar.sing("voice-2", "second", 59, 2, inside % 2 == 1)
        if machine:
            bar.machine(count)
        bar.dancers(section % 4 == 3)
        if inside == 0 and section % 2 == 1:
            speak(score, "caller", "caller", bar.start, bar.start + min(2.4, dance.bar * 1.1), 135.0)
    end = start + bars * dance.bar
    score.play("dancers", end + 0.2, drums.applause, number % 4, max(1.0, min(5.0, closing * 0.6)), level=0.8)
    speak(score, "caller", "caller", end + closing * 0.3, end + closing * 0.9, 125.0)
    return score.events


def trio(start: float, stop: float) -> list[Event]:
    """A few seconds of the opening trio: fiddle, accordion, double bass, a stomp board and two voices."""
    dance = DANCES[0]
    score = Score(Dice("trio"))
    places = dance.beats * dance.steps
    line = melody(score.dice, dance.strains[0], places, dance.steps)
    count = 0
    while start + count * dance.bar < stop:
        here = line[count * places : (count + 1) * places]
        bar = Bar(dance, start + count * dance.bar, dance.strains[0][count], here, score)
        bar.bass()
        bar.fiddle(False)
        bar.accordion(False)
        bar.sing("voice-1", "second", 59, 0, False)
        bar.sing("backing-1", "low", 45, -2, False)
        bar.dancers(False)
        count += 1
    speak(score, "caller", "caller", start + 0.3, stop - 0.2, 135.0)
    return score.events
