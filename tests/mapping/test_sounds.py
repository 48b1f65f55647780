"""The table of how kinds sound, held against what is published of the instruments."""

from __future__ import annotations

import csv
from itertools import groupby

import numpy as np
import pytest

from replay.mapping.content import FAMILIES
from replay.mapping.figures import FIGURES
from replay.mapping.sounds import TABLE, known_sounds

TOPS_HZ = (60, 120, 250, 500, 1000, 2000, 4000, 8000, 20000)


def shares(kind: str) -> np.ndarray:
    """The usual share of the energy in each band."""
    sounds = known_sounds()
    return sounds.pitched.middles[sounds.kinds.index(kind)][: len(TOPS_HZ)] ** 2


def test_the_table_has_every_figure_of_every_kind_once_and_in_order():
    with TABLE.open(encoding="utf-8", newline="") as file:
        rows = list(csv.reader(file))[1:]
    kinds = [kind for kind, _ in groupby(rows, key=lambda row: row[0])]
    assert len(set(kinds)) == len(kinds)
    for _, part in groupby(rows, key=lambda row: row[0]):
        lines = list(part)
        assert tuple(line[1] for line in lines) == FIGURES
        assert [sum(1 for cell in line[4:] if cell) for line in lines] == list(range(len(FIGURES)))
        assert all(abs(float(cell)) < 1.0 for line in lines for cell in line[4:] if cell)
    # Timecode is decoded, and recognised by nothing else.
    assert set(kinds) == set(FAMILIES) - {"timecode"}


def test_spreads_and_correlations_are_those_of_something():
    for model in (known_sounds().pitched, known_sounds().unpitched):
        assert (np.linalg.eigvalsh(model.inverses) > 0).all()
        assert np.isfinite(model.extents).all()


@pytest.mark.parametrize(
    ("kind", "low_hz", "high_hz"), [("kick", 40, 70), ("snare", 180, 220), ("hi-hat", 9000, 11000)]
)
def test_drums_are_strongest_where_handbooks_say(kind: str, low_hz: int, high_hz: int):
    """Published rules of thumb: a kick is strongest at about 40 to 70 Hz, a snare at about 200, a hat at about 10 k."""
    strongest = int(shares(kind).argmax())
    bottom = TOPS_HZ[strongest - 1] if strongest else 0
    assert bottom < high_hz
    assert TOPS_HZ[strongest] > low_hz


@pytest.mark.parametrize(
    ("kind", "lowest_hz"),
    [
        ("guitar", 82.41), ("acoustic", 82.41), ("mandolin", 196.0), ("brass", 82.41), ("woodwind", 103.8),
        ("strings", 65.41), ("vocal", 82.0), ("choir", 82.0),
    ],
)  # fmt: skip
def test_hardly_anything_lies_below_an_instruments_lowest_note(kind: str, lowest_hz: float):
    """Lowest notes from the music21 library's table (guitar E2, violin and mandolin G3, trombone E2, tenor saxophone
    Ab2, cello C2); of sung ones, a bass's, from memory."""
    below = [share for share, top in zip(shares(kind), TOPS_HZ, strict=True) if top <= lowest_hz]
    assert below
    assert sum(below) < 0.02


def test_a_bass_lies_an_octave_and_more_below_a_guitar():
    """E1 41.2 Hz against E2 82.4 (music21's table)."""
    half = FIGURES.index("half")
    sounds = known_sounds()
    middles = dict(zip(sounds.kinds, sounds.pitched.middles[:, half], strict=True))
    assert middles["guitar"] - middles["bass"] > 1.0
    assert middles["acoustic"] - middles["bass"] > 1.0
