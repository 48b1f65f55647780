"""The corrected input list: sources where they were heard, with what belongs to the socket; never over the original."""

from __future__ import annotations

import csv
import io
from dataclasses import replace
from pathlib import Path

import pytest

from replay.errors import OutputError
from replay.findings.verdict import report
from replay.mapping.model import MappingResult, Misplacement
from replay.report import as_corrected
from tests.checks.factory import Session


def corrected(sources: dict[int, int | None], shape: str = "exchange"):
    session = Session()
    session.channels[7]["gain"] = 41.0
    one = Misplacement(shape, tuple(sources), sources, 0, {"sound": 9.0, "line check": 9.0}, 12.0, True)
    show = replace(session.show(), mapping=MappingResult(misplaced=(one,), judged=True))
    return report(show, [])


def rows(of) -> dict[str, dict[str, str]]:
    return {row["channel"]: row for row in csv.DictReader(io.StringIO(as_corrected.text(of)))}


def test_an_exchange_exchanges_sockets_and_their_gains() -> None:
    found = rows(corrected({2: 7, 7: 2}))
    assert (found["2"]["socket"], found["2"]["gain"]) == ("7", "41")
    assert (found["7"]["socket"], found["7"]["gain"]) == ("2", "30")
    assert found["2"]["note"] == "was riser 2, heard on track 7"
    assert (found["1"]["socket"], found["1"]["note"]) == ("1", "")


def test_what_was_found_nowhere_has_no_socket() -> None:
    found = rows(corrected({5: None}, "shift"))
    assert (found["5"]["box"], found["5"]["socket"]) == ("", "")
    assert found["5"]["note"] == "was riser 5, heard on no track"


def test_the_original_is_never_written_over(tmp_path: Path) -> None:
    made = corrected({2: 7, 7: 2})
    original = tmp_path / "inputs.csv"
    original.write_text("channel,name\n")
    made = replace(made, show=replace(made.show, patch=replace(made.show.patch, inputs_path=original)))
    with pytest.raises(OutputError, match="is part of the show and is never written over"):
        as_corrected.write(made, str(original))
    assert original.read_text() == "channel,name\n"
    as_corrected.write(made, str(tmp_path / "other.csv"))
    assert (tmp_path / "other.csv").read_text().startswith("channel,name,kind,")
