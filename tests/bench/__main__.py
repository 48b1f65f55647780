"""What a check costs, beside what other tools cost on the same files.

Writes takes of sampled instruments (56 mono 24-bit tracks of five minutes, the same as one polyphonic file, and takes
of other sizes), runs every tool on them, and prints processor time, wall time, memory and ratios, then how the cost
grows with tracks and minutes. Nothing passes or fails by these figures. Takes about ten minutes, 13 GB of disk and 5 GB
of memory (for making the takes); with --quick about a minute and 1.3 GB.
"""

from __future__ import annotations

import argparse
import os
import shutil
import signal
import sys
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from tests.bench.extras import first_run, growth, profile
from tests.bench.figures import BEGIN, COST_HEAD, END, Cost, cost_row, markdown, number, splice, write_into
from tests.bench.machine import description
from tests.bench.plan import FULL, QUICK, Plan
from tests.bench.running import FailedError, repeated, run
from tests.bench.tools import FRESH, KEPT, NAMES, POLYPHONIC, PROCESSORS, START, TOOLS, WHAT_IF, Line, Shows


@dataclass
class Bench:
    """One run: the plan, the files, what was asked for, and the pages as they are printed."""

    plan: Plan
    shows: Shows
    only: set[str]

    def __post_init__(self) -> None:
        self.pages: list[str] = []

    def wants(self, name: str) -> bool:
        return not self.only or name in self.only

    def show(self, text: str) -> None:
        print(text, flush=True)
        self.pages.append(text)

    def say(self, text: str) -> None:
        """What is only of interest while it runs."""
        print(text, file=sys.stderr, flush=True)

    def cost(self, line: Line) -> Cost:
        self.say(f"... {line.title}")
        return repeated(lambda: line.once(self.shows), again=self.plan.repeat)


def arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(
        prog="python -m tests.bench", description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--quick", action="store_true", help="takes of one minute, fewer tools, each thing run once")
    parser.add_argument(
        "--folder", type=Path, metavar="DIR", help="put the files in a folder made in DIR (removed at the end)"
    )
    parser.add_argument(
        "--only",
        action="append",
        default=[],
        choices=NAMES,
        metavar="NAME",
        help="only this part, repeatable: " + ", ".join(NAMES),
    )
    parser.add_argument(
        "--write", type=Path, metavar="PAGE", help=f"also put the result into PAGE, between {BEGIN} and {END}"
    )
    return parser.parse_args()


def table(bench: Bench) -> None:
    """The first table: every tool on the same files."""
    samples = bench.plan.main_samples
    rows: list[list[str]] = []
    yardstick: Cost | None = None
    start: Cost | None = None
    left_out: list[str] = []
    if bench.wants("start") or bench.wants("fresh") or bench.wants("polyphonic"):
        start = bench.cost(START)
    for line in TOOLS:
        if not bench.wants(line.name) or (not bench.only and bench.plan.quick and not line.quick):
            continue
        if line.missing():
            left_out.append(f"Left out: {line.title} (this machine has no {', '.join(line.missing())}).\n")
            continue
        cost = bench.cost(line)
        yardstick = cost if line.name == "ebur128" else yardstick
        rows.append(cost_row(line.title, cost, samples, yardstick))
    # The lines above the yardstick get their ratio too.
    rows = [[*row[:-1], _ratio(row, yardstick)] for row in rows]
    mono: Cost | None = None
    polyphonic: Cost | None = None
    for line in (FRESH, POLYPHONIC):
        if not bench.wants(line.name):
            continue
        cost = bench.cost(line)
        assert start is not None
        rows.append(cost_row(line.title, cost, samples, yardstick))
        rows.append(cost_row("- without the start", cost.without(start), samples, yardstick))
        if line is FRESH:
            mono = cost
        else:
            polyphonic = cost
    for line in (KEPT, WHAT_IF):
        if bench.wants(line.name):
            if mono is None:
                bench.shows.check("main")
            rows.append(cost_row(line.title, bench.cost(line), None, None))
    if start is not None:
        rows.append(cost_row(START.title, start, None, None))
    if rows:
        bench.show(
            f"{bench.plan.main_tracks} mono 24-bit tracks of {bench.plan.main_minutes:g} min at 48 kHz, "
            f"{samples / 1e6:.0f} million samples, read from the page cache; single-threaded tools run in {PROCESSORS} "
            "processes side by side\n"
        )
        bench.show(markdown(COST_HEAD, rows))
    for sentence in left_out:
        bench.show(sentence)
    if mono is not None and polyphonic is not None:
        ratios = f"{polyphonic.cpu_s / mono.cpu_s:.2f} times the CPU and {polyphonic.wall_s / mono.wall_s:.2f} times"
        bench.show(f"The polyphonic file takes {ratios} the wall time of the mono files.\n")


def _ratio(row: list[str], yardstick: Cost | None) -> str:
    return row[-1] if yardstick is None else number(float(row[1]) / yardstick.cpu_s, 3)


def prepare(bench: Bench) -> None:
    """Write the shows that are needed, compile the meters."""
    specs = [spec for spec in bench.plan.specs if not bench.only or bench.only & set(spec.used_by)]
    needed = sum(spec.bytes for spec in specs)
    free = shutil.disk_usage(bench.shows.folder).free
    if needed * 1.05 > free:
        raise FailedError(f"{needed / 1e9:.1f} GB are needed in {bench.shows.folder}, {free / 1e9:.1f} GB are free")
    bench.say(f"... writing takes ({needed / 1e9:.1f} GB) to {bench.shows.folder}")
    words = [str(bench.shows.folder), str(bench.plan.core_s), *(spec.words for spec in specs)]
    run([[sys.executable, "-m", "tests.bench.shows", *words]])
    bench.say("... compiling the meters")
    bench.shows.check("short", "--fresh")


def parts(bench: Bench) -> None:
    """Everything, in the order in which it is printed."""
    bench.show("\n".join(f"- {line}" for line in description()) + "\n")
    table(bench)
    steps: list[tuple[str, Callable[[Shows, Plan], str]]] = [("first-run", first_run), ("profile", profile)]
    for name, step in steps:
        if bench.wants(name):
            bench.say(f"... {name}")
            bench.show(step(bench.shows, bench.plan))
    if bench.wants("growth") or bench.wants("hour"):
        bench.show(growth(bench.shows, bench.plan, wants=bench.wants, say=bench.say))


def _stop(signal_number: int, frame: object) -> None:
    raise KeyboardInterrupt


def main() -> int:
    """The bench. Status 0, or 2 where it could not be run."""
    call = arguments()
    signal.signal(signal.SIGTERM, _stop)
    try:
        if call.write is not None:
            splice(call.write.read_text(encoding="utf-8"), "")
        with tempfile.TemporaryDirectory(prefix="replay-bench-", dir=call.folder) as folder:
            shows = Shows(Path(folder), {"REPLAY_CACHE_DIR": os.path.join(folder, "cache"), "COLUMNS": "80"})
            bench = Bench(QUICK if call.quick else FULL, shows, set(call.only))
            prepare(bench)
            parts(bench)
        if call.write is not None:
            write_into(call.write, "\n".join(bench.pages))
    except (FailedError, OSError, ValueError) as error:
        print(f"bench: {error}", file=sys.stderr)
        return 2
    except KeyboardInterrupt:
        return 130
    return 0


if __name__ == "__main__":
    sys.exit(main())
