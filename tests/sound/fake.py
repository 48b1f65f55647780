"""Stands where the sounddevice package stands: a device that fails in ways that no test machine can be made to."""

from __future__ import annotations

import threading
from types import SimpleNamespace

import numpy as np


class FakeSound:
    """`plays` is how many times the device asks for frames before it goes away, silently or (`tells`) by saying that it
    has finished; `refuses` is what opening it raises."""

    class PortAudioError(Exception):
        pass

    class CallbackStop(Exception):
        pass

    def __init__(self, *, outputs: int = 8, plays: int = 3, tells: bool = False, refuses: str = "") -> None:
        self.outputs, self.plays, self.tells, self.refuses = outputs, plays, tells, refuses
        self.closed = False

    def query_devices(self, kind=None):
        device = {"index": 0, "name": "Fake\x1b[2J", "max_output_channels": self.outputs, "default_samplerate": 48000.0}
        if kind is not None:
            return device
        return [device] if self.outputs else []

    def check_output_settings(self, **_) -> None:
        pass

    def OutputStream(self, **how):
        if self.refuses:
            raise self.PortAudioError(self.refuses, -9985)
        return Stream(self, **how)


class Stream:
    latency = 0.05

    def __init__(self, module: FakeSound, *, channels, dtype, callback, finished_callback, **_) -> None:
        self.module, self.callback, self.finished = module, callback, finished_callback
        self.out = np.zeros((480, channels), dtype)

    def start(self) -> None:
        threading.Thread(target=self._run, daemon=True).start()

    def _run(self) -> None:
        for _ in range(self.module.plays):
            self.callback(self.out, len(self.out), None, SimpleNamespace(output_underflow=False))
        if self.module.tells:
            self.finished()

    def close(self, ignore_errors=True) -> None:
        self.module.closed = True
