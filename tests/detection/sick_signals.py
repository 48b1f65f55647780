"""Sick signals to plant, at random places and amounts that are clearly audible. Shares no code with `replay`.

Each function gets a recording (which it changes), the row to plant in and a generator of chance; it returns the
finding's code that should be told on that row. `PLANTERS` makes takes of them, as those of `broken` are made.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.ndimage import uniform_filter1d

from tests.detection.broken import Planted
from tests.detection.material import Setting, long_band
from tests.material.band import chance
from tests.material.cast import EXTRAS
from tests.material.ltc import ltc
from tests.material.recording import Input, Recording

Plant = Callable[[Recording, int, np.random.Generator], str]


def _peak(samples: np.ndarray) -> float:
    """The level that recurs: the 99.9th percentile of magnitudes, far cheaper than peaks."""
    return float(np.percentile(np.abs(samples[::7]), 99.9))


def _add(recording: Recording, row: int, signal: np.ndarray) -> None:
    track = recording.tracks[row].astype(np.float64) + signal
    recording.tracks[row] = np.clip(track, -1, 1 - 2.0**-23).astype(np.float32)


def _time(recording: Recording) -> np.ndarray:
    return np.arange(recording.frames) / recording.rate


def hum(recording: Recording, row: int, rng: np.random.Generator) -> str:
    """A loop of earths: the fundamental and a few falling multiples, 20 to 40 dB under the source's peaks."""
    hz = rng.choice([50.0, 60.0]) * (1 + rng.uniform(-0.002, 0.002))
    time = _time(recording)
    signal = np.zeros(recording.frames)
    for k in range(1, 6):
        signal += rng.uniform(0.5, 1.0) * 0.5 ** (k - 1) * np.sin(2 * np.pi * (k * hz * time + rng.random()))
    level = _peak(recording.tracks[row]) * 10 ** (-rng.uniform(20, 40) / 20)
    _add(recording, row, signal / np.abs(signal).max() * level)
    return "hum"


def buzz(recording: Recording, row: int, rng: np.random.Generator) -> str:
    """A dimmer: a short pulse in each half wave, up to 5 kHz, 20 to 40 dB under the source's peaks."""
    hz = rng.choice([50.0, 60.0]) * (1 + rng.uniform(-0.002, 0.002))
    time = _time(recording)
    signal = np.zeros(recording.frames)
    for k in range(1, 40):
        strong = 1.0 if k % 2 == 0 else 0.3
        signal += strong / k**0.2 * np.cos(2 * np.pi * k * hz * time + 0.4 * k)
    level = _peak(recording.tracks[row]) * 10 ** (-rng.uniform(20, 40) / 20)
    _add(recording, row, signal / np.abs(signal).max() * level)
    return "buzz"


def noise(recording: Recording, row: int, rng: np.random.Generator) -> str:
    """White noise whose RMS lies 25 to 33 dB under the source's peaks."""
    level = _peak(recording.tracks[row]) * 10 ** (-rng.uniform(25, 33) / 20)
    _add(recording, row, level * rng.standard_normal(recording.frames))
    return "noise"


def dc_offset(recording: Recording, row: int, rng: np.random.Generator) -> str:
    """A constant of -50 to -25 dBFS."""
    _add(recording, row, np.full(recording.frames, rng.choice([-1, 1]) * 10 ** (-rng.uniform(25, 50) / 20)))
    return "dc-offset"


def thump(recording: Recording, row: int, rng: np.random.Generator) -> str:
    """One to three pulses of 10 to 30 Hz that die away, louder than the source."""
    time = _time(recording)
    for _ in range(int(rng.integers(1, 4))):
        at = rng.uniform(2, time[-1] - 2)
        after = np.maximum(time - at, 0)
        hz, decay = rng.uniform(10, 30), rng.uniform(0.05, 0.15)
        pulse = np.sin(2 * np.pi * hz * after) * np.exp(-after / decay)
        _add(recording, row, pulse / np.abs(pulse).max() * min(0.95, 1.5 * _peak(recording.tracks[row])))
    return "thump"


