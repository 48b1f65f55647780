"""Every line of the bench's first table: what is run, on which show."""

from __future__ import annotations

import csv
import os
import shutil
import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from importlib.util import find_spec
from pathlib import Path

from tests.bench.figures import Cost
from tests.bench.running import run

PROCESSORS = os.cpu_count() or 1
FFMPEG = ("ffmpeg", "-hide_banner", "-nostats", "-nostdin", "-loglevel", "error")


@dataclass(frozen=True)
class Shows:
    """Where the files are. `environment` keeps what is kept between runs away from the user's own."""

    folder: Path
    environment: dict[str, str] = field(default_factory=dict)

    def of(self, name: str) -> Path:
        return self.folder / name

    def files(self, name: str) -> list[str]:
        return [str(path) for path in sorted((self.of(name) / "audio").iterdir())]

    def check(self, name: str, *words: str) -> Cost:
        """`replay check` on a show, as its users call it. A show with faults (1) is answered too."""
        command = [sys.executable, "-m", "replay", "check", str(self.of(name)), "--quiet", *words]
        return run([command], statuses=(0, 1), environment=self.environment)

    def settings(self, name: str) -> list[str]:
        """Trims and gains to try out: every fifth channel's, a few dB off the patch's."""
        words: list[str] = []
        with open(self.of(name) / "inputs.csv", encoding="utf-8", newline="") as file:
            for place, row in enumerate(csv.DictReader(file)):
                if place % 5 == 0:
                    words += ["--trim", f"{row['channel']}=-2.5"]
                    if row["gain"] and int(row["gain"]) >= 6:
                        words += ["--gain", f"{row['channel']}={int(row['gain']) - 6}"]
        return words


def _here(tool: str, files: Sequence[str]) -> Cost:
    """One of `tests.bench.work`, the files dealt out to as many processes as there are processors."""
    shares = [files[first::PROCESSORS] for first in range(min(PROCESSORS, len(files)))]
    commands = [[sys.executable, "-m", "tests.bench.work", tool, *share] for share in shares]
    return run(commands, side_by_side=PROCESSORS)


def _each(files: Sequence[str], before: Sequence[str], after: Sequence[str]) -> Cost:
    """A program on one file at a time, in as many processes as there are processors."""
    return run([[*before, path, *after] for path in files], side_by_side=PROCESSORS)


@dataclass(frozen=True)
class Line:
    """One line of the table. `needs` are programs or packages without which it is left out; `quick` says whether it is
    part of a quick run."""

    name: str
    title: str
    once: Callable[[Shows], Cost]
    needs: tuple[str, ...] = ()
    quick: bool = True

    def missing(self) -> list[str]:
        """What it needs and this machine has not."""
        return [name for name in self.needs if shutil.which(name) is None and find_spec(name) is None]


READ = Line("read", "bytes read, nothing else", lambda shows: _here("read", shows.files("main")))
DECODE = Line("decode", "soundfile, decode to float64 only", lambda shows: _here("decode", shows.files("main")))
EBUR128 = Line(
    "ebur128",
    "ffmpeg -af ebur128=peak=true",
    lambda shows: _each(
        shows.files("main"), (*FFMPEG, "-i"), ("-map", "0:a", "-af", "ebur128=peak=true", "-f", "null", "-")
    ),
    ("ffmpeg",),
)
ASTATS = Line(
    "astats",
    "ffmpeg -af astats",
    lambda shows: _each(shows.files("main"), (*FFMPEG, "-i"), ("-map", "0:a", "-af", "astats", "-f", "null", "-")),
    ("ffmpeg",),
)
SOX = Line("sox", "sox -n stats", lambda shows: _each(shows.files("main"), ("sox",), ("-n", "stats")), ("sox",))
LIBEBUR128 = Line(
    "libebur128",
    "libebur128 (pyebur128): I, S, M, true peak",
    lambda shows: _here("libebur128", shows.files("main")),
    ("pyebur128",),
    quick=False,
)
PYLOUDNORM = Line(
    "pyloudnorm",
    "pyloudnorm: I only",
    lambda shows: _here("pyloudnorm", shows.files("main")),
    ("pyloudnorm",),
    quick=False,
)
FRESH = Line("fresh", "replay check --fresh", lambda shows: shows.check("main", "--fresh"))
POLYPHONIC = Line(
    "polyphonic", "replay check --fresh, one polyphonic file", lambda shows: shows.check("polyphonic", "--fresh")
)
KEPT = Line("kept", "replay check, kept results", lambda shows: shows.check("main"))
WHAT_IF = Line(
    "what-if",
    "replay check, kept results, other trims and gains",
    lambda shows: shows.check("main", *shows.settings("main")),
)
START = Line(
    "start", "replay check --fresh, takes of one second (start)", lambda shows: shows.check("second", "--fresh")
)

TOOLS = (READ, DECODE, EBUR128, ASTATS, SOX, LIBEBUR128, PYLOUDNORM)
NAMES = (
    *(line.name for line in TOOLS), "fresh", "polyphonic", "kept", "what-if", "start", "first-run", "profile",
    "growth", "hour",
)  # fmt: skip
