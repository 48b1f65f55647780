"""What a microphone hears of the others: it moves with the microphone's way, and not with its own player.

A singer may sing softer today, and a guitarist may turn down. The drums that the same microphone hears do not follow
that; they do follow its cable, its pad and its preamp. So in the moments in which a channel's own source rests, its
power is explained by the powers of all other channels (a sum with weights that are not negative, fitted on one take).
The same weights then say how loud the other take should be there: what is left is how the way of the microphone
changed, whoever played how loud.

It is done both ways, fitted on the one take and on the other, and the steadier one counts: where another channel lost
its microphone, its weight is only right in one of them. On sampled instruments, players up to 8 dB apart, the answer is
within 1 dB of the truth mostly, and within 2 dB where the whole kit got louder.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from replay.compare.hops import Hops

RESTS_BELOW_DB = 12.0
"""A hop so far below the channel's own loud ones (95th percentile) is taken to hold no source of its own; where it does
all the same it stands above what the others explain, and is left out."""

OVER_FLOOR_DB = 6.0
OWN_SOURCE_DB = 3.0
FEWEST_MOMENTS = 80
MOST_MOMENTS = 1200
FEWEST_OTHERS = 4
ROUNDS, STEPS = 4, 120
PERCENTILES = (15, 25, 40, 50)
"""Of what is left, by moment: own sound only adds, so the lower half is looked at, and must agree with itself."""

MOST_SPREAD_DB = 2.0
NOTHING = 1e-20


@dataclass(frozen=True)
class Bleed:
    """By how many dB what a channel hears of the others changed, and by how much the parts of the answer differ; the
    number of `moments` (of 100 ms) in the take that has fewer."""

    change_db: float
    spread_db: float
    moments: int


def bleed(
    channel: int,
    tracks: tuple[Mapping[int, Hops], Mapping[int, Hops]],
    referred: tuple[Mapping[int, float], Mapping[int, float]],
    floors: tuple[float | None, float | None],
    apart_from: int | None = None,
) -> Bleed | None:
    """The change from the first take to the second; None where it cannot be told.

    Parameters
    ----------
    channel : the channel that listens
    tracks : hops by channel number, of both takes
    referred : by channel number, dB to take off its levels so that they are those at its socket
    floors : the channel's noise floor as recorded, in dBFS
    apart_from : a channel that hears the same source, such as its partner
    """
    others = sorted((tracks[0].keys() & tracks[1].keys()) - {channel, apart_from})
    if len(others) < FEWEST_OTHERS or floors[0] is None or floors[1] is None:
        return None
    sides = [
        _resting(channel, others, tracks[side], referred[side], floor - referred[side].get(channel, 0.0))
        for side, floor in enumerate((floors[0], floors[1]))
    ]
    moments = min(len(own) for own, _ in sides)
    if moments < FEWEST_MOMENTS:
        return None
    answers = []
    for own, rest in sides:
        weights = _explained(own, rest)
        left = [10 * np.log10(one / np.maximum(_times(by, weights), NOTHING)) for one, by in sides]
        changes = np.percentile(left[1], PERCENTILES) - np.percentile(left[0], PERCENTILES)
        answers.append(Bleed(float(np.median(changes)), float(np.ptp(changes)), moments))
    best = min(answers, key=lambda one: one.spread_db)
    return best if best.spread_db <= MOST_SPREAD_DB else None


def _resting(
    channel: int, others: list[int], tracks: Mapping[int, Hops], referred: Mapping[int, float], floor: float
) -> tuple[np.ndarray, np.ndarray]:
    """Powers of the channel (moments,) and of the others (moments, others) where its own source rests."""
    own = tracks[channel].levels - referred.get(channel, 0.0)
    heard = own[np.isfinite(own)]
    if len(heard) == 0:
        return heard, np.zeros((0, len(others)))
    loud = float(np.percentile(heard, 95))
    with np.errstate(invalid="ignore"):
        moments = np.flatnonzero((own <= loud - RESTS_BELOW_DB) & (own >= floor + OVER_FLOOR_DB))
    moments = moments[:: max(1, -(-len(moments) // MOST_MOMENTS))]
    rest = np.stack([tracks[number].levels[moments] - referred.get(number, 0.0) for number in others], axis=1)
    return 10 ** (own[moments] / 10), np.where(np.isfinite(rest), 10 ** (np.nan_to_num(rest, nan=-300.0) / 10), 0.0)


def _explained(own: np.ndarray, rest: np.ndarray) -> np.ndarray:
    """Weights (not negative) of the others that explain the channel's power with the least relative error.

    Multiplicative steps, which never leave what is positive (Lee and Seung 2001); between rounds the moments that stand
    above what is explained are left out: there the channel's own source plays.
    """
    ratios = rest / own[:, None]
    weights = 1.0 / np.maximum(ratios.mean(axis=0), NOTHING) / rest.shape[1]
    weights[ratios.max(axis=0) <= 0] = 0.0
    use = np.ones(len(own), bool)
    for _ in range(ROUNDS):
        some = ratios[use]
        products, sums = np.einsum("ij,ik->jk", some, some, optimize=False), some.sum(axis=0)
        for _ in range(STEPS):
            weights = weights * sums / np.maximum(_times(products, weights), NOTHING)
        above = -10 * np.log10(np.maximum(_times(ratios, weights), 1e-12))
        use = above <= np.median(above[use]) + OWN_SOURCE_DB
        if use.sum() < FEWEST_MOMENTS // 2:
            break
    return weights


def _times(matrix: np.ndarray, vector: np.ndarray) -> np.ndarray:
    """Matrix by vector. Not `@`: numpy's library would start threads that wait for each other by spinning."""
    return np.einsum("ij,j->i", matrix, vector)
