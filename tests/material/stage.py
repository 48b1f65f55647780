"""The stage: microphones hear their own source and, later and lower, all others; preamps bring them to level.

recorded level = level at the input + gain, so a preamp turned by n dB moves the recording by n dB. Sound takes
2.914 ms for a metre (343.2 m/s at 20 degrees, ISO 9613-1) and loses 6 dB for each doubling of distance.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from tests.material.band import SLOT_S, Schedule, chance, play, schedule
from tests.material.cast import SOURCES, Line, Source, lines
from tests.material.ltc import ltc
from tests.material.recording import Input, Recording

SPEED_OF_SOUND = 343.2
FULL_SCALE_DBU = 24.0
"""Input level that reaches full scale at gain 0 (SMPTE RP 155: 0 dBFS = +24 dBu)."""

DBV_IN_DBU = 2.218
REFERENCE_SPL = 94.0
PREAMP_NOISE_DBU = -126.0
CONVERTER_NOISE_DBFS = -117.0
ROOM_SPL = 44.0
"""RMS noise: equivalent input noise of a preamp, of a converter, and of an audience at rest; common practice."""

DI_DBU = {"di": 0.0, "line": 8.0}
"""Peak levels of instruments at DI boxes and line inputs; common practice."""

LEAST_BLEED_DB = -75.0
TARGET_DBFS = (-10.4, -7.2)
"""Sample peaks aimed at; a gain in whole dB lands up to 1 dB below. So all peaks lie within -12 to -6 dBFS."""

LTC_PEAK = 0.3

BOXES = (("riser", 32), ("deck", 32))
RACK = ("rack", 8)
"""Boxes with preamps, filled in order; the rack has digital inputs only."""

GAIN_RANGE = (0, 60)


def _linear(decibels: float) -> np.float32:
    return np.float32(10 ** (decibels / 20))


def acoustic_level(spl: float, sens_dbv: float) -> float:
    """dBFS at gain 0 of a microphone of `sens_dbv` (dBV at 94 dB SPL) in `spl`."""
    return sens_dbv + DBV_IN_DBU + spl - REFERENCE_SPL - FULL_SCALE_DBU


def _place(line: Line) -> tuple[float, float]:
    return line.at if line.at is not None else SOURCES[line.source].at


def path(line: Line, source: Source) -> tuple[float, float]:
    """(level in dBFS at gain 0, delay in s) of a sounding source in a line's microphone."""
    assert source.spl is not None
    here, there = _place(line), source.at
    distance = max(math.dist(here, there), source.reach)
    level = acoustic_level(source.spl - 20 * math.log10(distance / source.reach), line.sens)
    if source.name != line.source:
        level -= line.reject
    return level, distance / SPEED_OF_SOUND


def at_input(line: Line, sounds: dict[str, np.ndarray], frames: int, rate: int) -> np.ndarray:
    """What arrives at a line's preamp, at gain 0, without noise. float32 of shape (frames,)."""
    out = np.zeros(frames, np.float32)
    own = sounds.get(line.source)
    if line.input in ("di", "line", "digital"):
        if own is not None:
            one = own[line.side] if own.ndim == 2 else own
            out += one * _linear(DI_DBU.get(line.input, 0.0) - FULL_SCALE_DBU)
        return out
    if line.source == "nobody":
        return out
    for name, sound in sounds.items():
        source = SOURCES[name]
        if source.spl is None:
            continue
        level, delay = path(line, source)
        if name != line.source and level < acoustic_level(ROOM_SPL, line.sens) - 15:
            continue
        late = round(delay * rate)
        sign = -1 if line.flip and name == line.source else 1
        out[late:] += sound[: frames - late] * (_linear(level) * np.float32(sign))
    return out


def noise(line: Line, gain: float, frames: int, rate: int, rng: np.random.Generator) -> np.ndarray:
    """Noise of the room (open microphones), preamp and converter after `gain` dB. float32."""
    levels = [CONVERTER_NOISE_DBFS, PREAMP_NOISE_DBU - FULL_SCALE_DBU + gain]
    if line.input in ("di", "line"):
        levels.append(-98.0 - FULL_SCALE_DBU + DI_DBU[line.input] + gain)
    white = math.sqrt(sum(10 ** (level / 10) for level in levels))
    out = rng.standard_normal(frames, dtype=np.float32)
    out *= np.float32(white)
    if line.input == "mic" and line.source != "nobody":
        from scipy.signal import lfilter

        # A room's noise falls with frequency: one pole at 300 Hz, brought back to the level asked for.
        pole = math.exp(-2 * math.pi * 300 / rate)
        scale = math.sqrt(1 - pole * pole) * 10 ** ((acoustic_level(ROOM_SPL, line.sens) + gain) / 20)
        room = lfilter([scale], [1, -pole], rng.standard_normal(frames, dtype=np.float32))
        out += room.astype(np.float32)
    return out


