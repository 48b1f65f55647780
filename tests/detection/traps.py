"""Healthy sounds that are easily taken for a sick signal: what stands like hum, steps like a gain, falls like a mute,
grows like feedback. Each must give no fault and no warning.

The takes are half a minute long, and each channel also hears its preamp's and its room's noise.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from scipy.ndimage import uniform_filter1d
from scipy.signal import butter, lfilter, sosfilt

from tests.detection.material import Setting, long_band
from tests.material.band import chance
from tests.material.midi import Note, render
from tests.material.recording import Input, Recording
from tests.material.samples import hits, say

RATE = 48000
SECONDS = 36.0
FRAMES = round(SECONDS * RATE)
VOICES = ("en-us+f3", "en-gb+m3", "en-us+m7", "en-gb+f2", "en-us+m1", "en-gb+f5")

Named = tuple[str, str, str, np.ndarray]
"""Name, kind, input and samples of a channel."""


def _time() -> np.ndarray:
    return np.arange(FRAMES) / RATE


def _noise(rng: np.random.Generator) -> np.ndarray:
    return rng.standard_normal(FRAMES).astype(np.float32)


def _room(rng: np.random.Generator) -> np.ndarray:
    """Noise of a room: it falls above 300 Hz. RMS about 1."""
    pole = float(np.exp(-2 * np.pi * 300 / RATE))
    return lfilter([np.sqrt(1 - pole * pole)], [1, -pole], _noise(rng)).astype(np.float32)


def _take(named: list[Named], rng: np.random.Generator) -> Recording:
    """Each sound at a level of its own, with noise on what is not digital, a room's on microphones."""
    inputs, tracks = [], np.zeros((len(named), FRAMES), np.float32)
    for number, (name, kind, way, sound) in enumerate(named, start=1):
        level = np.float32(10 ** (float(rng.uniform(-12, -7)) / 20) / max(float(np.abs(sound).max()), 1e-9))
        tracks[number - 1, : min(len(sound), FRAMES)] = sound[:FRAMES] * level
        if way != "digital":
            tracks[number - 1] += _noise(rng) * np.float32(10 ** (float(rng.uniform(-110, -90)) / 20))
        if way in ("mic", "rf"):
            tracks[number - 1] += _room(rng) * np.float32(10 ** (float(rng.uniform(-85, -65)) / 20))
        gain = None if way == "digital" else 20
        inputs.append(
            Input(number=number, name=name, source=name, kind=kind, box="riser", socket=number, input=way, gain=gain)
        )
    return Recording(rate=RATE, inputs=inputs, tracks=tracks)


def _held(rng: np.random.Generator, program: int, low: int, *, rests: bool) -> np.ndarray:
    """Chords or single notes held for 3 to 10 s, with rests of a second or two between, or none."""
    notes: list[Note] = []
    now = 0.2
    while now < SECONDS - 4:
        length = float(rng.uniform(3, 10))
        for step in (0, 7, 12, 16)[: int(rng.integers(1, 5))]:
            notes.append((round(now, 3), round(length, 3), low + step, int(rng.integers(60, 110))))
        now += length + (float(rng.uniform(1, 2.5)) if rests else 0.0)
    return render(program, tuple(sorted(notes)), RATE, FRAMES).mean(axis=0)


def held_and_low(setting: Setting, seed: int) -> Recording:
    """What stands at or near 50 and 60 Hz without being hum: organ chords, drones, synthesiser basses, test tones."""
    rng = chance(seed, "held")
    time = _time()
    low = int(rng.choice([28, 31, 33, 34, 35]))
    """E1, G1, A1, A sharp 1, B1: 41, 49, 55, 58, 62 Hz."""
    mains = float(rng.choice([50.0, 60.0]))
    near = mains * float(rng.choice([0.98, 0.99, 1.01, 1.02]))
    phrase = (time % 2.0) < float(rng.uniform(0.8, 1.6))
    envelope = uniform_filter1d(phrase.astype(np.float64), 960)
    saw = 2 * (time * mains % 1) - 1
    square = np.sign(np.sin(2 * np.pi * 440 * 2 ** ((low - 69) / 12) * time))
    test_tone = np.sin(2 * np.pi * mains * time) * ((time > 4) & (time < 22))
    beating = sum(np.sin(2 * np.pi * near * k * (1 + 0.0005 * rng.standard_normal()) * time) / k for k in range(1, 12))
    named: list[Named] = [
        ("Organ", "keys", "line", _held(rng, 19, low, rests=True)),
        ("Organ Mic", "keys", "mic", _held(rng, 16, low, rests=False)),
        ("Pipes", "woodwind", "mic", _held(rng, 109, low + 24, rests=False)),
        ("Hurdy-gurdy", "strings", "mic", _held(rng, 110, low + 12, rests=False)),
        ("Synth Bass", "keys", "di", saw * envelope),
        ("Square Bass", "keys", "line", square * envelope),
        ("Double Bass", "strings", "mic", _held(rng, 43, low, rests=True)),
        ("Tone", "other", "line", test_tone),
        ("Drone", "keys", "line", beating),
    ]
    return _take(named, rng)


