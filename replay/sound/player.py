"""Plays blocks to a device: a reader thread stays ahead in a ring of frames, and the device's callback only copies.

The ring holds frames of all outputs side by side, so that no output can ever be ahead of another. Where the reader
falls behind, all outputs get silence, nothing is skipped, and the underrun is counted.
"""

from __future__ import annotations

import contextlib
import threading
import time
from collections.abc import Iterator
from typing import Any

import numpy as np

from replay.sound import device as devices
from replay.sound.device import Device, DeviceError
from replay.text import harmless

STALLED_S = 4.0
"""A device that has asked for nothing for so long has gone away."""

CLOSING_S = 3.0
"""How long closing a device may take; one that was pulled out may never answer."""

FREE_RUNNING_S = 0.1
"""A device that has taken more than time has passed, by this and twice its own latency, is no converter but a file:
nobody listens, and it can wait for the reader."""

FADE_OUT_S = 0.3
_MARGIN_S = 0.1


class Ring:
    """A ring of frames with one thread that puts and one that takes. Counts grow for ever; places are their rest."""

    def __init__(self, frames: int, outputs: int, dtype: str) -> None:
        self.data = np.zeros((frames, outputs), dtype)
        self.frames = frames
        self.put_count = 0
        self.taken = 0
        self.ended = False

    @property
    def held(self) -> int:
        return self.put_count - self.taken

    def put(self, block: np.ndarray) -> None:
        """Add frames, for which there must be room."""
        at = self.put_count % self.frames
        first = min(len(block), self.frames - at)
        self.data[at : at + first] = block[:first]
        self.data[: len(block) - first] = block[first:]
        self.put_count += len(block)

    def take(self, out: np.ndarray) -> int:
        """Copy as many frames as there are into `out`: how many."""
        count = min(len(out), self.held)
        at = self.taken % self.frames
        first = min(count, self.frames - at)
        out[:first] = self.data[at : at + first]
        out[first:count] = self.data[: count - first]
        self.taken += count
        return count

    def fade_and_end(self, margin: int, length: int) -> None:
        """Let what is held fade to nothing soon: `margin` frames stay as they are, `length` frames fade, the rest goes.

        Called by the putting thread. The margin must be more than the other one takes meanwhile.
        """
        start = min(self.taken + margin, self.put_count)
        stop = min(start + length, self.put_count)
        ramp = fade(stop - start)[::-1]
        for at in range(start, stop, 1024):
            many = min(1024, stop - at)
            places = np.arange(at, at + many) % self.frames
            self.data[places] = self.data[places] * ramp[at - start : at - start + many, None]
        self.put_count = stop
        self.ended = True


def fade(frames: int) -> np.ndarray:
    """float64 (frames,): from nothing to everything along a raised cosine; never quite 0 nor 1 within."""
    return 0.5 - 0.5 * np.cos(np.pi * (np.arange(frames) + 0.5) / max(frames, 1))


