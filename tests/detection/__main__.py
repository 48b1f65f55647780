"""Measure detection and false alarms: `python -m tests.detection [--seeds N] [--table] [--write docs/detection.md]`.

What a try gave is kept in a folder for temporary files, under a hash of all sources that it depends on: a run that was
broken off goes on where it was, and one after a change begins anew.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import tempfile
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Any

from replay.simulate import check
from tests.detection import broken, clean, sick_signals, traps
from tests.detection.material import TABLE, TUNING, Setting
from tests.detection.rates import as_text
from tests.material.recording import Recording
from tests.material.show import write_show

PLANTERS = (*broken.PLANTERS, *sick_signals.PLANTERS)
MAKERS = (*clean.MAKERS, *traps.MAKERS)
BROKEN = frozenset({"flat-topped", "dropout", "click", "clock-slip"})
SICK = frozenset({"hum", "buzz", "noise", "dc-offset", "thump", "crackle", "rf-mute", "ringing", "not-raw"})
CODES = BROKEN | SICK | frozenset({"gain-moved", "wrong-speed"})
"""The codes that are counted; others' findings on the same takes are another table's."""

MORE = {
    "click track elsewhere": frozenset({"clipped"}),
    "timecode elsewhere": frozenset({"clipped"}),
    "open_microphones": frozenset({"unexpected-signal"}),
}
"""Codes that are counted as well, in these takes."""

BEGIN, END = "<!-- table begins -->", "<!-- table ends -->"


def findings(
    recording: Recording, encoding: str = "s24", codes: frozenset[str] = CODES
) -> list[tuple[str, str, tuple[int, ...], str]]:
    """(code, severity, channels, message) of what is told of a take, of the codes that are counted."""
    with tempfile.TemporaryDirectory() as folder:
        report = check(write_show(Path(folder) / "show", recording, encoding=encoding, of="show"), keep=False)
    return [
        (one.code, one.severity, one.channels or one.tracks, one.message)
        for one in report.findings
        if one.code in codes
    ]


def sources() -> str:
    """A hash of the sources that a try depends on."""
    root = Path(__file__).parent.parent.parent
    digest = hashlib.sha256()
    for folder in ("replay", "tests/material", "tests/detection"):
        for path in sorted((root / folder).rglob("*.py")):
            digest.update(str(path.relative_to(root)).encode() + path.read_bytes())
    return digest.hexdigest()[:16]


class Tries:
    """What tries gave, one line each in a file of `folder`; what is there is not done again."""

    def __init__(self, folder: Path) -> None:
        folder.mkdir(exist_ok=True)
        self._path = folder / f"tries-{sources()}.jsonl"
        whole, _, cut_off = (self._path.read_text() if self._path.exists() else "").rpartition("\n")
        self._done = dict(json.loads(line) for line in whole.splitlines())
        if cut_off:
            self._path.write_text(whole + "\n" if whole else "")

    def once(self, name: str, setting: Setting, seed: int, do: Callable[[], Any]) -> Any:
        """What `do()` gives (plain values), or gave under these sources."""
        key = f"{name} {setting.kits} {setting.recordings} {seed}"
        if key not in self._done:
            self._done[key] = json.loads(json.dumps(do()))
            with self._path.open("a") as file:
                file.write(json.dumps([key, self._done[key]]) + "\n")
        return self._done[key]


def _planted(plant: Callable[[Setting, int], broken.Planted], setting: Setting, seed: int) -> list:
    planted = plant(setting, seed)
    codes = CODES | {planted.code} | MORE.get(plant.__name__, frozenset())
    return [planted.code, planted.inputs, planted.what, findings(planted.recording, codes=codes)]


def _healthy(make: Callable[[Setting, int], Recording], setting: Setting, seed: int) -> list:
    recording = make(setting, seed)
    encoding = "s16" if make is clean.quiet_steps or seed % 4 == 3 else "s24"
    return [
        [one.name for one in recording.inputs],
        encoding,
        findings(recording, encoding, CODES | MORE.get(make.__name__, frozenset())),
    ]


def detection(setting: Setting, seeds: int, only: str, show: bool, tries: Tries) -> list[str]:
    rows = []
    for plant in PLANTERS:
        if only and only not in plant.__name__:
            continue
        hits = false = 0
        code = ""
        for seed in range(setting.first, setting.first + seeds):
            code, inputs, what, told = tries.once(
                plant.__name__, setting, seed, lambda plant=plant, seed=seed: _planted(plant, setting, seed)
            )
            found = [one for one in told if one[0] == code and set(one[2]) & set(inputs)]
            wrong = [one for one in told if one not in found and one[1] != "note"]
            hits += bool(found)
            false += bool(wrong)
            if show and (not found or wrong):
                print(f"  {plant.__name__} {seed}: {what}\n     told: {told}")
        rows.append(
            f"| {plant.__name__.replace('_', ' ')} | `{code}` | {as_text(hits, seeds)} | {as_text(false, seeds)} |"
        )
        print(rows[-1], flush=True)
    return rows


def false_alarms(setting: Setting, seeds: int, only: str, show: bool, tries: Tries) -> list[str]:
    rows = []
    for make in MAKERS:
        if only and only not in make.__name__:
            continue
        tracks = 0
        loud: Counter[str] = Counter()
        quiet: Counter[str] = Counter()
        for seed in range(setting.first, setting.first + seeds):
            names, encoding, told = tries.once(
                make.__name__, setting, seed, lambda make=make, seed=seed: _healthy(make, setting, seed)
            )
            tracks += len(names)
            for code, severity, channels, message in told:
                (quiet if severity == "note" else loud)[code] += len(channels)
                if show:
                    where = [names[number - 1] for number in channels]
                    print(f"  {make.__name__} {seed} {encoding}: {code} {severity} {where}: {message}")
        text = ", ".join(f"{code} {as_text(loud[code], tracks)}" for code in sorted(loud)) or "none"
        notes = ", ".join(f"{code} {quiet[code]}" for code in sorted(quiet)) or "none"
        rows.append(f"| {make.__name__.replace('_', ' ')} | {seeds} | {tracks} | {text} | {notes} |")
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
    tries = Tries(Path(tempfile.gettempdir()) / "replay-detection")
    setting = TABLE if call.table or call.write else TUNING
    rows = [
        "| planted | finding | found, n, share (Wilson 95 %) | takes with a false one |",
        "| --- | --- | --- | --- |",
        *detection(setting, call.seeds, call.only, not call.quiet, tries),
        "",
        "| healthy takes | takes | tracks | tracks told as a fault or warning | as a note |",
        "| --- | --- | --- | --- | --- |",
        *false_alarms(setting, max(1, call.seeds // 3), call.only, not call.quiet, tries),
    ]
    if call.write:
        text = call.write.read_text(encoding="utf-8")
        before, rest = text.split(BEGIN)
        after = rest.split(END)[1]
        call.write.write_text("\n".join([before + BEGIN, "", *rows, "", END + after]), encoding="utf-8")


if __name__ == "__main__":
    main()
