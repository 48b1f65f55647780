"""What the matrices of tracks against channels give the hypotheses: of all of them at once. Pure.

There are thousands of hypotheses, and a shift moves a hundred places. So what all of them move is laid out in a row
once, and a matrix is asked for the whole row in a few steps; what belongs to one hypothesis is added in the order in
which it stands there.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from replay.mapping.hypotheses import LOST, Hypothesis
from replay.mapping.places import Places


class Explained:
    """The hypotheses about a list, laid out: `channels` and `tracks` are the places of all their sources, `whose` says
    to which hypothesis each belongs; `empty` and `whose_empty` are the same of the places that hold no source."""

    def __init__(self, hypotheses: Sequence[Hypothesis], places: Places) -> None:
        self._places = places
        self._count = len(hypotheses)
        numbers = np.arange(self._count)
        self._channels = np.array([channel for one in hypotheses for channel in one.source], np.int32)
        self._tracks = np.array([track for one in hypotheses for track in one.source.values()], np.int32)
        self._whose = np.repeat(numbers, np.array([len(one.source) for one in hypotheses], np.int32))
        self._empty = np.array([place for one in hypotheses for place in one.empty], np.int32)
        self._whose_empty = np.repeat(numbers, np.array([len(one.empty) for one in hypotheses], np.int32))
        self._shifts = np.array([one.shape == "shift" for one in hypotheses], bool)
        by = np.array([one.by for one in hypotheses], np.int32)
        self._lost = self._tracks == LOST
        self._came_round = self._shifts[self._whose] & ~self._lost & (self._tracks != self._channels + by[self._whose])

    def added(self, of_place: Sequence[float]) -> np.ndarray:
        """float64, one a hypothesis: the sum of what its channels' places have."""
        return self._sums(self._whose, np.asarray(of_place, np.float64)[self._channels])

    def gains(self, kind: str) -> np.ndarray:
        """float64, one a hypothesis: what it explains better than 'as patched', by the matrix of one kind."""
        matrix = getattr(self._places, kind)
        as_patched = matrix[self._channels, self._channels]
        instead = matrix[self._tracks, self._channels]
        nothing = np.array(self._places.lost)[self._channels] if kind == "silence" else 0.0
        steps = np.stack([-as_patched, np.where(self._lost, nothing, instead)], axis=1)
        left = matrix[self._empty, len(self._places.channels)]
        whose = np.concatenate([np.repeat(self._whose, 2), self._whose_empty])
        gains = self._sums(whose, np.concatenate([steps.reshape(-1), left]))
        return gains - self._odd() if kind == "sound" else gains

    def came_round_unheard(self) -> np.ndarray:
        """bool, one a hypothesis: whether what need not play is said to have come round from the end of a shift: the
        same as that something of nobody's lies there, for less."""
        unheard = self._came_round & (np.array(self._places.lost)[self._channels] == 0.0)
        return np.bincount(self._whose[unheard], minlength=self._count) > 0

    def _odd(self) -> np.ndarray:
        """What a shift would gain by odd sounds alone, which are no reason for it: that what lies at its head is
        nobody's, or that what may hold anything came round to there."""
        sound = self._places.sound
        anything = self._came_round & ~np.array(self._places.definite, bool)[self._channels]
        channels, tracks = self._channels[anything], self._tracks[anything]
        came = np.maximum(sound[tracks, channels] - sound[tracks, tracks], 0.0)
        head = self._shifts[self._whose_empty]
        whose = np.concatenate([self._whose_empty[head], self._whose[anything]])
        return self._sums(whose, np.concatenate([-sound[self._empty[head], self._empty[head]], came]))

    def _sums(self, whose: np.ndarray, values: np.ndarray) -> np.ndarray:
        return np.bincount(whose, values, minlength=self._count)
