"""Fuzz: `python -m tests.fuzzing [TARGET...] [--minutes N] [--scratch DIR]`. Needs atheris, which only this uses."""

from __future__ import annotations

import argparse
import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

CORPUS = Path(__file__).parent / "corpus"

LONGEST_BYTES = 4096
LONGEST_S = 20
"""An input that takes longer is a defect: nothing may hang."""
MOST_MB = 1500
"""The same for memory, the interpreter and its libraries included."""


def fuzz(target: str, scratch: Path, seconds: int) -> None:
    """Fuzz one target in this process, which ends with it."""
    import atheris

    with atheris.instrument_imports(include=["replay"]):
        from tests.fuzzing.targets import TARGETS

    run = TARGETS[target]
    folder = Path(tempfile.mkdtemp(dir="/dev/shm" if os.path.isdir("/dev/shm") else None))

    def once(data: bytes) -> None:
        for left in folder.iterdir():
            left.unlink()
        run(data, folder)

    grown = scratch / target
    grown.mkdir(parents=True, exist_ok=True)
    limits = [f"-max_total_time={seconds}", f"-max_len={LONGEST_BYTES}", f"-timeout={LONGEST_S}"]
    quiet = [
        "-print_final_stats=1",
        "-verbosity=0",
        f"-rss_limit_mb={MOST_MB}",
        f"-artifact_prefix={scratch}/{target}-",
    ]
    atheris.Setup([sys.argv[0], *limits, *quiet, str(grown), str(CORPUS / target)], once)
    try:
        atheris.Fuzz()
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.fuzzing", description=__doc__)
    parser.add_argument("targets", nargs="*", metavar="TARGET")
    parser.add_argument("--minutes", type=float, default=1.0, help="for each target")
    parser.add_argument("--scratch", type=Path, default=Path(tempfile.gettempdir()) / "replay-fuzzing")
    parser.add_argument("--here", action="store_true", help=argparse.SUPPRESS)
    given = parser.parse_args()
    every = sorted(folder.name for folder in CORPUS.iterdir())
    if given.here:
        fuzz(given.targets[0], given.scratch, round(given.minutes * 60))
        return 0
    broken = 0
    for target in given.targets or every:
        if target not in every:
            parser.error(f"{target} is none of {', '.join(every)}")
        print(f"== {target}", flush=True)
        call = [sys.executable, "-m", "tests.fuzzing", target, "--here", "--minutes", str(given.minutes)]
        broken += subprocess.run([*call, "--scratch", str(given.scratch)]).returncode != 0
    return 1 if broken else 0


if __name__ == "__main__":
    sys.exit(main())
