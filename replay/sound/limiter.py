"""A limiter for headphones: nothing ever leaves it above its ceiling.

It looks one cell of 5 ms ahead. The gain runs in straight lines between the cells' borders, where it is no more than
either neighbour allows, so that no sample passes the ceiling; it recovers by 20 dB a second.
"""

from __future__ import annotations

import numpy as np

CELLS_PER_S = 200
RECOVERY_DB_PER_S = 20.0


class Limiter:
    """Takes blocks (frames, outputs) of any length and hands them back, at most two cells later."""

    def __init__(self, rate: int, ceiling: float) -> None:
        self.ceiling = ceiling
        self._cell = max(1, rate // CELLS_PER_S)
        self._recovery = 10 ** (RECOVERY_DB_PER_S / CELLS_PER_S / 20)
        self._waiting: np.ndarray | None = None
        self._gain: float | None = None

    def feed(self, block: np.ndarray) -> np.ndarray:
        """The next frames that are ready."""
        waiting = block if self._waiting is None else np.concatenate([self._waiting, block])
        cell = self._cell
        cells = max(0, len(waiting) // cell - 1)
        if cells == 0:
            self._waiting = waiting.copy()
            return waiting[:0]
        whole = waiting[: (cells + 1) * cell].reshape(cells + 1, cell, -1)
        allowed = np.minimum(1.0, self.ceiling / np.maximum(np.abs(whole).max(axis=(1, 2)), 1e-9))
        out = np.empty((cells * cell, waiting.shape[1]), waiting.dtype)
        gain = float(allowed[0]) if self._gain is None else self._gain
        for place in range(cells):
            after = min(float(allowed[place]), float(allowed[place + 1]), gain * self._recovery)
            if gain == after == 1.0:
                out[place * cell : (place + 1) * cell] = whole[place]
            else:
                ramp = np.linspace(gain, after, cell, endpoint=False)
                out[place * cell : (place + 1) * cell] = whole[place] * ramp[:, None]
            gain = after
        self._gain = gain
        self._waiting = waiting[cells * cell :].copy()
        # Rounding must not do what the gain does not.
        return np.clip(out, -self.ceiling, self.ceiling, out=out)

    def rest(self) -> np.ndarray:
        """What is still held at the end."""
        if self._waiting is None:
            return np.zeros((0, 2))
        left, outputs = len(self._waiting), self._waiting.shape[1]
        # Silence behind the end pushes it out.
        return self.feed(np.zeros((3 * self._cell, outputs), self._waiting.dtype))[:left]
