"""The answers in `confirmed.csv`: read, changed by one, and written whole.

One row a channel and take. `fingerprint` says about which take it was, `track` and `track fingerprint` what of it was
heard: an answer about something else says nothing.
"""

from __future__ import annotations

import csv
import io
import re
import stat
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path

from replay.ear import ANSWERS, Answer
from replay.errors import PatchError, Problem, at
from replay.report import whole
from replay.text import harmless, no_formula

NAME = "confirmed.csv"
COLUMNS = (
    *("channel", "name", "answer", "what it is", "date", "take", "fingerprint"),
    *("track", "track fingerprint"),
)

LARGEST_FILE = 10 << 20
HINT = "put it right, or move the file away"


def read(folder: Path) -> tuple[Answer, ...]:
    """The answers kept in a show's folder, in the order of the file; none where there is no file.

    Raises PatchError with every line that makes no sense (the file may have been edited by hand).
    """
    answers, problems = look(folder)
    if problems:
        raise PatchError(problems)
    return answers


def look(folder: Path) -> tuple[tuple[Answer, ...], tuple[Problem, ...]]:
    """What can be read of the answers, and everything that is wrong with the rest. Raises nothing."""
    path = folder / NAME
    try:
        # Looked at before opening: to open a pipe could wait for ever.
        if not stat.S_ISREG(path.stat().st_mode):
            return (), (Problem("is not a file", at(path), "move it away"),)
        with open(path, "rb") as file:
            data = file.read(LARGEST_FILE + 1)
    except FileNotFoundError:
        return (), ()
    except OSError as error:
        return (), (Problem(f"cannot be read: {error.strerror}", at(path)),)
    if len(data) > LARGEST_FILE:
        return (), (Problem("is larger than 10 MB, which no list of answers is", at(path), "move it away"),)
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        column = error.start - (data.rfind(b"\n", 0, error.start) + 1) + 1
        return (), (Problem("is not UTF-8 text", at(path, line=line, column=column), HINT),)
    return _answers(path, text)


def _answers(path: Path, text: str) -> tuple[tuple[Answer, ...], tuple[Problem, ...]]:
    answers: list[Answer] = []
    problems: list[Problem] = []
    seen_heading = False
    for line, row in _rows(path, text, problems):
        if not seen_heading:
            seen_heading = True
            if tuple(row) != COLUMNS:
                column = next((n for n, head in enumerate(COLUMNS, start=1) if row[n - 1 : n] != [head]), len(COLUMNS))
                place = at(path, line=line, column=column)
                return (), (Problem(f"its first line is not {','.join(COLUMNS)}", place, HINT),)
        elif any(row):
            answer = _answer(path, line, row, problems)
            if answer is not None:
                answers.append(answer)
    return tuple(answers), tuple(problems)


def _rows(path: Path, text: str, problems: list[Problem]) -> Iterator[tuple[int, list[str]]]:
    """The rows with the lines on which they begin, up to where the file is no CSV."""
    reader = csv.reader(io.StringIO(text, newline=""), strict=True)
    while True:
        line = reader.line_num + 1
        try:
            row = next(reader)
        except StopIteration:
            return
        except csv.Error as error:
            rest = re.split("\r\n|\r|\n", text)[line - 1 : line]
            column = (rest[0].find('"') + 1 if rest else 0) or 1
            what = f"is no list of answers from here on: {error}"
            problems.append(Problem(what, at(path, line=line, column=column), HINT))
            return
        yield line, row


def _answer(path: Path, line: int, row: Sequence[str], problems: list[Problem]) -> Answer | None:
    def wrong(column: int, message: str, hint: str = HINT) -> None:
        problems.append(Problem(message, at(path, line=line, column=column), hint))

    if len(row) != len(COLUMNS):
        wrong(min(len(row), len(COLUMNS)) + 1, f"{len(row)} cells instead of {len(COLUMNS)}")
        return None
    number, name, answer, really, date, take, fingerprint, track, heard = (_plain(cell) for cell in row)
    before = len(problems)
    if not _is_number(number):
        wrong(1, f"no channel: {harmless(number, 40)}")
    if answer not in ANSWERS:
        wrong(3, f"no answer: {harmless(answer, 40)}", f"one of {', '.join(ANSWERS)}")
    if track and not _is_number(track):
        wrong(8, f"no track: {harmless(track, 40)}")
    if len(problems) > before:
        return None
    return Answer(
        channel=int(number),
        name=name,
        answer=answer,
        is_really=really,
        date=date,
        take=take,
        fingerprint=fingerprint,
        track=int(track) if track else None,
        track_fingerprint=heard,
    )


def _is_number(cell: str) -> bool:
    return cell.isascii() and cell.isdecimal() and len(cell) <= 6


def write(folder: Path, answers: Iterable[Answer]) -> None:
    """Keep the answers: the old file or the new one, never half of one. OutputError where that is impossible."""
    out = io.StringIO(newline="")
    writer = csv.writer(out)
    writer.writerow(COLUMNS)
    for one in sorted(answers, key=lambda one: (one.take, one.fingerprint, one.channel)):
        cells = (one.channel, one.name, one.answer, one.is_really, one.date, one.take, one.fingerprint)
        track = "" if one.track is None else one.track
        writer.writerow([_safe(str(cell)) for cell in (*cells, track, one.track_fingerprint)])
    whole.write({folder / NAME: out.getvalue().encode("utf-8-sig")})


def with_answer(answers: Iterable[Answer], new: Answer) -> tuple[Answer, ...]:
    """The answers with a new one, which takes the place of what was said before of this channel of this take; answers
    about other takes stay."""
    return (
        *(
            one
            for one in answers
            if one.channel != new.channel or (one.take != new.take and one.fingerprint != new.fingerprint)
        ),
        new,
    )


def _safe(text: str) -> str:
    """A cell that no spreadsheet runs, and that `_plain` turns back into `text`."""
    return "'" + text if text.startswith("'") else no_formula(text)


def _plain(cell: str) -> str:
    return cell[1:] if cell.startswith("'") else cell.strip()
