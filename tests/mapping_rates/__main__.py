"""Print the table of rates: `python -m tests.mapping_rates [--write docs/mapping.md] [--tuning]`."""

from __future__ import annotations

import argparse
import pickle
import sys
import zlib
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np

from tests.mapping_rates import fools
from tests.mapping_rates.bands import TABLE, TUNING, Band
from tests.mapping_rates.base import base, kept_folder
from tests.mapping_rates.cases import (
    Case,
    Heard,
    block,
    exchange,
    found,
    hear,
    hear_files,
    random_pairs,
    shift,
    songs_only,
    sources_told,
    straight,
    with_part,
)
from tests.mapping_rates.rates import Row, markdown
from tests.material.recording import Recording

BEGIN, END = "<!-- rates: made by python -m tests.mapping_rates --write -->", "<!-- end of rates -->"

FAMILY = {
    "vocal": "voice", "backing": "voice", "speech": "voice", "talkback": "voice", "choir": "voice", "brass": "wind",
    "woodwind": "wind", "keys": "keys", "strings": "keys", "guitar": "plucked", "acoustic": "plucked", "kick": "kick",
    "snare": "snare", "tom": "tom", "hi-hat": "hi-hat", "bass": "bass", "click": "click",
}  # fmt: skip
"""Sources are unlike where they are of two of these families. What may hold anything (playback, percussion, timecode,
spares) or hears the whole stage (overheads, ambience) belongs to none: its exchanges have rows of their own."""

TAKES: dict[str, tuple[str, Callable[[Recording, int], Recording] | None]] = {
    "line check": ("clean", None),
    "songs": ("clean", lambda recording, seed: songs_only(recording)),
    "two songs": ("clean", lambda recording, seed: _songs(recording, 0, 2)),
    "two other songs": ("clean", lambda recording, seed: _songs(recording, 2, 4)),
    "line check and a song": ("clean", lambda recording, seed: with_part(recording, 0, recording.songs[0][1] + 1)),
    "one voice into all": ("fool", fools.one_voice),
    "out of order": ("fool", fools.out_of_order),
    "two out of turn": ("fool", fools.two_out_of_turn),
    "fills between": ("fool", fools.fills_between),
    "repeats and skips": ("fool", fools.repeats_and_skips),
    "loud stage": ("fool", lambda recording, seed: fools.loud_stage(songs_only(recording), seed)),
    "loud stage, line check": ("fool", fools.loud_stage),
    "dual mono": ("fool", lambda recording, seed: fools.dual_mono(songs_only(recording), seed)),
    "room noise": ("fool", lambda recording, seed: fools.room_noise(songs_only(recording), seed)),
}
IN_ORDER = ("line check", "line check and a song", "one voice into all", "fills between", "loud stage, line check")
"""Takes whose line check goes by the input list."""
WITHOUT = ("songs", "two songs", "two other songs")
FROM_FILES = ("line check", "songs")
"""Takes that are also written to files and checked as a user would."""
IN_COMMON = 0.6
"""Sides of a pair whose correlation is less (wide stereo sounds) have no polarity against each other."""
MAIN = ("line check", "songs")
"""Takes from which most cases are made."""
LOUD = ("fault", "warning")


def _songs(recording: Recording, first: int, last: int) -> Recording:
    return with_part(recording, recording.songs[first][0] - 0.4, recording.songs[last - 1][1] + 1.2)


def heard_take(band: Band, take: str, make: Callable[[Recording], Recording]) -> Heard:
    """What the program heard, kept between runs of the table (remove the folder after changing the program)."""
    path = kept_folder() / band.name / f"{take.replace(' ', '-').replace(',', '')}.heard"
    if path.exists():
        return pickle.loads(path.read_bytes())
    heard = hear(make(base(band)), f"{band.name}, {take}")
    path.write_bytes(pickle.dumps(heard))
    return heard


