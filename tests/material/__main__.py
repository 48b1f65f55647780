"""Write a show of sampled instruments: `python -m tests.material DIR --tracks 32 --minutes 10`."""

from __future__ import annotations

import argparse
from pathlib import Path

from tests.material.show import write_show
from tests.material.stage import record
from tests.material.take import long_plan


def main() -> None:
    """Takes longer than the core are made of its songs in changing order, streamed to disk. So their peaks recur: where
    the difference between highest and played peak matters, ask for a longer core."""
    parser = argparse.ArgumentParser(prog="python -m tests.material", description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--tracks", type=int, default=24)
    parser.add_argument("--minutes", type=float, default=1.0)
    parser.add_argument("--core", type=float, default=60.0, help="seconds of music that is really different")
    parser.add_argument("--rate", type=int, default=48000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--kit", default="forzee", choices=["forzee", "pearl", "pacific"])
    parser.add_argument("--form", default="mono")
    parser.add_argument("--encoding", default="s24")
    parser.add_argument("--of", default="show")
    parser.add_argument("--line-check", action="store_true")
    call = parser.parse_args()
    recording = record(
        call.tracks,
        seed=call.seed,
        seconds=min(call.core, call.minutes * 60),
        rate=call.rate,
        kit=call.kit,
        line_check=call.line_check,
    )
    plan = long_plan(recording, call.minutes * 60, call.seed)
    write_show(call.folder, recording, call.form, call.encoding, of=call.of, plan=plan)
    print(call.folder)


if __name__ == "__main__":
    main()
