"""Healthy takes of everything that there is, each of which must give no fault and no warning."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from tests.detection.material import SECONDS, Setting, band, kept
from tests.material.band import chance
from tests.material.ltc import ltc
from tests.material.midi import Note, render
from tests.material.recording import Input, Recording
from tests.material.samples import KITS, read_mono, say
from tests.material.stage import record

RATE = 48000


def _take(named: list[tuple[str, str, str, np.ndarray]], rate: int, rng: np.random.Generator) -> Recording:
    """Sounds (name, kind, input, samples of peak 1) as a take: each at its own level, a preamp's noise on what is not
    digital."""
    inputs = []
    tracks = np.zeros((len(named), max(len(sound) for *_, sound in named)), np.float32)
    for number, (name, kind, way, sound) in enumerate(named, start=1):
        gain = None if way == "digital" else 20
        tracks[number - 1, : len(sound)] = sound * np.float32(10 ** (float(rng.uniform(-12, -7)) / 20))
        if way != "digital":
            noise = np.float32(10 ** (float(rng.uniform(-110, -90)) / 20))
            tracks[number - 1] += rng.standard_normal(tracks.shape[1], dtype=np.float32) * noise
        inputs.append(
            Input(number=number, name=name, source=name, kind=kind, box="riser", socket=number, input=way, gain=gain)
        )
    return Recording(rate=rate, inputs=inputs, tracks=tracks)


def _notes(rng: np.random.Generator, low: int, seconds: float, *, chords: bool) -> tuple[Note, ...]:
    now, out = 0.3, []
    while now < seconds - 1.5:
        length = float(rng.choice([0.12, 0.25, 0.5, 1.0]))
        for step in (0, 4, 7) if chords else (0,):
            out.append(
                (round(now, 3), round(length * 0.95, 3), low + step + int(rng.integers(12)), int(rng.integers(60, 125)))
            )
        now += length
    return tuple(sorted(out))


def instruments(setting: Setting, seed: int) -> Recording:
    """Eight of the 120 pitched instruments of the sound font, half of them straight from a digital output."""
    rng = chance(seed, "instruments")
    programs = rng.permutation(120)[:8]
    named = []
    for program in programs:
        low = 28 if 32 <= program < 40 else 48
        notes = _notes(rng, low, SECONDS, chords=program < 32 or 48 <= program < 56)
        sound = render(int(program), notes, RATE, round(SECONDS * RATE))[0]
        named.append((f"program {program}", "keys", "line" if rng.random() < 0.5 else "digital", sound))
    return _take(named, RATE, rng)


def drum_samples(setting: Setting, seed: int) -> Recording:
    """Eight pads, each with sounds of one drum kit (the electronic ones among them), played one after another."""
    rng = chance(seed, "drums")
    folders = sorted(path for path in KITS.iterdir() if path.is_dir())
    named = []
    for place in range(8):
        folder = folders[int(rng.integers(len(folders)))]
        files = sorted(path for path in folder.rglob("*") if path.suffix.lower() in (".wav", ".aiff", ".flac"))
        out = np.zeros(round(SECONDS * RATE), np.float32)
        for at in np.arange(0.3, SECONDS - 2, float(rng.uniform(0.2, 0.6))):
            sound = read_mono(files[int(rng.integers(len(files)))], RATE)[: 2 * RATE].copy()
            if len(sound) == 2 * RATE:
                sound[-RATE // 20 :] *= np.linspace(1, 0, RATE // 20, dtype=np.float32)
            first = round(at * RATE)
            sound = sound[: len(out) - first] * np.float32(rng.uniform(0.3, 1.0))
            out[first : first + len(sound)] += sound
        out /= np.abs(out).max()
        named.append((f"pad {place + 1} {folder.name}"[:30], "playback", "digital", out))
    return _take(named, RATE, rng)


def voices(setting: Setting, seed: int) -> Recording:
    """Four spoken voices, close, with plosives, on preamps with noise."""
    rng = chance(seed, "voices")
    named = []
    for place in range(4):
        voice = str(rng.choice(["en-us+f3", "en-gb+m3", "en-us+m7", "en-gb+f2", "en-us+m1", "en-gb+f5"]))
        words = "Peter Piper picked a peck of pickled peppers. Big bad Bob pops the pop. Take ticket two to Tadcaster."
        sound = say(words, voice, RATE, words_a_minute=int(rng.integers(110, 190)), pitch=int(rng.integers(20, 80)))
        sound = np.tile(np.concatenate([sound, np.zeros(RATE // 2, np.float32)]), 4)[: round(SECONDS * RATE)]
        named.append((f"voice {place + 1}", "vocal", "mic", sound))
    return _take(named, RATE, rng)


def synthetic(setting: Setting, seed: int) -> Recording:
    """What a computer plays: square and saw waves, a click track with hard edges, timecode, a song with a limiter on
    it, sines, and exact silence between."""
    rng = chance(seed, "synthetic")
    frames = round(SECONDS * RATE)
    time = np.arange(frames) / RATE
    pitch = 55 * 2 ** (rng.integers(0, 24) / 12)
    on = (time % 4 < 3).astype(np.float32)
    square = np.sign(np.sin(2 * np.pi * pitch * time)).astype(np.float32) * on
    saw = ((time * pitch % 1) * 2 - 1).astype(np.float32) * on
    decays = np.exp(-(time % 0.5) * 4).astype(np.float32)
    beep = (np.sin(2 * np.pi * 1000 * time) * (time % 0.5 < 0.012)).astype(np.float32)
    tick = ((np.arange(frames) % (RATE // 2)) < 24).astype(np.float32)
    sine = np.sin(2 * np.pi * float(rng.uniform(35, 120)) * time).astype(np.float32)
    song = band(setting, seed).tracks[:6].sum(axis=0).astype(np.float64)
    limited = np.tanh(4 * song / np.abs(song).max()).astype(np.float32)
    fades = sine * np.clip(np.abs((time % 6) - 3) - 1, 0, 1).astype(np.float32)
    named = [
        ("square", "keys", "digital", square),
        ("square decays", "keys", "digital", square * decays),
        ("saw", "keys", "digital", saw),
        ("saw decays", "keys", "line", saw * decays),
        ("beep", "click", "digital", beep),
        ("tick", "click", "digital", tick),
        ("sub", "bass", "digital", sine),
        ("limited", "playback", "digital", limited),
        ("fades", "playback", "digital", fades),
        ("timecode", "timecode", "digital", ltc(RATE, 0, frames)),
        ("timecode line", "timecode", "line", ltc(RATE, 0, frames)),
    ]
    return _take(named, RATE, rng)


def whole_band(setting: Setting, seed: int) -> Recording:
    """The band of 32 with bleed, talkback, spares, click, timecode and playback with exact silence between songs."""
    return band(setting, seed)


def at_44100(setting: Setting, seed: int) -> Recording:
    """A band of 20 at 44.1 kHz."""
    number = setting.recordings[seed % len(setting.recordings)]
    kit = setting.kits[seed % len(setting.kits)]
    return kept(f"band-44100-{kit}-{number}", lambda: record(20, seed=number + 50, seconds=16, rate=44100, kit=kit))


def quiet_steps(setting: Setting, seed: int) -> Recording:
    """The band recorded 30 dB too low: few steps of 16 bits (see FORMS)."""
    recording = band(setting, seed)
    recording.tracks *= np.float32(10 ** (-30 / 20))
    return recording


MAKERS: tuple[Callable[[Setting, int], Recording], ...] = (
    whole_band, at_44100, instruments, drum_samples, voices, synthetic, quiet_steps,
)  # fmt: skip