class Table:
    """The rows, counted band by band."""

    def __init__(self, verbose: bool, from_files: bool) -> None:
        self.rows: dict[str, Row] = {}
        self.from_files = from_files
        self.verbose = verbose

    def count(self, what: str, wanted: str, hit: bool, detail: object = "") -> None:
        row = self.rows.setdefault(what, Row(what, wanted))
        row.count(hit)
        good = not hit if wanted.startswith("at most") or wanted == "none" else hit
        if self.verbose and not good:
            print("   ", what, "|", detail, file=sys.stderr)

    def band(self, band: Band) -> None:
        seed = zlib.crc32(band.name.encode())
        rng = np.random.default_rng(seed)
        for take, (sort, make) in TAKES.items():
            heard = heard_take(band, take, lambda recording, make=make: make(recording, seed) if make else recording)
            self.clean(heard, take, sort)
            if self.from_files and take in FROM_FILES:
                self.read_from_files(band, take, make(base(band), seed) if make else base(band))
            if take in (*IN_ORDER, *WITHOUT):
                self.exchanges(heard, take, rng, 20 if take in MAIN else 4)
                self.rows_of_many(heard, take, rng, 10 if take in MAIN else 2)
                self.polarity(heard, take)
        for number in range(3):
            pairs = _copies(base(band), np.random.default_rng(seed + number))
            heard = heard_take(
                band,
                f"copies {number}",
                lambda recording, pairs=pairs: fools.with_copies(_songs(recording, 0, 3), pairs, seed),
            )
            told = [
                one for one in found(heard, Case("", straight(sorted(heard.names))), "none") if one.code == "duplicate"
            ]
            for pair in pairs:
                hit = any(set(one.tracks) == set(pair) and one.severity == "fault" for one in told)
                self.count("one source on two tracks", "99 %", hit, (heard.name, pair))

    def clean(self, heard: Heard, take: str, sort: str) -> None:
        """Nothing is wrong: whatever is told as fault or warning is false."""
        what = "clean takes" if sort == "clean" else "clean takes that fool it"
        for names in ("list", "none"):
            told = [
                (one.code, one.message)
                for one in found(heard, Case("clean", straight(sorted(heard.names))), names)
                if one.severity in LOUD
            ]
            self.count(f"{what}: false fault or warning", "at most 1 %", bool(told), (heard.name, names, told))

    def read_from_files(self, band: Band, take: str, recording: Recording) -> None:
        """The same takes written to files and checked as a user would."""
        mapping = {"swapped", "shifted", "moved-block", "name-mismatch", "duplicate", "polarity", "unlikely-source"}
        told = [one for one in hear_files(recording, take) if one[1] in mapping]
        row = "clean takes read from files: false fault or warning of this kind"
        self.count(row, "at most 1 %", bool(told), (band.name, take, told))

    def exchanges(self, heard: Heard, take: str, rng: np.random.Generator, many: int) -> None:
        kinds = {channel.number: channel.kind for channel in heard.patch.channels}
        tracks = sorted(heard.names)
        way = "with" if take in IN_ORDER else "without"
        counted = 0
        for a, b in random_pairs(tracks, 400, rng):
            families = FAMILY.get(kinds[a]), FAMILY.get(kinds[b])
            if None in families:
                sort = "with what may hold anything"
            else:
                sort = "of unlike sources" if families[0] != families[1] else "of like sources"
            if sort != "of unlike sources" and rng.random() > 0.25:
                continue
            case = exchange(tracks, a, b)
            names = ("list", "none")[counted % 2]
            told = found(heard, case, names)
            right = any(one.code == "swapped" and set(one.channels) == {a, b} for one in told)
            wrong = any(
                one.code in ("swapped", "shifted", "moved-block") and not set(one.channels) <= {a, b} for one in told
            )
            wanted = {"with": "95 %", "without": "85 %"}[way] if sort == "of unlike sources" else "not promised"
            row = f"exchange {sort}, {way} a line check"
            if sort == "of like sources" and way == "without":
                wanted = "not guessed"
            self.count(row, wanted, right, (heard.name, names, kinds[a], kinds[b], [one.message for one in told]))
            self.count(
                "an exchange told on other channels than it is", "at most 5 %", wrong and not right, (heard.name, a, b)
            )
            counted += 1
            if counted >= many:
                break

    def rows_of_many(self, heard: Heard, take: str, rng: np.random.Generator, many: int) -> None:
        tracks = sorted(heard.names)
        way = "with" if take in IN_ORDER else "without"
        spares = [channel.number for channel in heard.patch.channels if channel.use != "must"]
        for place in range(many):
            last = int(rng.choice([*spares, tracks[-1]]))
            first = int(rng.integers(1, max(last - 5, 2)))
            if last - first >= 5:
                case = shift(tracks, first, last, int(rng.choice([1, 1, -1, 2])))
                names = ("list", "none")[place % 2]
                right = any(
                    _mostly(one.sources, case.wrong) for one in sources_told(heard, case, names) if one.shape == "shift"
                )
                self.count(f"shift from a slot on, {way} a line check", "95 %", right, (heard.name, names, first, last))
            size = int(rng.choice([4, 8]))
            # Blocks of one box: the rack's digital inputs come from elsewhere.
            riser = [c.number for c in heard.patch.channels if c.socket is not None and c.socket.box == "riser"]
            blocks = len(riser) // size
            if blocks >= 2:
                i, j = sorted(int(one) for one in rng.permutation(blocks)[:2])
                case = block(tracks, riser[0] + i * size, riser[0] + j * size, size)
                names = ("none", "list")[place % 2]
                right = any(one.sources == case.wrong for one in sources_told(heard, case, names))
                self.count(f"block moved, {way} a line check", "95 %", right, (heard.name, names, i, j, size))

    def polarity(self, heard: Heard, take: str) -> None:
        """A side with the wrong polarity: the same as a switch of the list that is set the wrong way."""
        case = Case("polarity", straight(sorted(heard.names)))
        for channel in heard.patch.channels:
            if channel.pair is None or channel.pair < channel.number or channel.pairing == "spaced":
                continue
            turned = tuple(
                replace(one, inverted=not one.inverted, polarity_stated=True) if one.number == channel.number else one
                for one in heard.patch.channels
            )
            told = found(heard, case, "list", replace(heard.patch, channels=turned))
            right = any(one.code == "polarity" and channel.number in one.channels for one in told)
            common = heard.common[channel.number]
            row = (
                "wrong polarity in a pair on one source"
                if common >= IN_COMMON
                else "wrong polarity in a wide stereo pair"
            )
            self.count(
                row, "95 %" if common >= IN_COMMON else "not promised", right, (heard.name, channel.name, common)
            )


