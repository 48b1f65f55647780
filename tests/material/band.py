"""The music: which source plays when, in songs with pauses between them, after a line check if there is one.

A schedule is fixed by a seed; each source has a stream of chance of its own, so that leaving one out changes no other.
"""

from __future__ import annotations

import zlib
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np

from tests.material.cast import SOURCES, Line, Source
from tests.material.midi import Note, render
from tests.material.samples import hits, say

BEATS = 4
SLOT_S = 15.0
LEAD_S = 0.5
REST_S = 2.4
DAMP_S = 0.8
"""A song fills its slot but for a lead and a rest; everything is damped within 0.8 s of its end."""

PROGRESSIONS = ((0, 5, 3, 4), (0, 3, 4, 3), (5, 3, 0, 4), (0, 4, 5, 3))
SCALE = (0, 2, 4, 5, 7, 9, 11)

PHRASES = (
    "over the hill and down the lane we go",
    "turn around and come back home again",
    "the river runs below the mill tonight",
    "hold my hand and never mind the rain",
    "one more dance before the lights go down",
    "all the stars are out above the yard",
)
CHECKS = ("check one two, one two", "one two, hey, one two, check")
CALLS = (
    "take your partners for the next dance",
    "circle to the left and circle to the right",
    "thank you, that was a fine one",
    "and now the long lines, forward and back",
)


@dataclass(frozen=True)
class Song:
    """A stretch in which the band plays: `start` and `stop` in s, `beat` s long beats, key (pitch class), chords."""

    start: float
    stop: float
    beat: float
    key: int
    progression: tuple[int, ...]

    def bars(self) -> Iterator[tuple[int, float, tuple[int, ...]]]:
        """(number, start s, pitch classes of its chord) of every whole bar."""
        length = self.beat * BEATS
        for bar in range(int((self.stop - self.start) / length)):
            degree = self.progression[bar % len(self.progression)]
            chord = tuple((self.key + SCALE[(degree + step) % 7]) % 12 for step in (0, 2, 4))
            yield bar, self.start + bar * length, chord


@dataclass(frozen=True)
class Schedule:
    """Songs; turns of the line check as (source name, start, stop); cuts in s where slots meet; the whole length."""

    songs: tuple[Song, ...]
    turns: tuple[tuple[str, float, float], ...]
    cuts: tuple[float, ...]
    seconds: float


def chance(seed: int, *what: object) -> np.random.Generator:
    """A stream of chance of its own for everything that has a name."""
    return np.random.default_rng([seed, zlib.crc32(repr(what).encode())])


def schedule(
    chosen: list[Line],
    seed: int,
    seconds: float,
    *,
    line_check: bool = False,
    turn_s: float = 2.5,
    slot_s: float = SLOT_S,
) -> Schedule:
    """Songs in slots of about `slot_s` for `seconds`; before them, if wanted, a line check in the list's order."""
    turns = []
    now = 0.0
    if line_check:
        now = 1.0
        for source in dict.fromkeys(line.source for line in chosen):
            if SOURCES[source].play in ("", "ltc"):
                continue
            turns.append((source, now, now + turn_s))
            now += turn_s + 1.2
        now = round(now + 1.0, 1)
    count = max(1, round(seconds / slot_s))
    slot = seconds / count
    rng = chance(seed, "songs")
    songs = []
    for place in range(count):
        start = now + place * slot
        songs.append(
            Song(
                start=start + LEAD_S,
                stop=start + slot - REST_S,
                beat=60 / float(rng.uniform(100, 138)),
                key=int(rng.integers(12)),
                progression=PROGRESSIONS[int(rng.integers(len(PROGRESSIONS)))],
            )
        )
    cuts = tuple(now + place * slot for place in range(count + 1))
    return Schedule(songs=tuple(songs), turns=tuple(turns), cuts=cuts, seconds=now + seconds)


def _at_or_above(pitch_class: int, low: int) -> int:
    return low + (pitch_class - low) % 12


