"""What a check answers, as a document that two runs can be compared by, and what it keeps in its folder."""

from __future__ import annotations

import csv
import io
import os
from itertools import chain
from pathlib import Path

import replay
from replay import check
from replay.findings.result import Report
from replay.report import as_json

ROOT = Path(replay.__file__).parent.parent


NOW = 2e9


BUS = "\n[bus.main]\nceiling = -3.0\n"


def document(report: Report) -> dict:
    """All that a report says, without the names of findings and the take's date and place."""
    found = as_json.document(report)
    found["take"] = {key: value for key, value in found["take"].items() if key not in ("folder", "recorded_unix_s")}
    found["findings"] = [{key: value for key, value in one.items() if key != "id"} for one in found["findings"]]
    return found


def answer(show: Path, kept_in: Path | None = None, **how) -> dict:
    how.setdefault("keep", kept_in is not None)
    return document(check(show, kept_in=kept_in, now=NOW, **how))


def differences(one: object, other: object, place: str = "") -> list[str]:
    """Where two documents differ, numbers by more than two of their last decimals."""
    if isinstance(one, dict) and isinstance(other, dict) and list(one) == list(other):
        return list(chain.from_iterable(differences(one[key], other[key], f"{place}.{key}") for key in one))
    if isinstance(one, list) and isinstance(other, list) and len(one) == len(other):
        pairs = enumerate(zip(one, other, strict=True))
        return list(chain.from_iterable(differences(a, b, f"{place}[{at}]") for at, (a, b) in pairs))
    if isinstance(one, float) and isinstance(other, float) and abs(one - other) < 2.5e-4:
        return []
    return [] if one == other else [f"{place}: {one!r}, {other!r}"]


def change_list(show: Path, column: str, values: dict[int, str]) -> None:
    """Write `values` (by channel) into a column of the show's input list."""
    path = show / "inputs.csv"
    rows = list(csv.DictReader(io.StringIO(path.read_text())))
    for row in rows:
        row[column] = values.get(int(row["channel"]), row[column])
    out = io.StringIO()
    writer = csv.DictWriter(out, list(rows[0]), lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    path.write_text(out.getvalue())


def names(folder: Path) -> list[str]:
    return sorted(os.listdir(folder))


def entries(folder: Path) -> list[Path]:
    return sorted(folder.glob("*.history"))
