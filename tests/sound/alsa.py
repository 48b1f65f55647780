"""A sound system of the test's own: ALSA's null device, with and without a file behind it that keeps what arrives."""

from __future__ import annotations

import os
from pathlib import Path

import numpy as np

import replay
from tests.need import missing, need_package, need_path

ROOT = Path(replay.__file__).parent.parent

CONFIGURATION = """\
<{system}>
pcm.desk {{
    type file
    slave.pcm {{ type null }}
    file "{capture}"
    format "raw"
}}
pcm.nowhere {{
    type null
}}
"""


def need_portaudio() -> None:
    """Skip the test unless PortAudio and ALSA's own configuration are there."""
    need_package("sounddevice")
    try:
        import sounddevice  # noqa: F401
    except OSError:
        missing("the PortAudio library")


class SoundSystem:
    """`environment` makes a process see two devices: `desk`, whose captured frames `arrived` reads, and `nowhere`."""

    def __init__(self, folder: Path) -> None:
        need_portaudio()
        system = need_path(Path("/usr/share/alsa/alsa.conf"), "ALSA's configuration")
        self.capture = folder / "captured.raw"
        configuration = folder / "asound.conf"
        configuration.write_text(CONFIGURATION.format(system=system, capture=self.capture))
        self.environment = {
            **os.environ,
            "ALSA_CONFIG_PATH": str(configuration),
            "COLUMNS": "80",
            "PYTHONPATH": str(ROOT),
        }

    def arrived(self, outputs: int, dtype: str) -> np.ndarray:
        """What the device got, (frames, outputs), from the first frame that is not silent to the last."""
        frames = np.fromfile(self.capture, dtype)
        frames = frames[: len(frames) // outputs * outputs].reshape(-1, outputs)
        sounding = np.flatnonzero(frames.any(axis=1))
        return frames[sounding[0] : sounding[-1] + 1]
