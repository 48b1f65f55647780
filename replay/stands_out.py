"""Which few seconds of a take to listen to, told from histories. Pure: arrays in, places out.

Energies are sums of squares by 100 ms hop, as the meters leave them.
"""

from __future__ import annotations

from collections.abc import Mapping

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


def stands_out(energies: Mapping[int, np.ndarray], track: int, apart_from: tuple[int, ...], seconds: float) -> float:
    """Where the `seconds` begin in which a track stands out most from all others.

    The loudest moment of a microphone may be its neighbour's. So every track is measured by its own loudness (the
    95th percentile of its hops), and that moment is taken in which this track's share of all of them is the greatest,
    among those in which it is not much quieter than at its loudest. Tracks in `apart_from` (a partner that hears the
    same source) do not count.
    """
    length = max((len(energy) for energy in energies.values()), default=0)
    own = _windows(_padded(energies[track], length), seconds)
    if not own.any():
        return 0.0
    total = np.zeros(len(own))
    for number, energy in energies.items():
        if number != track and number not in apart_from:
            total += _windows(_measured(_padded(energy, length)), seconds)
    mine = _windows(_measured(_padded(energies[track], length)), seconds)
    share = mine / (mine + total + 1e-12)
    share[own < own.max() * 10 ** (-NEAR_LOUDEST_DB / 10)] = -1.0
    return int(np.argmax(share)) / HOPS_PER_S


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
