"""The same songs on two evenings: one schedule, the same gains, other hands, and what happened to single lines.

Everything is made from sampled instruments on the stage of `tests.material`, so that a player who plays softer is heard
softer in every microphone, and a microphone that loses level hears everyone softer.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from tests.material.band import chance, play, schedule
from tests.material.cast import Line, lines
from tests.material.recording import Recording
from tests.material.stage import at_input, noise, record

Filter = Callable[[np.ndarray, int], np.ndarray]


@dataclass(frozen=True, kw_only=True)
class Evening:
    """What is different on an evening. `hands` is the seed of who plays how, `loud` dB by source, `loss` dB by line
    lost before the preamp, `turned` dB by line by which the preamp is turned, `filters` by line."""

    hands: int
    loud: Mapping[str, float] = field(default_factory=dict)
    loss: Mapping[str, float] = field(default_factory=dict)
    turned: Mapping[str, float] = field(default_factory=dict)
    filters: Mapping[str, Filter] = field(default_factory=dict)


def linear(decibels: float) -> np.float32:
    return np.float32(10 ** (decibels / 20))


def low_pass(hertz: float) -> Filter:
    """12 dB an octave."""

    def run(samples: np.ndarray, rate: int) -> np.ndarray:
        from scipy.signal import butter, sosfilt

        return sosfilt(butter(2, hertz, fs=rate, output="sos"), samples).astype(np.float32)

    return run


def high_pass(hertz: float) -> Filter:
    """12 dB an octave."""

    def run(samples: np.ndarray, rate: int) -> np.ndarray:
        from scipy.signal import butter, sosfilt

        return sosfilt(butter(2, hertz, "highpass", fs=rate, output="sos"), samples).astype(np.float32)

    return run


def evening(base: Recording, what: Evening, *, seed: int = 1, seconds: float = 40.0, kit: str = "forzee") -> Recording:
    """The songs of `base` (made by `record` with the same seed and seconds) played anew, at its gains."""
    chosen: list[Line] = lines(len(base.inputs))
    plan = schedule(chosen, seed, seconds)
    names = list(dict.fromkeys(line.source for line in chosen))
    sounds = play(names, plan, seed=what.hands, rate=base.rate, kit=kit)
    for name in what.loud.keys() & sounds.keys():
        sounds[name] = sounds[name] * linear(what.loud[name])
    frames = round(plan.seconds * base.rate)
    out = base.copy()
    for row, line in enumerate(chosen):
        if line.source == "ltc":
            continue
        rng = chance(what.hands, "evening", line.name)
        gain = base.inputs[row].gain
        loss = what.loss.get(line.name, 0.0)
        line = replace(line, sens=line.sens - loss)
        heard = at_input(line, sounds, frames, base.rate)
        if line.input in ("di", "line"):
            heard = heard * linear(-loss)
        if line.name in what.filters:
            heard = what.filters[line.name](heard, base.rate)
        if gain is None:
            # A machine plays the same file every evening: as loud as it was.
            was, now = (float(np.sqrt(np.mean(one.astype(np.float64) ** 2))) for one in (base.tracks[row], heard))
            out.tracks[row] = heard * np.float32(was / now)
            continue
        gain = gain + what.turned.get(line.name, 0.0)
        out.tracks[row] = np.clip(heard * linear(gain) + noise(line, gain, frames, base.rate, rng), -1, 1 - 2**-23)
    return out


def first(count: int = 24, *, seed: int = 1, seconds: float = 40.0) -> Recording:
    """The evening that the others are held against."""
    return record(count, seed=seed, seconds=seconds)
