"""Measure how kinds sound: `python -m tests.mapping_rates.sounds --write replay/mapping/sounds.csv`.

What the program heard of the tuning bands' songs, each line-up once with each set of players. A kind's spreads and
correlations are its own to four fifths and those of all kinds to one; of what goes together, four fifths are believed.
"""

from __future__ import annotations

import argparse
import csv
import io
import zlib
from collections.abc import Iterator
from pathlib import Path

import numpy as np

from replay.mapping.figures import FIGURES, figures
from tests.mapping_rates.bands import TUNING, Band
from tests.mapping_rates.base import kept_folder
from tests.mapping_rates.takes import TAKES, heard_take
from tests.material.recording import Recording

TAKEN = ("songs", "two songs", "two other songs", "loud stage")
SOUNDLESS = ("playback", "timecode", "other", "talkback")
"""Kinds that have no sound of their own."""

ALIKE = {"backing": "vocal"}
OF_ITS_OWN = {"Mandolin DI": "mandolin"}
"""Instruments that sound unlike the others of their kind have rows of their own."""

OWN, BELIEVED = 0.8, 0.8
LEAST = 0.02
"""No spread is less, in any figure: bands that hold nothing do so with less than any real one."""


def bands() -> list[Band]:
    """Each line-up with each set of players once."""
    first: dict[tuple, Band] = {}
    for band in TUNING:
        first.setdefault((band.lines, tuple(sorted(band.recast.items()))), band)
    return list(first.values())


def heard(band: Band) -> Iterator[tuple[str, np.ndarray]]:
    """The kind and the figures of every track of a band's takes that has a sound."""
    seed = zlib.crc32(band.name.encode())
    for take in TAKEN:
        make = TAKES[take][1]

        def made(recording: Recording, make=make) -> Recording:
            return make(recording, seed) if make else recording

        found = heard_take(band, take, made)
        kinds = {
            channel.number: OF_ITS_OWN.get(channel.name, ALIKE.get(channel.kind, channel.kind))
            for channel in found.patch.channels
        }
        for track, sound in found.evidence.sounds.items():
            if kinds[track] not in SOUNDLESS and track not in found.evidence.silent:
                yield kinds[track], figures(sound)
    # A band's samples take 300 MB.
    (kept_folder() / band.name / "tracks.npy").unlink(missing_ok=True)


def table(found: dict[str, list[np.ndarray]]) -> str:
    """The table as CSV: kind, figure, middle, spread, correlations with the figures above it."""
    away = {}
    middles = {}
    usual = np.nanmedian(np.concatenate([np.array(rows) for rows in found.values()]), axis=0)
    for kind, rows in found.items():
        here = np.array(rows)
        pitched = ~np.isnan(here).all(axis=0)
        middles[kind] = usual.copy()
        middles[kind][pitched] = np.nanmedian(here[:, pitched], axis=0)
        away[kind] = np.nan_to_num(here - middles[kind])
    own = {kind: rows.T @ rows / len(rows) for kind, rows in away.items()}
    every = np.concatenate(list(away.values()))
    common = every.T @ every / len(every)
    out = io.StringIO()
    write = csv.writer(out, lineterminator="\n").writerow
    write(["kind", "figure", "middle", "spread", "correlations with the figures above"])
    for kind in sorted(found):
        covariance = OWN * own[kind] + (1 - OWN) * common
        spreads = np.maximum(np.sqrt(np.diag(covariance)), LEAST)
        together = BELIEVED * covariance / np.outer(spreads, spreads)
        for place, figure in enumerate(FIGURES):
            numbers = [f"{together[place, other]:.2f}" for other in range(place)]
            write([kind, figure, f"{middles[kind][place]:.3f}", f"{spreads[place]:.3f}", *numbers])
    return out.getvalue()


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.mapping_rates.sounds", description=__doc__)
    parser.add_argument("--write", type=Path, help="put the table here")
    call = parser.parse_args()
    found: dict[str, list[np.ndarray]] = {}
    for band in bands():
        for kind, here in heard(band):
            found.setdefault(kind, []).append(here)
        print(band.name, flush=True)
    text = table(found)
    print(text if not call.write else f"{sum(map(len, found.values()))} sounds of {len(found)} kinds")
    if call.write:
        call.write.write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
