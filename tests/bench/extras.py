"""The bench's other parts: the first run of an installation, where the time goes, and how cost grows."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from collections.abc import Callable
from dataclasses import replace
from functools import partial
from pathlib import Path

from tests.bench.figures import Cost, markdown, megabytes, ns_a_sample, number
from tests.bench.plan import Plan, start_of
from tests.bench.running import ROOT, FailedError, repeated, run
from tests.bench.tools import Shows


def first_run(shows: Shows, plan: Plan) -> str:
    """The first check of an installation, and commands that need no compiled code."""
    rows = []
    empty = shows.folder / "cache of a first run"
    first = replace(shows, environment={**shows.environment, "REPLAY_CACHE_DIR": str(empty)})
    rows.append(
        ["first check of an installation, 16 tracks of half a minute (compiles)", first.check("short", "--fresh")]
    )
    rows.append(["the second one", first.check("short", "--fresh")])
    shutil.rmtree(empty)
    for words in (("--help",), ("routes", str(shows.of("second")))):
        command = [sys.executable, "-m", "replay", *words]
        rows.append([f"replay {words[0]}", run([command], environment=shows.environment)])
    cells = [[name, number(cost.cpu_s), number(cost.wall_s), megabytes(cost.peak_bytes)] for name, cost in rows]
    return "Starting\n\n" + markdown(("", "CPU s", "wall s", "peak MB"), cells)


def profile(shows: Shows, plan: Plan) -> str:
    """Where the pass's time goes."""

    def told(*words: str) -> dict[str, float]:
        command = [sys.executable, "-m", "tests.bench.work", *words]
        done = subprocess.run(
            command, cwd=ROOT, env={**os.environ, **shows.environment}, capture_output=True, text=True, check=False
        )
        if done.returncode:
            raise FailedError(done.stderr[-2000:])
        costs: dict[str, float] = json.loads(done.stdout)
        return costs

    columns = {
        "eight mono files": told("profile", *shows.files("main")[:8]),
        "a polyphonic file": told("profile", *shows.files("polyphonic")[:8]),
    }
    names = next(iter(columns.values()))
    cells = [[name, *(number(column[name]) for column in columns.values())] for name in names]
    dear = ", ".join(f"{number(cost)} of {kind}" for kind, cost in told("dear").items())
    return (
        "Where one thread's time goes, ns a sample\n\n"
        + markdown(("", *columns), cells)
        + f"\n\ntrue_peak on what costs it most: {dear}."
    )


GROWTH_HEAD = (
    "minutes x tracks", "files", "million samples", "CPU s", "wall s", "CPU ns/sample", "wall ns/sample", "peak MB",
    "kept: wall s", "other trims, gains: wall s", "kept MB",
)  # fmt: skip


def growth(shows: Shows, plan: Plan, *, wants: Callable[[str], bool], say: Callable[[str], None]) -> str:
    """Cost by tracks and minutes, start told apart; and what kept results cost and take."""
    starts: dict[int, Cost] = {}
    rows = []
    for name in plan.growing:
        spec = plan.spec(name)
        if not any(wants(part) for part in spec.used_by if part in ("growth", "hour")):
            continue
        say(f"... {spec.minutes:g} minutes x {spec.tracks} tracks")
        kept = shows.folder / f"kept {name}"
        words = ("--kept", str(kept))
        if spec.tracks not in starts:
            seconds = (start_of(spec.tracks), "--fresh", *words)
            starts[spec.tracks] = repeated(partial(shows.check, *seconds), again=plan.repeat)
            shutil.rmtree(kept)
        fresh = repeated(partial(shows.check, name, "--fresh", *words), again=plan.repeat)
        took = sum(path.stat().st_size for path in kept.iterdir())
        again = shows.check(name, *words)
        what_if = shows.check(name, *words, *shows.settings(name))
        shutil.rmtree(kept)
        rest = fresh.without(starts[spec.tracks])
        real = len({path.stat().st_ino for path in map(Path, shows.files(name))})
        rows.append(
            [
                f"{spec.minutes:g} x {spec.tracks}",
                f"{real}" if real == spec.tracks else f"{real}, linked",
                f"{spec.samples / 1e6:.0f}",
                number(fresh.cpu_s),
                number(fresh.wall_s),
                number(ns_a_sample(rest.cpu_s, spec.samples)),
                number(ns_a_sample(rest.wall_s, spec.samples)),
                megabytes(fresh.peak_bytes),
                number(again.wall_s),
                number(what_if.wall_s),
                megabytes(took),
            ]
        )
    return (
        "Growth: seconds are those of the whole command, ns a sample without the start (a check of as many tracks of "
        "one second). `linked`: fewer files than tracks, under as many names; each name is read and measured.\n\n"
        + markdown(GROWTH_HEAD, rows)
    )