def radios(setting: Setting, seed: int) -> Recording:
    """Voices on radio microphones that rest, gasp, stop in mid-word, and are switched off by hand between songs."""
    rng = chance(seed, "radios")
    named: list[Named] = []
    words = "Peter Piper. Stop. Take ticket two, to Tadcaster. Big bad Bob. Quick! Cut that cup, pack it up. Ha, ha."
    for place in range(5):
        voice = str(rng.choice(VOICES))
        line = say(words, voice, RATE, words_a_minute=int(rng.integers(100, 190)), pitch=int(rng.integers(20, 80)))
        pause = np.zeros(int(rng.uniform(0.3, 3.0) * RATE), np.float32)
        sound = np.resize(np.concatenate([line, pause]), FRAMES)
        named.append((f"Headset {place + 1}", "speech" if place % 2 else "vocal", "rf", sound))
    recording = _take(named, rng)
    # Two are switched off for a song each, where nobody speaks or in mid-word; the receiver's own floor is left.
    for row in (0, 1):
        first = int(rng.uniform(6, 14) * RATE)
        stop = first + int(rng.uniform(6, 14) * RATE)
        floor = rng.standard_normal(stop - first) * 10 ** (-100 / 20)
        recording.tracks[row][first:stop] = floor
    return recording


def swells(setting: Setting, seed: int) -> Recording:
    """What grows and holds without being feedback: flutes, strings, voices and pads that swell; whistled tunes."""
    rng = chance(seed, "swells")
    named: list[Named] = []
    for name, kind, program in (
        ("Flute", "woodwind", 73),
        ("Ocarina", "woodwind", 79),
        ("Whistle", "woodwind", 78),
        ("Strings", "strings", 48),
        ("Horn", "brass", 60),
        ("Choir", "choir", 52),
    ):
        notes: list[Note] = []
        gain = np.ones(FRAMES)
        now = 0.5
        while now < SECONDS - 6:
            length = float(rng.uniform(1.5, 4))
            notes.append((round(now, 3), round(length, 3), int(rng.integers(60, 88)), 110))
            first, ramp = round(now * RATE), round(float(rng.uniform(0.3, 1.5)) * RATE)
            gain[first:] = float(rng.uniform(0.3, 1.0)) * np.minimum(np.arange(FRAMES - first) / ramp, 1.0)
            now += length + float(rng.uniform(0.1, 1.5))
        # A player's breath does not cut off what is left of the last note.
        breath = np.convolve(gain, np.ones(960) / 960, "same")
        named.append((name, kind, "mic", render(program, tuple(notes), RATE, FRAMES)[0] * breath))
    return _take(named, rng)


def _hit_track(rng: np.random.Generator, kit: str, piece: str) -> np.ndarray:
    sounds = hits(kit, piece, RATE)
    out = np.zeros(FRAMES, np.float32)
    for at in np.arange(0.5, SECONDS - 2, float(rng.uniform(0.4, 0.9))):
        sound = sounds[int(rng.integers(len(sounds)))]
        first = round(at * RATE)
        out[first : first + len(sound)] += sound[: FRAMES - first]
    return out


