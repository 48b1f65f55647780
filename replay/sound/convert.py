"""Sample rates that a device lacks, converted by soxr; for listening only, never on the way into a desk."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from replay.sound.device import DeviceError


def converted(blocks: Iterator[np.ndarray], rate: int, wanted: int, outputs: int) -> Iterator[np.ndarray]:
    """Blocks (frames, outputs) at `rate` as blocks at `wanted`. DeviceError where soxr is missing."""
    if rate == wanted:
        yield from blocks
        return
    try:
        import soxr
    except ImportError:
        raise DeviceError(
            f"the device does not play {rate / 1000:g} kHz, and the package that converts rates is missing",
            hint="pip install soxr, or choose another device with --device",
        ) from None
    stream = soxr.ResampleStream(rate, wanted, outputs, dtype="float32")
    for block in blocks:
        ready = stream.resample_chunk(np.asarray(block, np.float32))
        if len(ready):
            yield ready
    last = stream.resample_chunk(np.zeros((0, outputs), np.float32), last=True)
    if len(last):
        yield last
