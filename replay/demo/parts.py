"""What each player does in one bar of a dance, and how the caller speaks."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from replay.demo import drums, tones, voices
from replay.demo.score import Score, chord, frames, into, step


@dataclass(frozen=True)
class Dance:
    """A dance: bars of `beats` beats with `steps` places each, `bpm` beats a minute, the key's note, two strains of
    chords (as scale steps, one a bar)."""

    name: str
    bpm: float
    beats: int
    steps: int
    tonic: int
    strains: tuple[tuple[int, ...], tuple[int, ...]]

    @property
    def bar(self) -> float:
        """A bar in seconds."""
        return self.beats * 60 / self.bpm


SYLLABLES = ("ai", "oa", "ae", "ie", "uo", "ao", "eo", "ui", "aa", "oo")


class Bar:
    """One bar in the making: where it lies, its chord, and the places of its melody."""

    def __init__(self, dance: Dance, start: float, degree: int, line: list[int], score: Score) -> None:
        self.dance, self.start, self.degree, self.line, self.score = dance, start, degree, line, score
        self.beat = 60 / dance.bpm
        self.place = self.beat / dance.steps

    def chord(self, lowest: int) -> tuple[int, ...]:
        """The bar's chord in the octave from `lowest`."""
        return chord(self.dance.tonic, self.degree, lowest)

    def note(self, place: int, lowest: int, shift: int = 0) -> int:
        """The melody's note at a place, its steps counted from the key's note in the octave from `lowest`."""
        return step(into(self.dance.tonic, lowest), self.line[place] + shift)

    def drums(self, first: bool, fill: bool, ride: bool) -> None:
        """The kit: a crash on the `first` bar of a section, toms to `fill` its last, a `ride` cymbal in some."""
        play, dice, beats = self.score.play, self.score.dice, self.dance.beats
        for beat in range(beats):
            at = self.start + beat * self.beat
            if beat == 0 or (beats == 4 and beat == 2):
                play("kick", at, drums.kick, dice.pick((0, 1, 2, 3)))
            if (beats == 4 and beat % 2 == 1) or (beats == 3 and beat == 2) or (beats == 2 and beat == 1):
                variant = dice.pick((0, 1, 2, 3))
                at_snare = at + dice.between(-0.003, 0.003)
                level = dice.between(0.85, 1.0)
                self.score.exact("snare", at_snare, drums.snare, variant, level=level)
                self.score.exact("wires", at_snare + 0.0006, drums.wires, variant, level=level)
            for place in range(self.dance.steps):
                accent = 1.0 if place == 0 else 0.6
                play(
                    "hat",
                    at + place * self.place,
                    drums.hat,
                    dice.pick(tuple(range(6))),
                    dice.happens(0.08),
                    level=accent,
                )
            if ride:
                play("cymbals", at, drums.cymbal, dice.pick((0, 1, 2)), False, level=0.45)
        if first:
            play("cymbals", self.start, drums.cymbal, dice.pick((0, 1)), True)
        if fill:
            places = beats * self.dance.steps
            for place in range(places // 2, places):
                at = self.start + place * self.place
                if place % 2:
                    play("tom-high", at, drums.tom, 112.0, dice.pick((0, 1, 2)))
                else:
                    play("tom-low", at, drums.tom, 79.0, dice.pick((0, 1, 2)))

    def bass(self) -> None:
        """Root and fifth, heard by pickup and amplifier alike."""
        root = into(step(self.dance.tonic, self.degree), 28)
        fifth = into(step(self.dance.tonic, self.degree + 4), 31)
        middle = self.dance.beats // 2 if self.dance.beats != 3 else 2
        for beat, note in ((0, root), (middle, fifth)):
            at = self.start + beat * self.beat + self.score.dice.between(-0.004, 0.004)
            size = frames(self.beat * (middle if beat == 0 else self.dance.beats - middle) * 0.95)
            level = self.score.dice.between(0.85, 1.0)
            self.score.exact("bass", at, tones.bass_line, note, min(size, 62000), level=level)
            self.score.exact("bass-amp", at, tones.bass_amp, note, min(size, 62000), level=level)

    def guitar(self, electric: bool) -> None:
        """Chords on the beat, and on the acoustic guitar between the beats too."""
        notes = self.chord(45)
        for beat in range(self.dance.beats):
            at = self.start + beat * self.beat
            if electric:
                self.score.play("electric", at, tones.electric, self.chord(54), frames(self.beat * 0.9))
            else:
                self.score.play(
                    "acoustic", at, tones.strum, (*notes, *(n + 12 for n in notes)), frames(self.beat), False
                )
                up = (*(n + 12 for n in notes),)
                off = at + (self.dance.steps - 1) * self.place
                self.score.play("acoustic", off, tones.strum, up, frames(self.place), True, level=0.6)

    def _tune(self, source: str, lowest: int, shift: int, make: Callable[..., np.ndarray], overlap: float) -> None:
        """The melody, quavers with some longer notes, on the beat; fiddles change the bow, reeds sound in octaves."""
        places = self.dance.beats * self.dance.steps
        place = 0
        while place < places:
            long = place % self.dance.steps == 0 and self.score.dice.happens(0.3)
            length = self.dance.steps if long else 1
            size = frames(length * self.place * overlap)
            note = self.note(place, lowest, shift)
            args: tuple[object, ...] = (note, size)
            if make is tones.fiddle:
                args = (note, size, place % 2 == 0)
            elif make is tones.treble_reeds:
                args = ((note, note + 12), size)
            self.score.play(source, self.start + place * self.place, make, *args)
            place += length

    def fiddle(self, second: bool) -> None:
        """The melody; the second fiddle plays it a third below."""
        self._tune("fiddle-2" if second else "fiddle-1", 67, -2 if second else 0, tones.fiddle, 1.02)

    def whistle(self) -> None:
        """The melody, an octave up."""
        self._tune("whistle", 74, 0, tones.whistle, 0.97)

    def mandolin(self) -> None:
        """The melody, picked."""
        self._tune("mandolin", 67, 0, tones.mandolin, 1.0)

    def accordion(self, tune: bool) -> None:
        """The right hand plays the tune or chords, the left hand bass notes and chords in turn."""
        play = self.score.play
        if tune:
            self._tune("accordion-treble", 62, 0, tones.treble_reeds, 0.95)
        else:
            for beat in range(self.dance.beats):
                play(
                    "accordion-treble",
                    self.start + beat * self.beat,
                    tones.treble_reeds,
                    self.chord(60),
                    frames(self.beat * 0.7),
                )
        root = into(step(self.dance.tonic, self.degree), 41)
        for beat in range(self.dance.beats):
            at = self.start + beat * self.beat
            notes = (root,) if beat == 0 or (self.dance.beats == 4 and beat == 2) else self.chord(52)
            play("accordion-bass", at, tones.bass_reeds, notes, frames(self.beat * 0.6))

    def brass(self) -> None:
        """A long and a short note of the chord."""
        low, middle, _ = self.chord(50)
        high = self.chord(62)[2]
        for beat in range(0, self.dance.beats, 2):
            at = self.start + beat * self.beat
            size = frames(self.beat * (1.6 if beat == 0 else 0.8))
            self.score.play("trumpet", at, tones.brass, "trumpet", high, size)
            self.score.play("trombone", at, tones.brass, "trombone", self.score.dice.pick((low, middle)), size)

    def keys(self) -> None:
        """Chords, on both sides at once."""
        for beat in range(0, self.dance.beats, 2):
            at = self.start + beat * self.beat
            size = frames(self.beat * 1.9)
            level = self.score.dice.between(0.85, 1.0)
            for source, right in (("keys-left", False), ("keys-right", True)):
                self.score.exact(source, at, tones.keys, self.chord(53), size, right, level=level)

    def sing(self, source: str, voice: str, lowest: int, shift: int, rest: bool) -> None:
        """One syllable a beat; the last beat of every second bar is for breath."""
        dice = self.score.dice
        for beat in range(self.dance.beats - (1 if rest else 0)):
            note = self.note(beat * self.dance.steps, lowest, shift)
            size = frames(self.beat * dice.pick((0.8, 0.9, 0.95)))
            syllable = dice.pick(SYLLABLES), dice.pick(voices.CONSONANTS)
            self.score.play(
                source, self.start + beat * self.beat, voices.sung, voice, note, size, *syllable, loose=0.01
            )

    def machine(self, number: int) -> None:
        """Click and playback: in time to the frame. Every stroke of the shaker is another one."""
        exact = self.score.exact
        root = into(step(self.dance.tonic, self.degree), 45)
        for side, right in (("left", False), ("right", True)):
            exact(
                f"playback-{side}",
                self.start,
                tones.pad,
                (root, root + 7, root + 12),
                frames(self.dance.bar * 1.1),
                right,
            )
        for beat in range(self.dance.beats):
            at = self.start + beat * self.beat
            exact("click", at, drums.beep, 1500.0 if beat == 0 else 1000.0, level=1.0 if beat == 0 else 0.85)
            for place in range(self.dance.steps):
                stroke = (number * self.dance.beats + beat) * self.dance.steps + place
                exact("playback-left", at + place * self.place, drums.shaker, stroke, level=0.35)
                exact("playback-right", at + place * self.place, drums.shaker, stroke, level=0.2)

    def dancers(self, clapping: bool) -> None:
        """Feet on the beats (and on the stomp board), hands between them."""
        for beat in range(self.dance.beats):
            at = self.start + beat * self.beat
            if beat % 2 == 0:
                self.score.play("dancers", at, drums.stomp, self.score.dice.pick(tuple(range(8))), loose=0.02)
                self.score.play("stomp", at, drums.stomp, self.score.dice.pick((0, 1, 2)))
            elif clapping:
                self.score.play("dancers", at, drums.clap, self.score.dice.pick(tuple(range(6))), level=0.8, loose=0.02)


def speak(score: Score, source: str, voice: str, start: float, stop: float, pitch: float) -> None:
    """Phrases of five to nine syllables, pitch falling through each, with pauses for breath."""
    dice = score.dice
    at = start
    while at < stop - 0.5:
        for number in range(dice.pick((5, 6, 7, 8, 9))):
            size = dice.between(0.11, 0.2)
            if at + size > stop:
                break
            high = round(pitch * dice.between(1.1, 1.35) * (1 - 0.045 * number), 1)
            score.play(
                source, at, voices.spoken, voice, high, round(high * 0.88, 1), frames(size),
                dice.pick(SYLLABLES), dice.pick(voices.CONSONANTS),
            )  # fmt: skip
            at += size + dice.between(0.01, 0.05)
        at += dice.between(0.25, 0.6)
