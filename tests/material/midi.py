"""General MIDI instruments: a standard MIDI file written byte by byte, rendered by fluidsynth.

A note is (start s, length s, pitch, velocity). Rendering has neither reverb nor chorus: a microphone close to an
amplifier hears none.
"""

from __future__ import annotations

import struct
import subprocess
import tempfile
from functools import lru_cache
from pathlib import Path

import numpy as np

from tests.need import need, need_path

FONT = Path("/usr/share/sounds/sf2/FluidR3_GM.sf2")
TICKS_PER_SECOND = 1000
PERCUSSION = 9
"""The channel of drum kits, from 0."""

Note = tuple[float, float, int, int]


def variable_length(number: int) -> bytes:
    """A MIDI variable-length quantity: seven bits a byte, the high bit set on all but the last."""
    out = [number & 0x7F]
    while number := number >> 7:
        out.append(0x80 | (number & 0x7F))
    return bytes(reversed(out))


def midi_file(program: int, notes: tuple[Note, ...], channel: int = 0) -> bytes:
    """A type 0 MIDI file of one track, 1000 ticks a second (500 a quarter at 120 beats a minute)."""
    events = [(0, 0, bytes([0xC0 | channel, program]))]
    for start, length, pitch, velocity in notes:
        events.append((round(start * TICKS_PER_SECOND), 2, bytes([0x90 | channel, pitch, velocity])))
        events.append((round((start + length) * TICKS_PER_SECOND), 1, bytes([0x80 | channel, pitch, 0])))
    track = b""
    now = 0
    for at, _, event in sorted(events):
        track += variable_length(at - now) + event
        now = at
    track += b"\x00\xff\x2f\x00"
    return (
        b"MThd" + struct.pack(">IHHH", 6, 0, 1, TICKS_PER_SECOND // 2) + b"MTrk" + struct.pack(">I", len(track)) + track
    )


@lru_cache(maxsize=32)
def render(program: int, notes: tuple[Note, ...], rate: int, frames: int, channel: int = 0) -> np.ndarray:
    """Notes of one General MIDI program (from 0) as float32 of shape (2, frames); largest peak 1. On the channel
    PERCUSSION the program is a drum kit, and the pitch one of its pieces."""
    from scipy.signal import butter, sosfilt

    need("fluidsynth")
    need_path(FONT, "fluid-soundfont-gm")
    if not notes:
        return np.zeros((2, frames), np.float32)
    with tempfile.TemporaryDirectory() as folder:
        song, audio = Path(folder) / "song.mid", Path(folder) / "audio.raw"
        song.write_bytes(midi_file(program, notes, channel))
        subprocess.run(
            ["fluidsynth", "-ni", "-q", "-R", "0", "-C", "0", "-o", "synth.dynamic-sample-loading=1"]
            + ["-r", str(rate), "-T", "raw", "-O", "float", "-F", str(audio), str(FONT), str(song)],
            check=True,
            capture_output=True,
        )
        both = np.fromfile(audio, np.float32).reshape(-1, 2).T[:, :frames]
        # Some instruments of the font carry an offset that no line output would pass on.
        both = sosfilt(butter(2, 20, "highpass", fs=rate, output="sos"), both).astype(np.float32)
    out = np.zeros((2, frames), np.float32)
    out[:, : both.shape[1]] = both / np.abs(both).max()
    return out
