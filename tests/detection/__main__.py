"""Measure detection and false alarms: `python -m tests.detection [--seeds N] [--table] [--write docs/detection.md]`."""

from __future__ import annotations

import argparse
import tempfile
from collections import Counter
from pathlib import Path

from replay.simulate import check
from tests.detection import broken, clean
from tests.detection.material import TABLE, TUNING, Setting
from tests.detection.rates import as_text
from tests.material.recording import Recording
from tests.material.show import write_show

PLANTERS = broken.PLANTERS
CODES = frozenset({"flat-topped", "dropout", "click", "clock-slip"})
"""The codes that are counted; others' findings on the same takes are another table's."""

BEGIN, END = "<!-- table begins -->", "<!-- table ends -->"


def findings(recording: Recording, encoding: str = "s24") -> list[tuple[str, str, tuple[int, ...], str]]:
    """(code, severity, channels, message) of what is told of a take, of the codes that are counted."""
    with tempfile.TemporaryDirectory() as folder:
        report = check(write_show(Path(folder) / "show", recording, encoding=encoding, of="show"), keep=False)
    return [
        (one.code, one.severity, one.channels or one.tracks, one.message)
        for one in report.findings
        if one.code in CODES
    ]


def detection(setting: Setting, seeds: int, only: str, show: bool) -> list[str]:
    rows = []
    for plant in PLANTERS:
        if only and only not in plant.__name__:
            continue
        hits = false = 0
        for seed in range(setting.first, setting.first + seeds):
            planted = plant(setting, seed)
            told = findings(planted.recording)
            found = [one for one in told if one[0] == planted.code and set(one[2]) & set(planted.inputs)]
            wrong = [one for one in told if one not in found and one[1] != "note"]
            hits += bool(found)
            false += bool(wrong)
            if show and (not found or wrong):
                print(f"  {plant.__name__} {seed}: {planted.what}\n     told: {told}")
        rows.append(
            f"| {plant.__name__.replace('_', ' ')} | `{planted.code}` "
            f"| {as_text(hits, seeds)} | {as_text(false, seeds)} |"
        )
        print(rows[-1], flush=True)
    return rows


def false_alarms(setting: Setting, seeds: int, only: str, show: bool) -> list[str]:
    rows = []
    for make in clean.MAKERS:
        if only and only not in make.__name__:
            continue
        tracks = 0
        loud: Counter[str] = Counter()
        for seed in range(setting.first, setting.first + seeds):
            recording = make(setting, seed)
            encoding = "s16" if make is clean.quiet_steps or seed % 4 == 3 else "s24"
            told = findings(recording, encoding)
            tracks += len(recording.inputs)
            for code, severity, channels, message in told:
                if severity != "note":
                    loud[code] += len(channels)
                if show:
                    names = [recording.inputs[recording.index(number)].name for number in channels]
                    print(f"  {make.__name__} {seed} {encoding}: {code} {severity} {names}: {message}")
        text = ", ".join(f"{code} {as_text(loud[code], tracks)}" for code in sorted(CODES) if loud[code]) or "none"
        rows.append(f"| {make.__name__.replace('_', ' ')} | {seeds} | {tracks} | {text} |")
        print(rows[-1], flush=True)
    return rows


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.detection", description=__doc__)
    parser.add_argument(
        "--seeds", type=int, default=10, help="tries of each fault; a third as many healthy takes of each kind"
    )
    parser.add_argument("--table", action="store_true", help="the table's kits and seeds, not those for tuning")
    parser.add_argument("--only", default="", help="kinds whose name holds this")
    parser.add_argument("--quiet", action="store_true", help="do not print what was missed or told wrongly")
    parser.add_argument("--write", type=Path, help="fill in the table in this file (implies --table)")
    call = parser.parse_args()
    setting = TABLE if call.table or call.write else TUNING
    rows = [
        "| planted | finding | found, n, share (Wilson 95 %) | takes with a false one |",
        "| --- | --- | --- | --- |",
        *detection(setting, call.seeds, call.only, not call.quiet),
        "",
        "| healthy takes | takes | tracks | tracks told as a fault or warning |",
        "| --- | --- | --- | --- |",
        *false_alarms(setting, max(1, call.seeds // 3), call.only, not call.quiet),
    ]
    if call.write:
        text = call.write.read_text(encoding="utf-8")
        before, rest = text.split(BEGIN)
        after = rest.split(END)[1]
        call.write.write_text("\n".join([before + BEGIN, "", *rows, "", END + after]), encoding="utf-8")


if __name__ == "__main__":
    main()
