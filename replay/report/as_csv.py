"""The report as three tables for a spreadsheet: channels, findings, and the sheet for whoever walks to the stage boxes.

A spreadsheet takes a cell that begins with = + - @ for a formula and runs it. Names come from other people's files, so
text that begins like that gets an apostrophe in front; numbers stay numbers. Text is quoted and numbers are not, so
that a comma or semicolon in a name starts no new cell. The files begin with a byte order mark: without it, common
spreadsheets read UTF-8 as something else.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from replay.report import phrases, whole
from replay.report.figures import FIGURES
from replay.text import harmless, no_formula
from replay.units import LEAST_TOLD_DB, finite

if TYPE_CHECKING:
    from replay.desk.model import Advice
    from replay.ear import Answer
    from replay.findings.result import Report

OPTION = "--csv"
METAVAR = "DIR"
HELP = "Also write channels.csv, findings.csv and stage-sheet.csv into the folder DIR, for a spreadsheet."
FOLDER = True
STANDARD_OUTPUT = None

Cell = str | float | int | None

_LEVELS = tuple(name for name in FIGURES if name != "true_peak_s")
_CHANNELS = (
    *("state", "channel", "name", "kind", "use", "box", "socket", "link", "slot", "track"),
    *_LEVELS,
    *("clip_runs", "trim_db", "input_true_peak_dbtp", "headroom_db", "change_db", "was_gain_db", "new_gain_db"),
    *("pad", "new_trim_db", "mapping", "confirmed", "confirmed_as", "confirmed_on"),
)
_FINDINGS = (
    *("id", "code", "severity", "confidence", "channels", "tracks", "slots", "sockets", "start_s", "end_s"),
    *("amount", "unit", "message", "action"),
)
_SHEET = (
    *("box", "socket", "channel", "name", "mic or DI", "phantom", "pad", "CHANGE", "was", "set", "found"),
    *("whose gain", "done", "note"),
)


def write(report: Report, target: str) -> None:
    """Write the three files into a folder, made if it is not there. OutputError where that is impossible."""
    folder = Path(target)
    tables = {
        "channels.csv": table(_CHANNELS, channels(report)),
        "findings.csv": table(_FINDINGS, findings(report)),
        "stage-sheet.csv": table(_SHEET, stage_sheet(report)),
    }
    files = {folder / name: text.encode("utf-8-sig") for name, text in tables.items()}
    for path in files:
        whole.protect(report, path)
    whole.make_folder(folder)
    whole.write(files)


def table(heads: Sequence[str], rows: Iterable[Sequence[Cell]]) -> str:
    """A table as CSV text: comma, point, CR LF, text in quotes."""
    out = io.StringIO(newline="")
    writer = csv.writer(out, quoting=csv.QUOTE_NONNUMERIC)
    writer.writerow(heads)
    writer.writerows([_cell(value) for value in row] for row in rows)
    return out.getvalue()


def channels(report: Report) -> Iterable[list[Cell]]:
    """One row a channel, in channel order: state, way, levels as recorded and after trim, change."""
    for view in report.show.channels:
        channel, socket, slot, track, levels = view.channel, view.channel.socket, view.slot, view.track, view.recorded
        advice = view.advice
        yield [
            *(report.states[channel.number], channel.number, channel.name, channel.kind, channel.use),
            *((None, None) if socket is None else (socket.box, socket.number)),
            *((None, None) if slot is None else (slot.link, slot.number)),
            None if track is None else track.track.number,
            *(None if levels is None else _level(getattr(levels, name), name) for name in _LEVELS),
            None if track is None else track.clipping.count,
            channel.trim,
            None if view.input is None else _level(view.input.true_peak_dbtp, "true_peak_dbtp"),
            view.headroom_db,
            *_advised(advice),
            view.mapping.status if report.show.mapping.judged and track is not None else None,
            *_confirmed(report.show.ear.answers.get(channel.number)),
        ]


def _level(value: float | None, name: str) -> Cell:
    """A figure of a track; of levels below what converters know, no figure is given."""
    unknown = value is not None and name.endswith(("_dbfs", "_dbtp", "_lufs")) and value < LEAST_TOLD_DB
    return phrases.level_in_words(value) if unknown else value


def _advised(advice: Advice | None) -> tuple[Cell, ...]:
    if advice is None:
        return (None,) * 5
    return (advice.gain_db, advice.was_db, advice.new_gain_db, advice.pad, advice.trim_db)


def _confirmed(answer: Answer | None) -> tuple[Cell, ...]:
    """What was said by ear: right, wrong or unsure; what it is instead; when."""
    if answer is None:
        return (None,) * 3
    other = answer.is_channel
    return (answer.answer, answer.is_really if other is None else f"channel {other}", answer.when)


def findings(report: Report) -> Iterable[list[Cell]]:
    """One row a finding, in the report's order. Several numbers in one cell are parted by spaces."""
    for finding in report.findings:
        yield [
            finding.id,
            finding.code,
            finding.severity,
            finding.confidence,
            _several(finding.channels),
            _several(finding.tracks),
            _several(f"{slot.link} {slot.number}" for slot in finding.slots),
            _several(finding.sockets),
            finding.start_s,
            finding.end_s,
            finding.amount,
            finding.unit,
            finding.message,
            finding.action,
        ]


def stage_sheet(report: Report) -> Iterable[list[Cell]]:
    """One row a socket in use, box by box in socket order; sockets that feed several channels have one row."""
    from replay.report import sheet

    for box in sheet.boxes(report):
        for line in box.lines:
            yield [
                box.box.name,
                line.socket.number,
                _several(line.channels),
                line.name,
                line.source,
                line.phantom,
                line.pad,
                line.change_db,
                line.was_db,
                line.set_db,
                None,
                box.box.gains,
                None,
                " ".join(line.to_know),
            ]


def _several(values: Iterable[object]) -> Cell:
    """Several values in one cell, parted by spaces (a dash or a comma could turn them into a date or two cells)."""
    cells = [str(value) for value in values]
    return int(cells[0]) if len(cells) == 1 and cells[0].isdecimal() else " ".join(cells)


def _cell(value: Cell) -> str | float | int:
    if value is None:
        return ""
    if isinstance(value, int):
        return value
    if isinstance(value, float):
        number = finite(value)
        if number is None:
            return ""
        return int(number) if number.is_integer() else round(number, 4)
    return no_formula(harmless(value, 4000))