def _drum_beats(piece: str, plan: Schedule, rng: np.random.Generator) -> list[tuple[float, float]]:
    """(time s, strength 0..1) of every hit of a piece."""
    out = []
    for song in plan.songs:
        for bar, start, _ in song.bars():
            fill = bar % 4 == 3
            places = {
                "kick": [0, 2, 2.5] if bar % 2 else [0, 1.5, 2],
                "snare": [1, 3] if not fill else [1, 2.5, 3, 3.5],
                "hat": [place / 2 for place in range(8)] if not fill else [0, 0.5, 1, 1.5],
                "tom1": [2, 2.25] if fill else [],
                "tom2": [2.5, 2.75] if fill else [],
                "tom3": [3, 3.25, 3.5] if fill else [],
                "crash": [0] if bar % 4 == 0 else [],
                "ride": [0, 1, 2, 3] if bar % 8 > 3 else [],
            }.get(piece, [0, 0.5, 1, 1.5, 2, 2.5, 3, 3.5])
            out += [(start + place * song.beat, float(rng.uniform(0.7, 1.0))) for place in places]
    for _, start, stop in _turns_of(piece, plan):
        out += [(at, float(rng.uniform(0.7, 1.0))) for at in np.arange(start, stop - 0.3, 0.5)]
    return out


def _turns_of(name: str, plan: Schedule) -> list[tuple[str, float, float]]:
    return [turn for turn in plan.turns if turn[0] == name]


def _play_hits(
    source: Source, plan: Schedule, kit: str, rng: np.random.Generator, rate: int, frames: int
) -> np.ndarray:
    piece = str(source.what)
    sounds = hits("hands" if piece in ("bongo high", "cajon") else kit, piece, rate)
    out = np.zeros(frames, np.float32)
    for at, strength in _drum_beats(source.name, plan, rng):
        # Only the harder hits: a drummer at a show does not touch the kit with the fingertips.
        pick = len(sounds) - 1 - int(rng.integers(min(3, len(sounds))))
        sound = sounds[pick] * np.float32(strength / max(float(np.abs(sounds[pick]).max()), 0.5))
        first = round(at * rate)
        room = min(len(sound), frames - first)
        out[first : first + room] += sound[:room]
    return out


def notes(source: Source, plan: Schedule, rng: np.random.Generator) -> tuple[Note, ...]:
    """What a pitched instrument plays."""
    out: list[Note] = []

    def note(start: float, length: float, pitch: int) -> None:
        out.append((round(start, 3), round(length, 3), pitch, int(rng.integers(88, 112))))

    rests = int(rng.integers(3, 6))
    for song in plan.songs:
        for bar, start, chord in song.bars():
            pitches = [_at_or_above(tone, source.low) for tone in chord]
            beat = song.beat
            if source.play == "bass":
                for eighth in range(8):
                    step = 0 if eighth < 6 else int(rng.integers(3))
                    note(start + eighth * beat / 2, beat * 0.45, pitches[step])
            elif source.play == "comp":
                for place in (0, 1.5, 2, 3.5) if bar % 2 else (0, 1, 2, 3):
                    for pitch in pitches:
                        note(start + place * beat, beat * 0.8, pitch)
            elif source.play in ("pad", "stereo"):
                for pitch in pitches:
                    note(start, beat * 3.9, pitch)
                if source.play == "stereo":
                    for place in range(4):
                        note(start + place * beat, beat * 0.9, pitches[place % 3] + 12)
            elif bar % rests != rests - 1:
                for place in np.arange(0, 4, 0.5)[rng.random(8) < 0.7]:
                    note(
                        start + float(place) * beat,
                        beat * 0.48,
                        pitches[int(rng.integers(3))] + 12 * int(rng.integers(2)),
                    )
    for _, start, stop in _turns_of(source.name, plan):
        for step, at in enumerate(np.arange(start, stop - 0.45, 0.5)):
            note(float(at), 0.45, source.low + SCALE[step % 7])
    return tuple(sorted(out))


