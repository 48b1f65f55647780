"""What `replay play` costs, and whether what arrives is what was recorded: `python -m tests.bench.playing`.

Played to ALSA's null device, which takes frames faster than time passes: processor time by the time that was played is
the share of one processor that playing takes. The files are as long as they say, with holes in place of samples: the
disk's work is not in the figures, decoding and everything behind it is.
"""

from __future__ import annotations

import argparse
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

from replay.sound.wav_file import Shape, header
from tests.bench.figures import markdown
from tests.sound.alsa import ROOT, SoundSystem
from tests.sound.shows import make_show, noise

RATE = 48000
FADE_IN, FADE_OUT = RATE, int(0.3 * RATE)


def _play(sound: SoundSystem, show: Path, device: str) -> tuple[float, float, str]:
    """CPU and wall seconds of a call, and its last line."""
    before, begun = resource.getrusage(resource.RUSAGE_CHILDREN), time.monotonic()
    done = subprocess.run(
        [sys.executable, "-m", "replay", "play", str(show), "--device", device, "--yes"],
        cwd=ROOT, env=sound.environment, stdin=subprocess.DEVNULL, capture_output=True, text=True, check=True,
    )  # fmt: skip
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    cpu = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return cpu, time.monotonic() - begun, done.stdout.splitlines()[-1]


def _long(folder: Path, tracks: int, seconds: int) -> Path:
    make_show(folder, tracks, noise(480, tracks))
    for path in (folder / "audio").iterdir():
        shape = Shape(frames=seconds * RATE, rate=RATE, encoding="s24", names=["x"], numbers=[int(path.name[:3])])
        with path.open("wb") as file:
            head = header(shape)
            file.write(head)
            file.truncate(len(head) + shape.data_bytes)
    return folder


def cost(folder: Path, tracks: int, seconds: int) -> list[str]:
    """One row: what that many tracks of that length cost, start and end told apart."""
    sound = SoundSystem(folder)
    start, _, _ = _play(sound, _long(folder / "short", tracks, 1), "nowhere")
    cpu, wall, last = _play(sound, _long(folder / "long", tracks, seconds), "nowhere")
    share = 100 * (cpu - start) / seconds
    return [str(tracks), f"{seconds / 60:g}", f"{start:.2f}", f"{cpu:.1f}", f"{wall:.1f}", f"{share:.2f} %", last]


def capture(folder: Path, outputs: int, seconds: int = 20) -> list[str]:
    """One row: how many samples arrived between the fades, and how many of them differ from what was recorded."""
    sound = SoundSystem(folder)
    codes = noise(seconds * RATE, outputs)
    make_show(folder / "show", outputs, codes)
    _, _, last = _play(sound, folder / "show", "desk")
    arrived = sound.arrived(outputs, "<i4")
    steady = codes[FADE_IN : len(codes) - FADE_OUT]
    (places,) = np.nonzero((arrived == steady[0]).all(axis=1))
    got = arrived[places[0] : places[0] + len(steady)] if len(places) else arrived[:0]
    different = steady.size if len(got) < len(steady) else int(np.count_nonzero(got != steady))
    return [str(outputs), f"{steady.size}", f"{different}", last]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--minutes", type=float, default=60.0)
    call = parser.parse_args()
    captured, costs = [], []
    for outputs in (32, 128):
        with tempfile.TemporaryDirectory(prefix="replay-playing-") as folder:
            captured.append(capture(Path(folder), outputs))
    for tracks in (56, 128):
        with tempfile.TemporaryDirectory(prefix="replay-playing-") as folder:
            costs.append(cost(Path(folder), tracks, round(60 * call.minutes)))
    print(markdown(("outputs", "samples between the fades", "of them different", "said at the end"), captured))
    print()
    heads = ("tracks", "minutes", "start CPU s", "CPU s", "wall s", "share of one processor", "said at the end")
    print(markdown(heads, costs))


if __name__ == "__main__":
    main()