class Player:
    """Plays an iterator of blocks, (frames, outputs) in the device's sample type, to a device.

    Parameters
    ----------
    source : iterator of arrays
        Run in a thread of its own; may use its array again once the next block is asked for.
    ahead_s : float
        How many seconds the reader stays ahead.
    dtype : "int32" or "float32"
        Integers keep 24-bit samples to the bit on their way through PortAudio to any device.
    """

    def __init__(
        self,
        device: Device,
        rate: int,
        outputs: int,
        source: Iterator[np.ndarray],
        *,
        dtype: str,
        ahead_s: float,
        latency: str | float = "high",
    ) -> None:
        self.device, self.rate, self.outputs = device, rate, outputs
        self.ring = Ring(max(int(ahead_s * rate), rate // 5 + 2), outputs, dtype)
        self.underruns = 0
        self._source = source
        self._latency = latency
        self._stop = threading.Event()
        self._more = threading.Event()
        self._done = threading.Event()
        self._failed: BaseException | None = None
        self._largest = 0
        self.delivered = 0
        self._begun = self._asked = 0.0
        self._slack = FREE_RUNNING_S
        self._stream: Any = None
        self._callback_stop: type[Exception] = StopIteration
        self._thread = threading.Thread(target=self._feed, name="reader", daemon=True)

    # The device's thread.

    def _callback(self, out: np.ndarray, frames: int, when: Any, status: Any) -> None:
        ring = self.ring
        self._asked = time.monotonic()
        self._largest = max(self._largest, frames)
        got = ring.take(out)
        while got < frames and not ring.ended and self._is_free_running():
            self._more.clear()
            if not ring.held:
                self._more.wait(0.05)
            got += ring.take(out[got:])
        if got < frames and ring.ended:
            got += ring.take(out[got:])  # what came between looking and ending
        self.delivered += got
        if got == frames:
            if status.output_underflow:
                self.underruns += 1
            return
        out[got:] = 0
        if ring.ended:
            raise self._callback_stop
        self.underruns += 1

    def _is_free_running(self) -> bool:
        return self.delivered > (time.monotonic() - self._begun + self._slack) * self.rate

    # The reader's thread.

    def _feed(self) -> None:
        ring = self.ring
        try:
            for block in self._source:
                while len(block) > ring.frames - ring.held and not self._stop.is_set():
                    self._more.set()
                    time.sleep(0.0005 if self._is_free_running() else 0.02)
                if self._stop.is_set():
                    break
                ring.put(block)
                self._more.set()
            if self._stop.is_set():
                margin = max(int(_MARGIN_S * self.rate), 2 * self._largest)
                ring.fade_and_end(margin, int(FADE_OUT_S * self.rate))
        except BaseException as error:
            self._failed = error
        finally:
            ring.ended = True
            self._more.set()
            close = getattr(self._source, "close", None)
            if close is not None:
                with contextlib.suppress(Exception):
                    close()

    # The caller's thread.

    def __enter__(self) -> Player:
        self._callback_stop = devices.library().CallbackStop
        self._stream = devices.open_stream(
            self.device,
            self.outputs,
            self.rate,
            self.ring.data.dtype.name,
            self._callback,
            self._done.set,
            self._latency,
        )
        latency = self._stream.latency
        self._slack = FREE_RUNNING_S + 2 * float(latency if isinstance(latency, (int, float)) else 0.5)
        self._thread.start()
        try:
            while self.ring.held < self.ring.frames // 2 and not self.ring.ended:
                time.sleep(0.01)
            self._begun = self._asked = time.monotonic()
            devices.start(self._stream, self.device)
        except BaseException:
            self._end()
            raise
        return self

    def wait(self, seconds: float) -> bool:
        """Let it play for a while: True when everything has been played.

        Raises DeviceError where the device has gone away, and whatever the source raised.
        """
        if self._done.wait(seconds):
            if self._failed is not None:
                raise self._failed
            if not self.ring.ended or self.ring.held:
                raise self._gone()
            return True
        if time.monotonic() - self._asked > STALLED_S:
            raise self._gone()
        return False

    def _gone(self) -> DeviceError:
        return DeviceError(
            f"{harmless(self.device.name, 60)} went away while playing, after {self.delivered / self.rate:.1f} s",
            hint="plug it in again, and see that outputs are muted before playing on",
        )

    def stop(self) -> None:
        """Fade out soon, and wait until that is done."""
        self._stop.set()
        deadline = time.monotonic() + FADE_OUT_S + _MARGIN_S + STALLED_S
        while not self._done.wait(0.05):
            if time.monotonic() > deadline or time.monotonic() - self._asked > STALLED_S:
                return

    def __exit__(self, kind: Any, error: BaseException | None, trace: Any) -> None:
        try:
            if not self._done.is_set() and not isinstance(error, DeviceError):
                self.stop()
        finally:
            self._end()

    def _end(self) -> None:
        """Close the device, without waiting for one that does not answer any more."""
        self._stop.set()
        stream = self._stream

        def close() -> None:
            with contextlib.suppress(Exception):
                stream.close(ignore_errors=True)

        closing = threading.Thread(target=close, name="closing", daemon=True)
        closing.start()
        closing.join(CLOSING_S)
        if closing.is_alive():
            # PortAudio would wait for the device once more when Python ends.
            import atexit

            with contextlib.suppress(AttributeError):
                atexit.unregister(devices.library()._exit_handler)
        if self._thread.is_alive():
            self._thread.join(CLOSING_S)
