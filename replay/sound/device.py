"""The sound device: found, opened, and every way in which that fails told as an error of the user's world.

sounddevice loads the PortAudio library when it is imported, and asks the system for its devices: both late, and both
quietly, as some systems write pages about devices that they do not have.
"""

from __future__ import annotations

import contextlib
import os
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

from replay.errors import ReplayError
from replay.text import harmless


class DeviceError(ReplayError):
    """There is no device to play to, or it does not do what is needed."""


@dataclass(frozen=True)
class Device:
    """An output device: PortAudio's index, its name, how many outputs it has, and the rate that it prefers."""

    index: int
    name: str
    outputs: int
    rate: int

    @property
    def shown(self) -> str:
        return f"{harmless(self.name, 60)} ({self.outputs} outputs)"


@contextlib.contextmanager
def _quiet() -> Iterator[None]:
    """Send what libraries write to standard error by themselves to nowhere."""
    try:
        sys.stderr.flush()
        kept = os.dup(2)
    except (AttributeError, OSError, ValueError):
        yield
        return
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 2)
    os.close(nowhere)
    try:
        yield
    finally:
        os.dup2(kept, 2)
        os.close(kept)


def library() -> Any:
    """The sounddevice module. DeviceError where it or PortAudio is missing, or PortAudio does not start."""
    try:
        with _quiet():
            import sounddevice
    except ImportError:
        raise DeviceError(
            "the Python package sounddevice is missing, without which nothing can be played",
            hint="pip install sounddevice",
        ) from None
    except OSError:
        raise DeviceError(
            "the PortAudio library is missing, without which nothing can be played",
            hint="on Debian and Ubuntu: apt install libportaudio2; on macOS: brew install portaudio",
        ) from None
    except Exception as error:  # PortAudio's own error class cannot be named before it is imported
        raise DeviceError(f"the sound system does not start: {harmless(str(error))}") from None
    return sounddevice


def devices() -> list[Device]:
    """All devices with outputs, in the system's order."""
    module = library()
    try:
        with _quiet():
            listed = module.query_devices()
    except module.PortAudioError as error:
        raise DeviceError(f"the sound system does not answer: {_reason(error)}") from None
    return [
        Device(index, str(one["name"]), int(one["max_output_channels"]), int(one["default_samplerate"] or 0))
        for index, one in enumerate(listed)
        if one["max_output_channels"] > 0
    ]


def find(wanted: str | None, outputs: int) -> Device:
    """The device that is meant by a name, a part of one, or a number of the list; by default the system's own.

    Raises DeviceError, with the devices that there are, where there is none, several fit, or it has fewer `outputs`.
    """
    there = devices()
    if not there:
        raise DeviceError("this machine has no device that plays sound", hint="plug one in and try again")
    device = _default(there) if wanted is None else _named(there, wanted)
    if device.outputs < outputs:
        message = f"{harmless(device.name, 60)} has {device.outputs} outputs, and {outputs} are needed"
        raise DeviceError(message, hint=f"choose another with --device; there are: {listed(there)}")
    return device


def _default(there: list[Device]) -> Device:
    module = library()
    try:
        with _quiet():
            index = int(module.query_devices(kind="output")["index"])
    except (module.PortAudioError, ValueError, KeyError, TypeError):
        index = -1
    return next((device for device in there if device.index == index), there[0])


def _named(there: list[Device], wanted: str) -> Device:
    if wanted.isdecimal():
        fitting = [device for device in there if device.index == int(wanted)]
    else:
        exact = [device for device in there if device.name.casefold() == wanted.casefold()]
        fitting = exact or [device for device in there if wanted.casefold() in device.name.casefold()]
    if len(fitting) == 1:
        return fitting[0]
    what = "no device is called" if not fitting else "several devices are called"
    raise DeviceError(f"{what} {harmless(wanted, 60)!r}", hint=f"there are: {listed(there)}")


def listed(there: list[Device]) -> str:
    """Devices as a list in a sentence: number, name, outputs."""
    return "; ".join(f"{device.index} {device.shown}" for device in there)


def takes_rate(device: Device, outputs: int, rate: int, dtype: str) -> bool:
    """Whether the device can be opened at that rate."""
    module = library()
    try:
        with _quiet():
            module.check_output_settings(device=device.index, channels=outputs, dtype=dtype, samplerate=rate)
    except (module.PortAudioError, ValueError):
        return False
    return True


def open_stream(
    device: Device,
    outputs: int,
    rate: int,
    dtype: str,
    callback: Callable[..., None],
    finished: Callable[[], None],
    latency: str | float,
) -> Any:
    """An output stream, not yet started. DeviceError where the device is busy, gone, or does not take the rate."""
    module = library()
    try:
        with _quiet():
            return module.OutputStream(
                device=device.index,
                channels=outputs,
                samplerate=rate,
                dtype=dtype,
                latency=latency,
                callback=callback,
                finished_callback=finished,
                dither_off=True,
            )
    except (module.PortAudioError, ValueError) as error:
        raise DeviceError(
            f"{harmless(device.name, 60)} cannot be opened with {outputs} outputs at {rate / 1000:g} kHz: "
            f"{_reason(error)}",
            hint="another program may hold it, or it may have been unplugged; close the other program, or choose "
            "another device with --device",
        ) from None


def start(stream: Any, device: Device) -> None:
    """Start a stream. DeviceError where the device refuses."""
    module = library()
    try:
        with _quiet():
            stream.start()
    except module.PortAudioError as error:
        raise DeviceError(f"{harmless(device.name, 60)} does not start: {_reason(error)}") from None


def _reason(error: Exception) -> str:
    """PortAudio's words without its numbers."""
    text = str(error.args[0]) if error.args else str(error)
    return harmless(text.split(" [")[0].split(": ")[-1].strip().rstrip(".")).lower() or "no reason given"
