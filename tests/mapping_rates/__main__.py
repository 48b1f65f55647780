"""Print the table of rates: `python -m tests.mapping_rates [--write docs/mapping.md] [--tuning]`."""

from __future__ import annotations

import argparse
import sys
import zlib
from dataclasses import replace
from pathlib import Path

import numpy as np

from replay.mapping.model import Misplacement
from tests.mapping_rates.bands import TABLE, TUNING, Band
from tests.mapping_rates.cases import (
    Case,
    Heard,
    block,
    exchange,
    found,
    random_pairs,
    shift,
    sources_told,
    straight,
)
from tests.mapping_rates.rates import Row, markdown
from tests.mapping_rates.takes import (
    COPIES,
    FROM_FILES,
    IN_ORDER,
    WITHOUT,
    Make,
    complete,
    heard_take,
    read_back,
    takes_of,
    told_of_files,
    with_copies,
)
from tests.material.recording import Recording

BEGIN, END = "<!-- rates: made by python -m tests.mapping_rates --write -->", "<!-- end of rates -->"

FAMILY = {
    "vocal": "voice", "backing": "voice", "speech": "voice", "choir": "voice", "brass": "wind",
    "woodwind": "wind", "keys": "keys", "strings": "keys", "guitar": "plucked", "acoustic": "plucked", "kick": "kick",
    "snare": "snare", "tom": "tom", "hi-hat": "hi-hat", "bass": "bass", "click": "click",
}  # fmt: skip
"""Sources are unlike where they are of two of these families. What may hold anything (playback, percussion, timecode,
spares), need not speak at all (talkback) or hears the whole stage (overheads, ambience) belongs to none: its exchanges
have rows of their own."""

IN_COMMON = 0.6
"""Sides of a pair whose correlation is less (wide stereo sounds) have no polarity against each other."""
MAIN = ("line check", "songs")
"""Takes from which most cases are made."""
LOUD = ("fault", "warning")


class Table:
    """The rows, counted band by band."""

    def __init__(self, verbose: bool, from_files: bool) -> None:
        self.rows: dict[str, Row] = {}
        self.takes = self.read = 0
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
        for take, (sort, make) in takes_of(band).items():

            def made(recording: Recording, make: Make = make) -> Recording:
                return make(recording, seed) if make else recording

            heard = heard_take(band, take, made)
            self.takes += 1
            self.clean(heard, take, sort)
            if take in FROM_FILES and (self.from_files or read_back(band, take)):
                self.read_from_files(band, take, told_of_files(band, take, made))
            if take in (*IN_ORDER, *WITHOUT):
                self.exchanges(heard, take, rng, 20 if take in MAIN else 4)
                self.rows_of_many(heard, take, rng, 10 if take in MAIN else 2)
                self.polarity(heard, take)
        for number in range(COPIES):
            pairs, heard = with_copies(band, number, seed)
            self.takes += 1
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

    def read_from_files(self, band: Band, take: str, all_told: tuple[tuple[str, str, str], ...]) -> None:
        """The same takes written to files and checked as a user would."""
        self.read += 1
        mapping = {"swapped", "shifted", "moved-block", "name-mismatch", "duplicate", "polarity", "unlikely-source"}
        told = [one for one in all_told if one[1] in mapping]
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
                alike = "of like sources" if _sounds_as(kinds[a]) == _sounds_as(kinds[b]) else "of related sources"
                sort = "of unlike sources" if families[0] != families[1] else alike
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
                    _mostly(one.sources, case.wrong) or _as_far_as_is_told(one, case.wrong, spares)
                    for one in sources_told(heard, case, names)
                    if one.shape == "shift"
                )
                self.count(f"shift from a slot on, {way} a line check", "95 %", right, (heard.name, names, first, last))
            size = int(rng.choice([4, 8]))
            # Blocks of one box: the rack's digital inputs come from elsewhere, and may lie between.
            riser = [c.number for c in heard.patch.channels if c.socket is not None and c.socket.box == "riser"]
            first_of = [part[0] for at in range(0, len(riser) - size + 1, size)
                        if (part := riser[at : at + size])[-1] - part[0] == size - 1]  # fmt: skip
            if len(first_of) >= 2:
                i, j = sorted(first_of[int(one)] for one in rng.permutation(len(first_of))[:2])
                case = block(tracks, i, j, size)
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


def _sounds_as(kind: str) -> str:
    return "vocal" if kind == "backing" else kind


def _mostly(told: dict[int, int | None], true: dict[int, int | None]) -> bool:
    """A shift is told where two thirds of the moved channels are, and no other."""
    right = sum(1 for channel, track in true.items() if channel in told and told[channel] == track)
    return right >= 2 / 3 * len(true) and set(told) <= set(true) | {max(true) + 1, min(true) - 1}


def _as_far_as_is_told(told: Misplacement, true: dict[int, int | None], spares: list[int]) -> bool:
    """Where a shift begins in a row of like sources, nothing says, nor where it ends behind a spare. It is told as well
    where all sources that are told to lie elsewhere do lie there and are half of those that moved, and where its true
    beginning and end are either theirs or among the channels of which it is said that they may have moved too (spares
    hold nothing to be moved)."""
    sure = {channel: track for channel, track in told.sources.items() if track is not None}
    right = all(channel in true and true[channel] == track for channel, track in sure.items())
    moved = sum(1 for track in true.values() if track is not None)
    begins = min(true) in (*told.may_begin, min(told.sources))
    end = max(set(true) - set(spares), default=0)
    ends = end in (*told.may_end, max(set(told.sources) - set(spares), default=0))
    return right and 2 * len(sure) >= moved and begins and ends


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.mapping_rates", description=__doc__)
    parser.add_argument("--write", type=Path, help="put the table into this page, between its markers")
    parser.add_argument("--tuning", action="store_true", help="the bands on which the limits were chosen")
    parser.add_argument("--verbose", action="store_true", help="name what was missed")
    parser.add_argument("--quick", action="store_true", help="nothing written to files")
    parser.add_argument("--share", metavar="I/N", default="1/1", help="every Nth band, from the Ith")
    parser.add_argument("--done", action="store_true", help="only what was heard before: bands that are complete")
    call = parser.parse_args()
    table = Table(call.verbose, from_files=not call.quick and not call.done)
    bands = TUNING if call.tuning else TABLE
    share, of = (int(part) for part in call.share.split("/"))
    bands = bands[share - 1 :: of]
    if call.done:
        bands = tuple(band for band in bands if complete(band))
    for band in bands:
        table.band(band)
        print(band.name, file=sys.stderr, flush=True)
    text = markdown(sorted(table.rows.values(), key=lambda row: row.what))
    text += (
        f"\n\nFrom {len(bands)} bands: {table.takes} takes, {table.read} of them also written to files and read back."
    )
    print(text)
    if call.write:
        page = call.write.read_text(encoding="utf-8")
        before, rest = page.split(BEGIN)
        after = rest.split(END)[1]
        call.write.write_text(f"{before}{BEGIN}\n{text}\n{END}{after}", encoding="utf-8")


if __name__ == "__main__":
    main()