def _expanded(sound: np.ndarray, rng: np.random.Generator, range_db: float) -> np.ndarray:
    """A gate that does not close wholly: a hold of 0.1 to 0.4 s, a fall of 0.1 s, `range_db` down at rest."""
    level = uniform_filter1d(np.abs(sound).astype(np.float64), 480)
    hold = int(float(rng.uniform(0.1, 0.4)) * RATE)
    opened = level > level.max() * 0.1
    counts = np.concatenate([[0], np.cumsum(opened)])
    held = counts[1:] - counts[np.maximum(np.arange(1, FRAMES + 1) - hold, 0)] > 0
    gain = uniform_filter1d(held.astype(np.float64), 4800)
    return (sound * 10 ** (-range_db * (1 - gain) / 20)).astype(np.float32)


def steps_of_music(setting: Setting, seed: int) -> Recording:
    """What steps in level without a preamp being turned: tremolo, expanders, pedals, fades, an audience, solos."""
    rng = chance(seed, "steps")
    time = _time()
    kit = setting.kits[seed % len(setting.kits)]
    guitar = _held(rng, 27, 45, rests=False) * (1 + np.sin(2 * np.pi * float(rng.uniform(3, 8)) * time))
    applause = _noise(rng) * 10 ** (sosfilt(butter(2, 0.3, fs=RATE, output="sos"), _noise(rng)) * 80)
    loud = ((time > 9) & (time < 14)) | (time > 27)
    audience = sosfilt(butter(1, [400, 4000], "band", fs=RATE, output="sos"), applause) * loud
    audience += 0.05 * sosfilt(butter(1, [150, 1000], "band", fs=RATE, output="sos"), applause)
    organ = _held(rng, 18, 48, rests=True)
    pedal = uniform_filter1d(np.where((time // 6) % 2 == 0, 1.0, 0.4), 9600)
    fade = np.clip(np.abs((time % 12) - 6) / 3 - 0.5, 0, 1)
    # The drummer's own pad with a pedal's gate; the room's noise goes with it.
    snare = _hit_track(rng, kit, "snare") + 10 ** (-60 / 20) * _noise(rng)
    tom = _hit_track(rng, kit, "tom1") + 10 ** (-65 / 20) * _noise(rng)
    solo = _held(rng, 26, 52, rests=True)
    named: list[Named] = [
        ("Tremolo Gtr", "guitar", "di", guitar),
        ("Audience L", "ambience", "mic", audience),
        ("Audience R", "ambience", "mic", audience + 0.1 * _room(rng) * audience.std()),
        ("Organ Pedal", "keys", "line", organ * pedal),
        ("Fades", "keys", "line", organ * fade),
        ("Snare", "snare", "mic", _expanded(snare, rng, float(rng.uniform(8, 20)))),
        ("Tom", "tom", "mic", _expanded(tom, rng, float(rng.uniform(8, 20)))),
        ("Solo Gtr", "guitar", "mic", solo * np.where(time > float(rng.uniform(12, 24)), 1.0, 0.35)),
    ]
    return _take(named, rng)


def open_microphones(setting: Setting, seed: int) -> Recording:
    """Two microphones of singers or winds that nobody uses stay open: they hear all others, 12 to 30 dB down, after 2
    to 25 ms, duller, and the room; the input list has them off."""
    whole = long_band(setting, seed)
    rng = chance(seed, "open")
    fitting = [one.number for one in whole.inputs if one.input == "mic" and one.kind in UNUSED and one.use == "must"]
    unused = [int(number) for number in rng.permutation(fitting)[:2]]
    sources = [one.number for one in whole.inputs if one.input == "mic" and one.number not in unused]
    heard = {number: whole.track(number).astype(np.float64) for number in sources}
    for number in unused:
        out = np.zeros(whole.frames)
        for source in heard.values():
            late = int(float(rng.uniform(0.002, 0.025)) * whole.rate)
            out[late:] += source[: len(source) - late] * 10 ** (-float(rng.uniform(12, 30)) / 20)
        out = sosfilt(butter(1, float(rng.uniform(2000, 8000)), fs=whole.rate, output="sos"), out)
        out += rng.standard_normal(whole.frames) * 10 ** (-float(rng.uniform(75, 95)) / 20)
        whole.track(number)[:] = np.clip(out, -1, 1 - 2.0**-23)
        whole.change(number, use="off")
    return whole


UNUSED = ("vocal", "backing", "speech", "brass", "woodwind", "strings")

MAKERS: tuple[Callable[[Setting, int], Recording], ...] = (
    held_and_low, radios, swells, steps_of_music, open_microphones,
)  # fmt: skip