def _inputs(chosen: list[Line]) -> list[Input]:
    """The input list: channels in stage order, sockets straight through the boxes, digital lines on the rack."""
    numbers = {line.name: number for number, line in enumerate(chosen, start=1)}
    out = []
    analog = digital = 0
    for line in chosen:
        if line.input == "digital":
            digital += 1
            box, socket = RACK[0], digital
        else:
            full = BOXES[0][1]
            box, socket = (BOXES[0][0], analog + 1) if analog < full else (BOXES[1][0], analog - full + 1)
            analog += 1
        out.append(
            Input(
                number=numbers[line.name],
                name=line.name,
                source=line.source,
                kind=line.kind,
                box=box,
                socket=socket,
                use=line.use,
                input=line.input,
                phantom=line.phantom,
                polarity="inverted" if line.flip else "",
                pair=numbers.get(line.partner),
                pairing=line.pairing if line.partner in numbers else "",
            )
        )
    return out


def record(
    count: int = 24,
    *,
    seed: int = 1,
    seconds: float = 60.0,
    rate: int = 48000,
    kit: str = "forzee",
    extras: bool = True,
    line_check: bool = False,
    bleed: bool = True,
    slot_s: float = SLOT_S,
    target_dbfs: tuple[float, float] = TARGET_DBFS,
    chosen: list[Line] | None = None,
) -> Recording:
    """A recording of `count` inputs with healthy levels. The same for the same arguments, to the sample.

    `chosen` are the lines of the input list in its order, where they are not to be the first `count` of the band's.

    `extras` False leaves out talkback, timecode, click and spares; `bleed` False gives each microphone its own source
    alone; `line_check` puts one in front (which makes the take longer than `seconds`); a song fills about `slot_s`.
    Gains are whole dB that bring each input's sample peak into `target_dbfs` (up to 1 dB below it).
    """
    chosen = lines(count, extras=extras) if chosen is None else chosen
    plan: Schedule = schedule(chosen, seed, seconds, line_check=line_check, slot_s=slot_s)
    names = list(dict.fromkeys(line.source for line in chosen))
    sounds = play(names, plan, seed=seed, rate=rate, kit=kit)
    frames = round(plan.seconds * rate)
    inputs = _inputs(chosen)
    tracks = np.zeros((len(chosen), frames), np.float32)
    for row, line in enumerate(chosen):
        rng = chance(seed, line.name)
        # Both sides of a pair get one gain, the lower one: aimed high, so that the quieter side is still in range.
        target = target_dbfs[1] if line.pairing in ("stereo", "spaced") else float(rng.uniform(*target_dbfs))
        if line.source == "ltc":
            tracks[row] = ltc(rate, 0, frames, peak=LTC_PEAK)
            inputs[row] = _with_gain(inputs[row], 12)
            tracks[row] += noise(line, 12, frames, rate, rng)
            continue
        heard = at_input(line, sounds if bleed else {line.source: sounds[line.source]}, frames, rate)
        peak = float(np.abs(heard).max())
        if line.input == "digital":
            # No preamp and no noise: between the songs a playback machine sends exact zeros.
            # Both sides of a stereo source move together: the louder one peaks at full scale before this.
            tracks[row] = heard * _linear(target + FULL_SCALE_DBU)
            continue
        gain = math.floor(target - 20 * math.log10(peak)) if peak > 0 else 30
        gain = min(max(gain, GAIN_RANGE[0]), GAIN_RANGE[1])
        inputs[row] = _with_gain(inputs[row], gain)
        np.multiply(heard, _linear(gain), out=tracks[row])
        tracks[row] += noise(line, gain, frames, rate, rng)
    _pair_gains(inputs, tracks)
    by_source = {line.source: one.number for line, one in reversed(list(zip(chosen, inputs, strict=True)))}
    return Recording(
        rate=rate,
        inputs=inputs,
        tracks=tracks,
        songs=tuple((song.start, song.stop) for song in plan.songs),
        turns=tuple((by_source[name], start, stop) for name, start, stop in plan.turns),
        cuts=tuple(round(cut * rate) for cut in plan.cuts),
    )


def _with_gain(one: Input, gain: int) -> Input:
    return replace(one, gain=gain)


def _pair_gains(inputs: list[Input], tracks: np.ndarray) -> None:
    """Stereo and spaced pairs are set alike, to the lower of both gains."""
    for row, one in enumerate(inputs):
        if one.pair is None or one.gain is None or one.pairing == "one-source" or one.pair < one.number:
            continue
        other = one.pair - 1
        lower = min(one.gain, inputs[other].gain or 0)
        for place in (row, other):
            tracks[place] *= _linear(lower - (inputs[place].gain or 0))
            inputs[place] = _with_gain(inputs[place], lower)