def crackle(recording: Recording, row: int, rng: np.random.Generator) -> str:
    """Bursts of 1 to 100 ms in which a contact makes and breaks: the signal goes and comes, with jumps of its own that
    a coupling capacitor lets die away in 10 to 40 ms."""
    rate, track = recording.rate, recording.tracks[row]
    height = _peak(track)
    for at in np.sort(rng.uniform(3, recording.frames / rate - 3, int(rng.integers(10, 30)))):
        first, length = int(at * rate), int(rng.uniform(0.001, 0.1) * rate)
        contact = np.ones(length)
        jump = np.zeros(length + rate // 5)
        level = 0.0
        place = 0
        fade = np.exp(-1 / (rng.uniform(0.01, 0.04) * rate))
        switches = []
        while place < length:
            switches.append(place)
            place += int(rng.exponential(0.004) * rate) + 8
        for turn, (a, b) in enumerate(zip(switches, [*switches[1:], length], strict=True)):
            if turn % 2 == 0:
                contact[a:b] = 0.0
            step = rng.uniform(0.2, 0.9) * height * rng.choice([-1, 1])
            level = step
            tail = level * fade ** np.arange(len(jump) - a)
            jump[a:] = tail
        part = track[first : first + length]
        part *= contact[: len(part)].astype(np.float32)
        whole = track[first : first + len(jump)]
        whole += jump[: len(whole)].astype(np.float32)
    np.clip(track, -1, np.float32(1 - 2.0**-23), out=track)
    return "crackle"


def rf_mutes(recording: Recording, row: int, rng: np.random.Generator) -> str:
    """A radio channel that mutes two to six times for 30 ms to 1.2 s while its source sounds."""
    rate, track = recording.rate, recording.tracks[row]
    recording.change(recording.inputs[row].number, input="rf", phantom="no")
    power = uniform_filter1d(track.astype(np.float64) ** 2, rate // 50)
    loud = np.flatnonzero(power > np.percentile(power, 90))
    floor = 10 ** (-95 / 20)
    done = 0
    for start in rng.permutation(loud)[:200]:
        length = int(rng.uniform(0.03, 1.2) * rate)
        stop = start + length
        if stop + rate // 10 >= recording.frames or power[stop + 200] < np.percentile(power, 80):
            continue
        track[start:stop] = floor * rng.standard_normal(length)
        power[max(0, start - rate) : stop + rate] = 0
        done += 1
        if done >= rng.integers(2, 7):
            break
    return "rf-mute"


def rf_bursts(recording: Recording, row: int, rng: np.random.Generator) -> str:
    """A radio channel that lets two to five bursts of noise of 0.15 to 0.6 s through."""
    rate, track = recording.rate, recording.tracks[row]
    recording.change(recording.inputs[row].number, input="rf", phantom="no")
    for at in rng.uniform(2, recording.frames / rate - 2, int(rng.integers(2, 6))):
        first, length = int(at * rate), int(rng.uniform(0.15, 0.6) * rate)
        track[first : first + length] = 0.4 * _peak(track) * rng.standard_normal(length)
    np.clip(track, -1, np.float32(1 - 2.0**-23), out=track)
    return "rf-mute"


def ringing(recording: Recording, row: int, rng: np.random.Generator) -> str:
    """A tone of 250 Hz to 6 kHz grows by 15 to 60 dB a second from nothing to the source's peaks and holds for a second
    or more."""
    rate = recording.rate
    hz, rise, hold = 10 ** rng.uniform(2.4, 3.78), rng.uniform(15, 60), rng.uniform(1.0, 3.0)
    grow = 45 / rise
    at = rng.uniform(1, recording.frames / rate - grow - hold - 1)
    time = _time(recording) - at
    level = np.where(time < grow, -45 + rise * np.maximum(time, 0), 0.0)
    shape = 10 ** (level / 20) * (time >= 0) * np.clip((grow + hold - time) / 0.05, 0, 1)
    _add(recording, row, 1.2 * min(0.7, _peak(recording.tracks[row])) * shape * np.sin(2 * np.pi * hz * time))
    return "ringing"


def gated(recording: Recording, row: int, rng: np.random.Generator) -> str:
    """A gate with a hold of 0.1 s and a range of all: the floor is digital silence."""
    rate, track = recording.rate, recording.tracks[row]
    envelope = uniform_filter1d(np.abs(track).astype(np.float64), rate // 100)
    open_now = envelope > _peak(track) * 10 ** (-rng.uniform(26, 32) / 20)
    hold = uniform_filter1d(open_now.astype(np.float64), rate // 5) > 1e-6
    gain = uniform_filter1d(hold.astype(np.float64), rate // 50)
    gain[gain < 1e-9] = 0.0
    track *= gain.astype(np.float32)
    return "not-raw"


def gain_moved(recording: Recording, row: int, rng: np.random.Generator) -> str:
    """A preamp turned down by 4 to 12 whole dB, somewhere in the middle."""
    change = int(rng.integers(4, 13))
    at = int(rng.uniform(0.3, 0.7) * recording.frames)
    recording.tracks[row][at:] *= np.float32(10 ** (-change / 20))
    return "gain-moved"


def wrong_speed(recording: Recording, row: int, rng: np.random.Generator) -> str:
    """Timecode recorded at 44.1 kHz into a file that claims 48, or the other way round."""
    other = {48000: 44100, 44100: 48000}[recording.rate]
    fps = int(rng.choice([24, 25, 30]))
    recording.tracks[row] = ltc(other, int(rng.integers(10**6)), recording.frames, fps=fps, peak=0.25)
    recording.change(recording.inputs[row].number, kind="timecode", input="line")
    return "wrong-speed"


def wrong_mains(recording: Recording, row: int, rng: np.random.Generator) -> str:
    """Mains of 50 or 60 Hz as they come out where files that ran at 44.1 kHz claim 48, or the other way round: five
    falling multiples on three to six channels, 20 to 40 dB under their peaks."""
    hz = rng.choice([50.0, 60.0]) * rng.choice([48000 / 44100, 44100 / 48000]) * (1 + rng.uniform(-0.0005, 0.0005))
    time = _time(recording)
    others = [one.number - 1 for one in recording.inputs if one.number - 1 != row and one.input in ("mic", "di")]
    for place in [row, *rng.permutation(others)[: int(rng.integers(2, 6))].tolist()]:
        signal = np.zeros(recording.frames)
        for k in range(1, 6):
            signal += rng.uniform(0.5, 1.0) * 0.5 ** (k - 1) * np.sin(2 * np.pi * (k * hz * time + rng.random()))
        level = _peak(recording.tracks[place]) * 10 ** (-rng.uniform(20, 40) / 20)
        _add(recording, place, signal / np.abs(signal).max() * level)
    return "wrong-speed"


def click_track(recording: Recording, row: int, rng: np.random.Generator) -> str:
    """A click track on a channel that is to be something else: bursts of 12 to 40 ms at 70 to 160 a minute, every
    fourth at another pitch, exact silence or a preamp's noise between."""
    rate = recording.rate
    out = np.zeros(recording.frames)
    every, length = 60 / rng.uniform(70, 160), rng.uniform(0.012, 0.04)
    low = rng.uniform(600, 1500)
    after = np.arange(round(length * rate)) / rate
    shape = np.exp(-after / rng.uniform(0.01, 0.05)) * np.clip((length - after) / 0.002, 0, 1)
    for beat in range(int((recording.frames / rate - 0.5) / every)):
        hz = low * (1.5 if beat % 4 == 0 else 1.0)
        first = round((0.3 + beat * every) * rate)
        burst = np.sin(2 * np.pi * hz * after) * shape
        out[first : first + len(burst)] += burst[: len(out) - first]
    recording.tracks[row] = (10 ** (-rng.uniform(3, 15) / 20) * out).astype(np.float32)
    _noise_of_a_preamp(recording, row, rng)
    return "unlikely-source"


def timecode(recording: Recording, row: int, rng: np.random.Generator) -> str:
    """Timecode of 24, 25 or 30 frames a second on a channel that is to be something else, with a preamp's noise or
    none."""
    first, fps, peak = int(rng.integers(10**6)), int(rng.choice([24, 25, 30])), 10 ** (-rng.uniform(3, 20) / 20)
    recording.tracks[row] = ltc(recording.rate, first, recording.frames, fps=fps, peak=peak)
    _noise_of_a_preamp(recording, row, rng)
    return "unlikely-source"


def _noise_of_a_preamp(recording: Recording, row: int, rng: np.random.Generator) -> None:
    if rng.random() < 0.5:
        recording.tracks[row] += rng.standard_normal(recording.frames) * 10 ** (-rng.uniform(85, 105) / 20)


@dataclass(frozen=True)
class Sick:
    """How a fault is planted, under which name, and into which inputs: ways ("mic" and so on) and kinds (empty: any
    that has a source). As a planter it draws a take and the place in it from the seed."""

    name: str
    plant: Plant
    ways: tuple[str, ...]
    kinds: tuple[str, ...] = ()

    @property
    def __name__(self) -> str:
        return self.name

    @property
    def __doc__(self) -> str:  # type: ignore[override]
        return self.plant.__doc__ or ""

    def __call__(self, setting: Setting, seed: int) -> Planted:
        whole = long_band(setting, seed)
        rng = chance(seed, self.name)
        music = [one for one in whole.inputs if one.use == "must" and one.kind not in EXTRAS + UNPLANTED]
        first = int(rng.choice([one.number for one in music if self._fits(one)]))
        rest = [one.number for one in music if one.number != first]
        recording = whole.part([first, *(int(number) for number in rng.permutation(rest)[: LONG_TRACKS - 1])])
        name = recording.inputs[0].name
        return Planted(recording, self.plant(recording, 0, rng), (1,), f"{self.name} on {name}")

    def _fits(self, one: Input) -> bool:
        return one.input in self.ways and (not self.kinds or one.kind in self.kinds)


UNPLANTED = ("playback", "ambience", "guitar", "bass", "other")
"""Hum is no fault on guitars and bass; what else a machine or an audience sends is another table's."""

LONG_TRACKS = 10
SPOKEN = ("vocal", "backing", "speech")
HIGH = ("strings", "acoustic", "brass", "woodwind")
ALL = ("mic", "di", "line")

PLANTERS = (
    Sick("hum", hum, ALL),
    Sick("buzz", buzz, ALL),
    Sick("noise", noise, ("mic",)),
    Sick("DC offset", dc_offset, ALL),
    Sick("thumps", thump, ("mic",), (*SPOKEN, *HIGH)),
    Sick("crackle", crackle, ("mic", "di")),
    Sick("radio mutes", rf_mutes, ("mic",), SPOKEN),
    Sick("radio bursts", rf_bursts, ("mic",), SPOKEN),
    Sick("feedback", ringing, ("mic",), (*SPOKEN, *HIGH)),
    Sick("gates", gated, ("mic",), ("kick", "snare", "tom", *SPOKEN)),
    Sick("moved gain", gain_moved, ("mic",)),
    Sick("wrong speed", wrong_speed, ALL),
    Sick("wrong speed by mains", wrong_mains, ("mic", "di")),
    Sick("click track elsewhere", click_track, ALL),
    Sick("timecode elsewhere", timecode, ALL),
)
