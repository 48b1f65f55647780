"""Small shows with a take of noise: every sample of every track is known."""

from __future__ import annotations

from pathlib import Path

import numpy as np

PATCH = """\
title = "Mill Yard"
rate = {rate}
{more}
[take]
folder = "audio"

[[box]]
name = "deck"
sockets = {count}
gain = {{ min = 0, max = 60, step = 1 }}

[[link]]
name = "main"
slots = {count}

[[feed]]
box = "deck"
sockets = "1-{count}"
link = "main"
slots = "1-{count}"
"""


def make_show(
    folder: Path,
    count: int,
    codes: np.ndarray,
    *,
    rate: int = 48000,
    subtype: str = "PCM_24",
    columns: str = "",
    cells: dict[int, str] | None = None,
    more: str = "",
) -> np.ndarray:
    """A show of `count` channels, each on its own track; `codes` are int32 (frames, count), 24-bit codes times 256.

    `columns` are further columns of the input list, `cells[channel]` what stands in them. Returns the samples as
    float64, full scale 1.0.
    """
    import soundfile

    (folder / "audio").mkdir(parents=True)
    (folder / "patch.toml").write_text(PATCH.format(rate=rate, count=count, more=more))
    empty = "," * columns.count(",")
    rows = [f"channel,name,box,socket{',' + columns if columns else ''}"]
    for number in range(1, count + 1):
        rest = (cells or {}).get(number, empty)
        rows.append(f"{number},Source {number},deck,{number}{',' + rest if columns else ''}")
        data = codes[:, number - 1]
        if subtype == "FLOAT":
            data = (data / 2**31).astype(np.float32)
        soundfile.write(folder / "audio" / f"{number:03d} Source {number}.wav", data, rate, subtype=subtype)
    (folder / "inputs.csv").write_text("\n".join(rows) + "\n")
    return codes / 2.0**31


def noise(frames: int, count: int, *, seed: int = 1, peak: float = 0.4) -> np.ndarray:
    """int32 (frames, count): 24-bit codes times 256, no two tracks alike."""
    top = int(peak * 2**23)
    return (np.random.default_rng(seed).integers(-top, top, (frames, count)) * 256).astype(np.int32)
