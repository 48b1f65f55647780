"""The table of how kinds sound, `sounds.csv`, as what a likelihood needs of it.

A row a figure: its kind, the figure, its middle, its spread, and its correlations with the figures above it.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np

from replay.mapping.figures import FIGURES, PITCH

TABLE = Path(__file__).parent / "sounds.csv"

ROOM = np.array([*[0.06] * 9, 0.3, 1.2, 0.36, 0.09, 0.09, 0.36])
"""What is added to each figure's spread (as the root of the sum of squares), in the figures' own units: a third of an
octave, 1.2 dB of crest, 0.06 of a share's root. Real instruments differ by more than rendered ones; with this much,
players whose sounds were left out of the table were told nearly as often as without it."""


@dataclass(frozen=True)
class Model:
    """Some of the figures of all kinds: `middles` (kinds, figures), `inverses` of the covariances (kinds, figures,
    figures), and `extents`, the logarithms of their determinants (kinds,)."""

    middles: np.ndarray
    inverses: np.ndarray
    extents: np.ndarray

    def squares(self, here: np.ndarray) -> np.ndarray:
        """float64 (kinds,): how far figures lie from each kind, squared and in its own spreads."""
        away = here - self.middles
        return np.einsum("ki,kij,kj->k", away, self.inverses, away)


@dataclass(frozen=True)
class Sounds:
    """The kinds in the table's order, with all figures and without the pitch."""

    kinds: tuple[str, ...]
    pitched: Model
    unpitched: Model


@cache
def known_sounds() -> Sounds:
    """The table, read once."""
    rows: dict[str, list[list[float]]] = {}
    with TABLE.open(encoding="utf-8", newline="") as file:
        for kind, _, *numbers in list(csv.reader(file))[1:]:
            rows.setdefault(kind, []).append([float(one) for one in numbers if one])
    middles = np.array([[line[0] for line in lines] for lines in rows.values()])
    covariances = np.array([_covariance(lines) for lines in rows.values()])
    return Sounds(
        kinds=tuple(rows),
        pitched=_model(middles, covariances),
        unpitched=_model(middles[:, :PITCH], covariances[:, :PITCH, :PITCH]),
    )


def _covariance(lines: list[list[float]]) -> np.ndarray:
    together = np.eye(len(FIGURES))
    for place, (_, _, *correlations) in enumerate(lines):
        together[place, :place] = together[:place, place] = correlations
    spreads = np.array([line[1] for line in lines])
    return together * np.outer(spreads, spreads) + np.diag(ROOM**2)


def _model(middles: np.ndarray, covariances: np.ndarray) -> Model:
    return Model(middles, np.linalg.inv(covariances), np.linalg.slogdet(covariances)[1])
