"""Writes a show to try things on: Mill Yard, a barn-dance evening with a nine-piece band that does not exist.

The take is synthesised: a line check, then songs, with bleed between the microphones and some faults planted on
purpose. docs/demo.md tells who plays what and what is wrong. The same call writes the same bytes, anywhere.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path

from replay.errors import CallError
from replay.new_folder import new_folder

SHORTEST = 1.0
LONGEST = 240.0
"""Minutes. A track of 240 minutes is 2 GB, which every reader of WAV files takes; a shorter evening than one minute has
no room for its line check."""


def write_demo(
    folder: Path,
    *,
    minutes: float = 10.0,
    pocket: bool = False,
    progress: Callable[[float, str], None] | None = None,
) -> None:
    """Write a show folder: `patch.toml`, `inputs.csv`, and the take's WAV files in `audio/`.

    `minutes` is the take's length; `pocket` writes the small show of a few seconds instead, whatever `minutes` says.
    `progress` is called with the share done (0 to 1) and a word on what is being done. The folder appears whole or not
    at all.

    Raises CallError where the folder exists and is not empty, is a file, or `minutes` is out of range; OutputError
    where it cannot be written.
    """
    if not pocket and not (math.isfinite(minutes) and SHORTEST <= minutes <= LONGEST):
        raise CallError(
            f"a demo take of {minutes:g} minutes", hint=f"from {SHORTEST:g} to {LONGEST:g} minutes are possible"
        )
    with new_folder(Path(folder)) as unfinished:
        _write(unfinished, minutes, pocket, progress)


def _write(folder: Path, minutes: float, pocket: bool, progress: Callable[[float, str], None] | None) -> None:
    from replay.demo import show as shows
    from replay.demo.record import record

    show = shows.pocket() if pocket else shows.full(minutes)
    scenes = shows.pocket_scenes() if pocket else shows.full_scenes(minutes)
    audio = folder / "audio"
    audio.mkdir()
    record(audio, show.tracks, scenes, show.frames, date=shows.DATE, time=show.time, progress=progress)
    (folder / "inputs.csv").write_text(shows.input_list(show), encoding="utf-8", newline="\n")
    (folder / "patch.toml").write_text(shows.patch(show), encoding="utf-8", newline="\n")
