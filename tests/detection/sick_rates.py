"""How often sick signals are found, and what is said of clean takes: `python -m tests.detection.sick_rates [SEEDS]`."""

from __future__ import annotations

import math
import shutil
import sys
import tempfile
import zlib
from pathlib import Path

import numpy as np

from tests.detection.sick_signals import ONLY_KINDS, PLANTS
from tests.material.recording import Recording
from tests.material.show import write_show
from tests.material.stage import record

KITS = ("forzee", "pearl", "pacific")


def wilson(found: int, asked: int) -> tuple[float, float]:
    """The Wilson 95 % interval of a share."""
    if asked == 0:
        return 0.0, 1.0
    z, p = 1.959964, found / asked
    middle = (p + z * z / (2 * asked)) / (1 + z * z / asked)
    half = z * math.sqrt(p * (1 - p) / asked + z * z / (4 * asked * asked)) / (1 + z * z / asked)
    return middle - half, middle + half


def told(recording: Recording) -> list:
    """The findings of a take with this recording."""
    from replay.simulate import check

    folder = Path(tempfile.mkdtemp())
    try:
        return list(check(write_show(folder / "show", recording), keep=False).findings)
    finally:
        shutil.rmtree(folder)


def rows_for(recording: Recording, name: str) -> list[int]:
    wanted, kinds = PLANTS[name][1], ONLY_KINDS.get(name)
    skip = ("click", "timecode", "talkback", "playback", "ambience", "guitar", "bass", "other")
    return [
        row
        for row, one in enumerate(recording.inputs)
        if one.input in wanted and one.kind not in skip and one.use == "must" and (not kinds or one.kind in kinds)
    ]


def main(seeds: list[int], only: list[str]) -> None:
    found = dict.fromkeys(PLANTS, 0)
    asked = dict.fromkeys(PLANTS, 0)
    clean = loud = 0
    for seed in seeds:
        recording = record(20, seed=seed, seconds=45, kit=KITS[seed % 3], extras=seed % 2 == 0)
        clean += 1
        wrong = [one for one in told(recording) if one.severity in ("fault", "warning")]
        loud += bool(wrong)
        for one in wrong:
            print(f"  clean take {seed}: {one.severity} {one.code} {one.channels}: {one.message}")
        for name, (plant, _) in PLANTS.items():
            if only and name not in only:
                continue
            rng = np.random.default_rng([seed, zlib.crc32(name.encode())])
            rows = rows_for(recording, name)
            if not rows:
                continue
            copy = recording.copy()
            row = int(rng.choice(rows))
            code = plant(copy, row, rng)
            number = copy.inputs[row].number
            findings = told(copy)
            here = any(one.code == code and number in one.channels for one in findings)
            asked[name] += 1
            found[name] += here
            besides = [
                f"{one.code}{one.channels}"
                for one in findings
                if one.severity != "note" and not (one.code == code and number in one.channels)
            ]
            if not here or besides:
                print(f"  seed {seed} {name} on {number} {copy.inputs[row].name}: {'' if here else 'MISSED '}{besides}")
            sys.stdout.flush()
    print("| fault | found | of | share | 95 % interval |\n| --- | --- | --- | --- | --- |")
    for name in PLANTS:
        if asked[name]:
            low, high = wilson(found[name], asked[name])
            share = f"{100 * found[name] / asked[name]:.0f} %"
            print(f"| {name} | {found[name]} | {asked[name]} | {share} | {100 * low:.0f} to {100 * high:.0f} % |")
    print(f"clean takes with a fault or a warning: {loud} of {clean}")


if __name__ == "__main__":
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 5
    first = int(sys.argv[2]) if len(sys.argv) > 2 else 100
    main(list(range(first, first + count)), sys.argv[3:])
