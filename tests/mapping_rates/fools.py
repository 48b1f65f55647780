"""What fools it: takes made from a base take by rearranging, mixing and speaking, without rendering it again."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from tests.material.recording import Recording
from tests.material.samples import say

BETWEEN_S = 1.0
SPOKEN = "one two, one two, check, hey, one two"


def _pieces(recording: Recording) -> list[tuple[int, np.ndarray]]:
    """(input number, all tracks while its source is checked) for every turn."""
    rate = recording.rate
    return [
        (number, np.asarray(recording.tracks[:, round((start - 0.4) * rate) : round((stop + 0.7) * rate)]))
        for number, start, stop in recording.turns
    ]


def _songs(recording: Recording) -> np.ndarray:
    return np.asarray(recording.tracks[:, round((recording.songs[0][0] - 1.0) * recording.rate) :])


def _joined(recording: Recording, parts: list[np.ndarray]) -> Recording:
    tracks = np.concatenate([*parts, _songs(recording)], axis=1)
    return Recording(rate=recording.rate, inputs=list(recording.inputs), tracks=tracks)


def out_of_order(recording: Recording, seed: int) -> Recording:
    """The sources are checked in any order."""
    pieces = _pieces(recording)
    order = np.random.default_rng(seed).permutation(len(pieces))
    return _joined(recording, [pieces[int(place)][1] for place in order])


def two_out_of_turn(recording: Recording, seed: int) -> Recording:
    """One neighbour is checked before the other, as it happens."""
    pieces = _pieces(recording)
    at = int(np.random.default_rng(seed).integers(len(pieces) - 1))
    pieces[at], pieces[at + 1] = pieces[at + 1], pieces[at]
    return _joined(recording, [piece for _, piece in pieces])


def fills_between(recording: Recording, seed: int) -> Recording:
    """The drummer plays on between the turns."""
    songs = _songs(recording)
    rng = np.random.default_rng(seed)
    drums = [row for row, one in enumerate(recording.inputs) if one.kind in DRUMS]
    parts: list[np.ndarray] = []
    for place, (_, piece) in enumerate(_pieces(recording)):
        parts.append(piece)
        if place % 3 == 2 and drums:
            first = int(rng.integers(2 * recording.rate, songs.shape[1] - 4 * recording.rate))
            fill = songs[:, first : first + 2 * recording.rate].copy()
            quiet = [row for row in range(len(fill)) if row not in drums]
            fill[quiet] *= np.float32(0.01)
            parts.append(fill)
    return _joined(recording, parts)


DRUMS = ("kick", "snare", "tom", "hi-hat", "overhead", "percussion", "ambience")


def repeats_and_skips(recording: Recording, seed: int) -> Recording:
    """Some sources are checked twice, some not at all."""
    rng = np.random.default_rng(seed)
    parts = []
    for _, piece in _pieces(recording):
        parts += [piece] * int(rng.choice([0, 1, 1, 1, 1, 2]))
    return _joined(recording, parts)


def one_voice(recording: Recording, seed: int, voice: str = "en-gb+m5") -> Recording:
    """An engineer walks about and speaks into every microphone; what has none plays for itself."""
    rate = recording.rate
    words = say(SPOKEN, voice, rate, words_a_minute=150, pitch=45)[: round(2.4 * rate)]
    words = words / np.float32(np.abs(words).max())
    turns = dict(_pieces(recording))
    rng = np.random.default_rng(seed)
    microphones = [row for row, one in enumerate(recording.inputs) if one.input == "mic" and one.source != "nobody"]
    parts = []
    for row, one in enumerate(recording.inputs):
        if row in microphones:
            piece = rng.standard_normal((len(recording.inputs), len(words) + round(BETWEEN_S * rate)))
            piece = (piece * 1e-5).astype(np.float32)
            for other in microphones:
                level = -14.0 if other == row else -46.0 - 2.0 * min(abs(other - row), 8)
                late = 0 if other == row else min(abs(other - row), 12) * rate // 400
                piece[other, late : late + len(words)] += words * np.float32(10 ** (level / 20))
            parts.append(piece)
        elif one.number in turns:
            parts.append(turns[one.number])
    return _joined(recording, parts)


def loud_stage(recording: Recording, seed: int, bleed_db: float = -6.0) -> Recording:
    """Wedges so loud that every voice's microphone hears all other microphones 6 dB below its own voice's level."""
    tracks = np.array(recording.tracks)
    rng = np.random.default_rng(seed)
    voices = [row for row, one in enumerate(recording.inputs) if one.kind in ("vocal", "backing", "speech")]
    others = [row for row, one in enumerate(recording.inputs) if one.kind in ("vocal", "guitar", "keys", "acoustic")]

    def rms(row: int) -> float:
        return float(np.sqrt(np.mean(np.square(recording.tracks[row, ::7], dtype=np.float64)))) + 1e-9

    for row in voices:
        wedge = np.zeros(tracks.shape[1], np.float32)
        for other in others:
            if other != row:
                late = int(rng.integers(recording.rate // 500, recording.rate // 100))
                wedge[late:] += recording.tracks[other, : tracks.shape[1] - late] / np.float32(rms(other))
        wedge *= np.float32(rms(row) * 10 ** (bleed_db / 20) / max(float(np.sqrt(np.mean(wedge**2))), 1e-9))
        tracks[row] += wedge
        tracks[row] /= max(1.0, float(np.abs(tracks[row]).max()) / 0.5)
    return replace(recording, tracks=tracks)


def dual_mono(recording: Recording, seed: int) -> Recording:
    """Stereo sources that send the same to both sides."""
    tracks = np.array(recording.tracks)
    for row, one in enumerate(recording.inputs):
        if one.pairing == "stereo" and one.pair and one.pair > one.number:
            tracks[recording.index(one.pair)] = tracks[row]
    return replace(recording, tracks=tracks)


def stems_running(recording: Recording, seed: int) -> Recording:
    """A playback machine runs on through the line check, and nobody stops it."""
    tracks = np.array(recording.tracks)
    first = round((recording.songs[0][0] - 1.0) * recording.rate)
    start, stop = (round(second * recording.rate) for second in recording.songs[0])
    for row, one in enumerate(recording.inputs):
        if one.kind == "playback":
            tracks[row, :first] = np.resize(recording.tracks[row, start:stop], first)
    return replace(recording, tracks=tracks)


def room_noise(recording: Recording, seed: int) -> Recording:
    """An audience: 20 dB more noise in every microphone."""
    tracks = np.array(recording.tracks)
    rng = np.random.default_rng(seed)
    for row, one in enumerate(recording.inputs):
        if one.input == "mic" and one.source != "nobody":
            quiet = float(np.percentile(np.abs(tracks[row, ::11]), 5)) + 1e-6
            tracks[row] += rng.standard_normal(tracks.shape[1], dtype=np.float32) * np.float32(10 * quiet)
    tracks /= np.maximum(1.0, np.abs(tracks).max(axis=1, keepdims=True) / 0.5)
    return replace(recording, tracks=tracks)


def with_copies(recording: Recording, pairs: list[tuple[int, int]], seed: int) -> Recording:
    """Each second input of `pairs` holds the first one's signal: another gain, polarity and a few samples' delay."""
    tracks = np.array(recording.tracks)
    rng = np.random.default_rng(seed)
    for original, copy in pairs:
        late = int(rng.integers(0, 13))
        gain = np.float32(10 ** (float(rng.uniform(-9, 0)) / 20) * (1 if rng.random() < 0.5 else -1))
        source = recording.tracks[recording.index(original)]
        here = tracks[recording.index(copy)]
        here[:] = 0
        here[late:] = source[: len(source) - late] * gain
    return replace(recording, tracks=tracks)