def _mostly(told: dict[int, int | None], true: dict[int, int | None]) -> bool:
    """A shift is told where two thirds of the moved channels are, and no other."""
    right = sum(1 for channel, track in true.items() if channel in told and told[channel] == track)
    return right >= 2 / 3 * len(true) and set(told) <= set(true) | {max(true) + 1, min(true) - 1}


def _copies(recording: Recording, rng: np.random.Generator) -> list[tuple[int, int]]:
    """Five pairs of inputs that have nothing to do with each other."""
    usable = [
        one.number
        for one in recording.inputs
        if one.use == "must"
        and one.kind not in ("timecode", "playback", "click", "ambience")
        and one.pairing != "stereo"
    ]
    order = [int(one) for one in rng.permutation(usable)]
    pairs = list(zip(order[0:10:2], order[1:10:2], strict=False))
    partner = {one.number: one.pair for one in recording.inputs}
    return [(a, b) for a, b in pairs if partner[a] != b]


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.mapping_rates", description=__doc__)
    parser.add_argument("--write", type=Path, help="put the table into this page, between its markers")
    parser.add_argument("--tuning", action="store_true", help="the bands on which the limits were chosen")
    parser.add_argument("--verbose", action="store_true", help="name what was missed")
    parser.add_argument("--quick", action="store_true", help="every other band, and nothing written to files")
    parser.add_argument("--only", metavar="BAND", help="one band: several calls beside each other fill what is kept")
    call = parser.parse_args()
    table = Table(call.verbose, from_files=not call.quick)
    bands = TUNING if call.tuning else TABLE
    if call.quick and not call.tuning:
        bands = tuple(band for place, band in enumerate(bands) if place % 4 in (0, 3))
    if call.only:
        bands = tuple(band for band in (*TUNING, *TABLE) if band.name == call.only)
    for band in bands:
        table.band(band)
        print(band.name, file=sys.stderr)
    text = markdown(sorted(table.rows.values(), key=lambda row: row.what))
    print(text)
    if call.write:
        page = call.write.read_text(encoding="utf-8")
        before, rest = page.split(BEGIN)
        after = rest.split(END)[1]
        call.write.write_text(f"{before}{BEGIN}\n{text}\n{END}{after}", encoding="utf-8")


if __name__ == "__main__":
    main()
