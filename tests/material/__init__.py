"""Builder of recorded takes for tests: real sampled instruments on a stage, recorded the way a multitrack is.

The way of the material:

    samples, midi, ltc --> band (who plays what, when) --> stage (microphones, bleed, preamps) --> Recording
    Recording --> faults (planted) --> take (files of any form) and show (patch.toml, inputs.csv)

Nothing here imports the program under test: what the takes hold is known from how they were made. Everything is
deterministic from a seed. The instruments come from packages of the machine (hydrogen-drumkits, fluid-soundfont-gm,
espeak-ng) and are read where they are installed; none is copied into the repository.
"""

from __future__ import annotations

from tests.material.recording import Input, Recording

__all__ = ["Input", "Recording"]
