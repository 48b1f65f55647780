"""What the bench runs in processes of their own: tools that are Python packages, and where the pass spends its time.

`python -m tests.bench.work TOOL FILE...`
"""

from __future__ import annotations

import json
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Any

READ_BYTES = 1 << 20


def read(paths: Sequence[str]) -> None:
    """The bytes, and nothing done with them."""
    buffer = bytearray(READ_BYTES)
    for path in paths:
        with open(path, "rb", buffering=0) as file:
            while file.readinto(buffer):
                pass


def _blocks(path: str) -> Iterator[tuple[int, object]]:
    """(rate, float64 samples of 100 ms) of a mono file; the array is used again."""
    import numpy as np
    import soundfile

    with soundfile.SoundFile(path) as file:
        block = np.empty((file.samplerate // 10, file.channels))
        while True:
            part = file.read(out=block)
            if len(part) == 0:
                return
            yield file.samplerate, part


def decode(paths: Sequence[str]) -> None:
    """Samples as float64, by libsndfile."""
    for path in paths:
        for _ in _blocks(path):
            pass


def libebur128(paths: Sequence[str]) -> None:
    """Integrated loudness, maxima of momentary and short-term loudness every 100 ms, true peak."""
    import numpy as np
    import pyebur128

    modes = pyebur128.MeasurementMode
    wanted = modes.MODE_I | modes.MODE_M | modes.MODE_S | modes.MODE_TRUE_PEAK
    for path in paths:
        state = None
        momentary = short_term = -np.inf
        for rate, block in _blocks(path):
            if state is None:
                state = pyebur128.R128State(1, rate, wanted)
            samples = np.ascontiguousarray(block).ravel()
            state.add_frames(samples, len(samples))
            momentary = max(momentary, pyebur128.get_loudness_momentary(state))
            short_term = max(short_term, pyebur128.get_loudness_shortterm(state))
        if state is not None:
            pyebur128.get_loudness_global(state)
            pyebur128.get_true_peak(state, 0)


def pyloudnorm(paths: Sequence[str]) -> None:
    """Integrated loudness of each file, read as a whole, as this package wants it."""
    import numpy as np
    import pyloudnorm as package
    import soundfile

    for path in paths:
        samples, rate = soundfile.read(path)
        with np.errstate(divide="ignore", invalid="ignore"):
            package.Meter(rate, filter_class="DeMan").integrated_loudness(samples)


def profile(paths: Sequence[str]) -> None:
    """Where one thread's processor time goes, in ns a sample, as JSON: mono files, or one polyphonic one."""
    shares = _costs(paths, whole=True)
    print(json.dumps(shares))


def _costs(paths: Sequence[str], *, whole: bool = False) -> dict[str, float]:
    """ns a sample by meter; `whole` adds what all of it takes in one go, histories written."""
    from replay.grid import hops_of
    from replay.meters import meters
    from replay.take.header import read_header
    from replay.take.model import Segment, Track
    from replay.take.stream import Reader

    files = [opened.file for path in paths if (opened := read_header(Path(path))).file is not None]
    places = [(file, channel) for file in files for channel in range(file.channels)]
    tracks = [
        Track(number=n, name="", file_name="", segments=(Segment(file=file, channel=channel, start=0),))
        for n, (file, channel) in enumerate(places, start=1)
    ]
    rate, hops = files[0].rate, hops_of(tracks[0].stop, files[0].rate)
    spent = dict.fromkeys(["read and decode", *(meter.NAME for meter in meters())], 0)
    with Reader(tracks, rate) as reader:
        groups = [_TimedGroup(reader, tracks, at, rate) for at in range(0, len(tracks), 8)]
        for hop in range(hops):
            if hop == WARM_UP_HOPS:
                spent = dict.fromkeys(spent, 0)
            for group in groups:
                group.hop(hop, spent)
    samples = (hops - WARM_UP_HOPS) * (rate // 10) * len(tracks)
    shares = {name: value / samples for name, value in spent.items()}
    if whole:
        shares["all of it, histories written"] = _whole(tracks, rate) / (hops * (rate // 10) * len(tracks))
    return shares


DEAR_S = 30


def dear(paths: Sequence[str]) -> None:
    """What true peaks cost where they cost most, in ns a sample, as JSON: eight tracks of white noise, of timecode."""
    import tempfile

    import numpy as np

    from tests.material.ltc import ltc
    from tests.material.stage import LTC_PEAK
    from tests.material.take import encode, wav_head

    rate = 48000
    noise = np.random.default_rng(1).uniform(-0.25, 0.25, DEAR_S * rate)
    kinds = {"white noise": noise, "timecode": ltc(rate, 0, DEAR_S * rate, peak=LTC_PEAK)}
    costs = {}
    with tempfile.TemporaryDirectory() as folder:
        for name, samples in kinds.items():
            path = Path(folder) / f"{name}.wav"
            path.write_bytes(wav_head(1, rate, "s24", DEAR_S * rate) + encode(samples, "s24").tobytes())
            costs[name] = _costs([str(path)] * 8)["true_peak"]
    print(json.dumps(costs))


WARM_UP_HOPS = 60
"""Loading compiled code and filling caches is no part of what a sample costs."""


class _TimedGroup:
    """Up to eight tracks and their meters, with a clock between them."""

    def __init__(self, reader: Any, tracks: Sequence[Any], first: int, rate: int) -> None:
        import numpy as np

        from replay.grid import CELLS_PER_HOP
        from replay.measuring.group_pass import GROUP, columns
        from replay.meters import meters
        from replay.take.block import Block

        numbers = range(first, min(first + GROUP, len(tracks)))
        self.group, self.block = reader.group(numbers), Block(rate)
        self.meters = {meter.NAME: meter.Meter(rate) for meter in meters()}
        self.out = {
            column.name: np.zeros((CELLS_PER_HOP, GROUP) if column.period_ms == 10 else GROUP) for column in columns()
        }
        for lane, number in enumerate(numbers):
            self.meters["clip_runs"].container(lane, tracks[number].segments[0].file.bits)

    def hop(self, hop: int, spent: dict[str, int]) -> None:
        at = time.thread_time_ns()
        self.group.fill(self.block, hop)
        then = time.thread_time_ns()
        spent["read and decode"] += then - at
        for name, meter in self.meters.items():
            at = then
            meter.feed(self.block, self.out)
            then = time.thread_time_ns()
            spent[name] += then - at


def _whole(tracks: Sequence[Any], rate: int) -> int:
    import tempfile

    from replay.measuring.job import run
    from replay.measuring.measure import jobs

    with tempfile.TemporaryDirectory() as folder:
        work = jobs(tracks, rate, Path(folder), workers=1)
        at = time.thread_time_ns()
        for job in work:
            run(job)
        return time.thread_time_ns() - at


TOOLS: dict[str, Callable[[Sequence[str]], None]] = {
    "read": read,
    "decode": decode,
    "libebur128": libebur128,
    "pyloudnorm": pyloudnorm,
    "profile": profile,
    "dear": dear,
}

if __name__ == "__main__":
    TOOLS[sys.argv[1]](sys.argv[2:])
