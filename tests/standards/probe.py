"""Puts signals on disk as a take, with the patch that fits, and asks `check` about them: the whole way of the program.

Stereo signals go two ways: as two mono tracks whose channels are declared a stereo pair, and as one two-channel file.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np

from tests.material.recording import Input, Recording
from tests.material.show import inputs_csv, patch_toml
from tests.material.take import encode, wav_head

FORMS = ("mono", "two-channel")
BOX_SOCKETS = 32


def write_wav(path: Path, samples: np.ndarray, rate: int, encoding: str) -> None:
    """Samples of shape (frames, channels) as a WAV file, without dither."""
    with path.open("wb") as file:
        data = encode(samples, encoding).tobytes()
        file.write(wav_head(samples.shape[1], rate, encoding, len(samples)) + data + b"\0" * (len(data) % 2))


def _show(folder: Path, rate: int, inputs: list[Input]) -> Path:
    (folder / "audio").mkdir(parents=True)
    recording = Recording(rate=rate, inputs=inputs, tracks=np.zeros((len(inputs), 0), np.float32))
    (folder / "patch.toml").write_text(patch_toml(recording), encoding="utf-8")
    (folder / "inputs.csv").write_text(inputs_csv(inputs), encoding="utf-8")
    return folder


def _input(number: int, name: str, **more: object) -> Input:
    box, socket = divmod(number - 1, BOX_SOCKETS)
    return Input(
        number=number,
        name=name,
        source="tone",
        kind="playback",
        input="line",
        gain=0,
        box=f"box {box + 1}",
        socket=socket + 1,
        **more,  # type: ignore[arg-type]
    )


def stereo_show(
    folder: Path, signals: Sequence[np.ndarray], form: str, *, rate: int = 48000, encoding: str = "f32"
) -> Path:
    """A show with one stereo pair for each signal of shape (frames, 2): channels 1 and 2, 3 and 4, and so on."""
    inputs = []
    for pair in range(len(signals)):
        left, right = 2 * pair + 1, 2 * pair + 2
        inputs += [_input(left, f"Tone {pair} L", pair=right, pairing="stereo")]
        inputs += [_input(right, f"Tone {pair} R", pair=left, pairing="stereo")]
    _show(folder, rate, inputs)
    for pair, signal in enumerate(signals):
        left, right = 2 * pair + 1, 2 * pair + 2
        if form == "two-channel":
            write_wav(folder / "audio" / f"{left:03d}-{right:03d} tone.wav", signal, rate, encoding)
        else:
            write_wav(folder / "audio" / f"{left:03d} tone left.wav", signal[:, :1], rate, encoding)
            write_wav(folder / "audio" / f"{right:03d} tone right.wav", signal[:, 1:], rate, encoding)
    return folder


def mono_show(folder: Path, signals: Sequence[np.ndarray], *, rate: int = 48000, encoding: str = "f32") -> Path:
    """A show with one channel for each signal of shape (frames,)."""
    _show(folder, rate, [_input(number, f"Tone {number}") for number in range(1, len(signals) + 1)])
    for number, signal in enumerate(signals, start=1):
        write_wav(folder / "audio" / f"{number:03d} tone.wav", signal[:, None], rate, encoding)
    return folder


def check(folder: Path, **options: object):
    """The program's own `check`: its Report."""
    from replay.simulate import check as ask

    return ask(folder, **options)


def stereo(folder: Path, signal: np.ndarray, form: str, *, rate: int = 48000, encoding: str = "f32"):
    """The PairView of one stereo signal."""
    (pair,) = check(stereo_show(folder, [signal], form, rate=rate, encoding=encoding)).show.pairs
    return pair


def stereo_series(report, window_s: float) -> np.ndarray:
    """Loudness of channels 1 and 2 as one programme in every window that ends on a 10 ms cell, from the first whole one
    on: LUFS, -inf where silent. From the histories that `check` leaves."""
    sides = [report.show.view(number).track.measurement for number in (1, 2)]
    cells = sum(side.column("k_energy_10ms").astype(float) for side in sides)
    window = round(window_s * 100)
    powers = np.lib.stride_tricks.sliding_window_view(cells, window).sum(axis=1) / (window_s * sides[0].rate)
    out = np.full(len(powers), -np.inf)
    np.log10(powers, out=out, where=powers > 0)
    return np.where(powers > 0, -0.691 + 10 * out, -np.inf)