def _play_voice(source: Source, plan: Schedule, rng: np.random.Generator, rate: int, frames: int) -> np.ndarray:
    out = np.zeros(frames, np.float32)

    def put(text: str, start: float, stop: float, speed: int) -> None:
        words = say(text, str(source.what), rate, words_a_minute=speed, pitch=source.pitch)
        first = round(start * rate)
        room = min(len(words), round((stop - start) * rate), frames - first)
        loud = np.float32(rng.uniform(0.75, 1.0))
        if room > 0:
            said = words[:room] * loud
            tail = min(room, round(0.03 * rate))
            said[-tail:] *= np.linspace(1, 0, tail, dtype=np.float32)
            out[first : first + room] += said

    if source.play == "voice":
        every = 2
        for song in plan.songs:
            for bar, start, _ in song.bars():
                if bar % every == 0 and rng.random() < 0.85:
                    put(PHRASES[int(rng.integers(len(PHRASES)))], start + song.beat / 2, song.stop, 110)
    else:
        # People who speak do it between the songs, and once over the music.
        for song in plan.songs:
            put(CALLS[int(rng.integers(len(CALLS)))], song.stop + 0.2, song.stop + 1.9, 190)
            if source.name == "caller":
                put(CALLS[int(rng.integers(len(CALLS)))], song.start + 2.0, song.stop, 160)
    for _, start, stop in _turns_of(source.name, plan):
        put(CHECKS[int(rng.integers(len(CHECKS)))], start, stop, 140)
    return out


def _play_clicks(plan: Schedule, rate: int, frames: int) -> np.ndarray:
    """10 ms of 1 kHz on every beat (1.5 kHz on the first of a bar), zero in between."""
    out = np.zeros(frames, np.float32)
    time = np.arange(round(0.01 * rate)) / rate
    shape = np.sin(np.pi * time / 0.01) ** 0.5
    stretches = [(song.start, song.stop, song.beat) for song in plan.songs]
    stretches += [(start, stop, 0.5) for _, start, stop in _turns_of("click", plan)]
    for start, stop, beat in stretches:
        for count, at in enumerate(np.arange(start, stop - 0.02, beat)):
            first = round(float(at) * rate)
            tone = shape * np.sin(2 * np.pi * (1500 if count % BEATS == 0 else 1000) * time)
            out[first : first + len(tone)] += tone.astype(np.float32)
    return out


def _damp(sound: np.ndarray, plan: Schedule, rate: int) -> None:
    """Fade what still rings after songs and turns, to exact zero: so slots can be put in another order."""
    ends = [song.stop for song in plan.songs] + [stop for _, _, stop in plan.turns]
    starts = [song.start for song in plan.songs] + [start for _, start, _ in plan.turns]
    for end in ends:
        first, last = round(end * rate), round((end + DAMP_S) * rate)
        later = min([start for start in starts if start > end], default=plan.seconds)
        part = sound[..., first:last]
        part *= np.linspace(1, 0, last - first, dtype=np.float32)[: part.shape[-1]] ** 2
        sound[..., last : round(later * rate)] = 0


def play(names: list[str], plan: Schedule, *, seed: int, rate: int, kit: str) -> dict[str, np.ndarray]:
    """Each source as it sounds by itself: float32 of shape (frames,) or, for stereo sources, (2, frames); peak 1.

    Sources that make no sound of this kind (`nobody`, `ltc`) are left out.
    """
    frames = round(plan.seconds * rate)

    def one(name: str) -> np.ndarray:
        source = SOURCES[name]
        rng = chance(seed, name)
        if source.play == "hits":
            sound = _play_hits(source, plan, kit, rng, rate, frames)
        elif source.play in ("voice", "speech"):
            sound = _play_voice(source, plan, rng, rate, frames)
        elif source.play == "clicks":
            sound = _play_clicks(plan, rate, frames)
        else:
            both = render(int(source.what), notes(source, plan, rng), rate, frames)
            sound = both.copy() if source.play == "stereo" else both.mean(axis=0)
        if source.play != "speech":
            _damp(sound, plan, rate)
        loudest = float(np.abs(sound).max())
        return sound / np.float32(loudest) if loudest > 0 else sound

    names = [name for name in names if SOURCES[name].play not in ("", "ltc")]
    with ThreadPoolExecutor(2) as pool:
        return dict(zip(names, pool.map(one, names), strict=True))
