"""Which few seconds of a take to listen to, told from histories: for `hear`, for `confirm` and for the page's excerpts.
Pure: arrays in, places out.

Energies are sums of squares by 100 ms hop, as the meters leave them.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

import numpy as np

HOPS_PER_S = 10

NEAR_LOUDEST_DB = 15.0
"""An excerpt is no more than this below the track's own loudest, so that there is something to hear."""


def loudest(energy: np.ndarray, seconds: float) -> float:
    """Where the loudest `seconds` of a track begin, in seconds on the take's clock.

    >>> loudest(np.array([0.0] * 50 + [1.0] * 10 + [0.0] * 40), 1.0)
    5.0
    """
    return int(np.argmax(_windows(energy, seconds))) / HOPS_PER_S


def stand_out(
    energies: Mapping[int, np.ndarray], tracks: Iterable[int], seconds: float, apart: Mapping[int, int] | None = None
) -> dict[int, float]:
    """Where the `seconds` begin in which each of these tracks stands out most from all others.

    The loudest moment of a microphone may be its neighbour's. So every track is measured by its own loudness (the
    95th percentile of its hops), and that moment is taken in which this track's share of all of them is the greatest,
    among those in which it is not much quieter than at its loudest. A track's partner (`apart`: one that hears the same
    source) does not count against it.
    """
    length = max((len(energy) for energy in energies.values()), default=0)
    padded = {number: _padded(energy, length) for number, energy in energies.items()}
    measured = {number: _windows(_measured(energy), seconds) for number, energy in padded.items()}
    total = sum(measured.values(), np.zeros(1))
    found = {}
    for track in tracks:
        own = _windows(padded[track], seconds)
        if not own.any():
            found[track] = 0.0
            continue
        partner = (apart or {}).get(track)
        against = total if partner is None or partner == track else total - measured.get(partner, 0.0)
        share = measured[track] / (np.maximum(against, measured[track]) + 1e-12)
        share[own < own.max() * 10 ** (-NEAR_LOUDEST_DB / 10)] = -1.0
        found[track] = int(np.argmax(share)) / HOPS_PER_S
    return found


def _measured(energy: np.ndarray) -> np.ndarray:
    """A track's energies against its own loudness; nothing for silence."""
    sounding = energy[energy > 0]
    return energy / np.percentile(sounding, 95) if len(sounding) else energy


def _padded(energy: np.ndarray, length: int) -> np.ndarray:
    return np.concatenate([energy, np.zeros(length - len(energy))])


def _windows(energy: np.ndarray, seconds: float) -> np.ndarray:
    hops = min(max(1, round(seconds * HOPS_PER_S)), max(1, len(energy)))
    sums = np.concatenate([[0.0], np.cumsum(energy)])
    # Sums of what never was may come out a hair below nothing.
    return np.maximum(sums[hops:] - sums[:-hops], 0.0) if len(energy) else np.zeros(1)
