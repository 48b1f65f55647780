"""The answers in `confirmed.csv`: read, changed by one, and written whole.

One row a channel. `fingerprint` says about which take it was: an answer about another one is stale.
"""

from __future__ import annotations

import csv
import hashlib
import io
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from replay.errors import PatchError, Problem, at
from replay.report import whole
from replay.take.model import Take
from replay.text import harmless

NAME = "confirmed.csv"
RIGHT, WRONG, UNSURE = "right", "wrong", "unsure"
ANSWERS = (RIGHT, WRONG, UNSURE)
COLUMNS = ("channel", "name", "answer", "what it is", "date", "take", "fingerprint")

LARGEST_FILE = 10 << 20
_PIECE = 4096


@dataclass(frozen=True, kw_only=True)
class Answer:
    """What the engineer heard on a channel. `is_really` is what it is instead, where the answer is wrong: words, or the
    number of the channel that it belongs to. `date` is the time of the answer, as ISO 8601."""

    channel: int
    name: str
    answer: str
    is_really: str = ""
    date: str = ""
    take: str = ""
    fingerprint: str = ""


def read(folder: Path) -> dict[int, Answer]:
    """The answers kept in a show's folder, by channel; none where there is no file.

    Raises PatchError with every line that makes no sense (the file may have been edited by hand).
    """
    path = folder / NAME
    try:
        with open(path, "rb") as file:
            data = file.read(LARGEST_FILE + 1)
    except FileNotFoundError:
        return {}
    except OSError as error:
        raise PatchError(Problem(f"cannot be read: {error.strerror}", at(path))) from error
    if len(data) > LARGEST_FILE:
        raise PatchError(Problem("is larger than 10 MB, which no list of answers is", at(path), "move it away"))
    hint = "put it right, or move the file away"
    try:
        text = data.decode("utf-8-sig")
        rows = list(csv.reader(io.StringIO(text, newline=""), strict=True))
    except (UnicodeDecodeError, csv.Error) as error:
        raise PatchError(Problem(f"is no list of answers: {error}", at(path), hint)) from None
    if not rows:
        return {}
    if tuple(rows[0]) != COLUMNS:
        raise PatchError(Problem(f"its first line is not {','.join(COLUMNS)}", at(path, line=1), hint))
    answers: dict[int, Answer] = {}
    problems = []
    for line, row in enumerate(rows[1:], start=2):
        if not any(row):
            continue
        if len(row) != len(COLUMNS):
            problems.append(Problem(f"{len(row)} cells instead of {len(COLUMNS)}", at(path, line=line), hint))
            continue
        number, name, answer, really, date, take, fingerprint = (_plain(cell) for cell in row)
        if not (number.isascii() and number.isdecimal() and len(number) <= 6):
            problems.append(Problem(f"no channel: {harmless(number, 40)}", at(path, line=line), hint))
        elif answer not in ANSWERS:
            known = f"one of {', '.join(ANSWERS)}"
            problems.append(Problem(f"no answer: {harmless(answer, 40)}", at(path, line=line), known))
        else:
            answers[int(number)] = Answer(
                channel=int(number),
                name=name,
                answer=answer,
                is_really=really,
                date=date,
                take=take,
                fingerprint=fingerprint,
            )
    if problems:
        raise PatchError(problems)
    return answers


def write(folder: Path, answers: Mapping[int, Answer]) -> None:
    """Keep the answers: the old file or the new one, never half of one. OutputError where that is impossible."""
    out = io.StringIO(newline="")
    writer = csv.writer(out)
    writer.writerow(COLUMNS)
    for number in sorted(answers):
        one = answers[number]
        cells = (one.channel, one.name, one.answer, one.is_really, one.date, one.take, one.fingerprint)
        writer.writerow([_safe(str(cell)) for cell in cells])
    whole.write({folder / NAME: out.getvalue().encode("utf-8-sig")})


def fingerprint(take: Take) -> str:
    """What a take is told by, wherever it is copied to: its tracks' places and lengths, and bytes of the beginning, the
    middle and the end of every file. OSError where a file cannot be read."""
    digest = hashlib.sha256(f"{take.rate}".encode())
    for track in sorted(take.tracks, key=lambda track: track.number):
        for segment in track.segments:
            file = segment.file
            digest.update(f"{track.number} {segment.start} {segment.frames} {segment.channel} {file.size}".encode())
            with open(file.path, "rb") as audio:
                # Spread over the file, for the beginning and the end of many tracks are silent.
                for part in range(9):
                    audio.seek(max(0, (file.size - _PIECE) * part // 8))
                    digest.update(audio.read(_PIECE))
    return digest.hexdigest()[:20]


def exchanges(answers: Mapping[int, Answer]) -> list[tuple[int, int]]:
    """Channels of which each was said to be the other: pairs in ascending order."""
    said = {number: int(a.is_really) for number, a in answers.items() if a.answer == WRONG and a.is_really.isdecimal()}
    return sorted((a, b) for a, b in said.items() if a < b and said.get(b) == a)


def _safe(text: str) -> str:
    """A spreadsheet runs a cell that begins like a formula: an apostrophe keeps it text."""
    return "'" + text if text[:1] in ("=", "+", "-", "@", "\t", "\r", "'") else text


def _plain(cell: str) -> str:
    return cell[1:] if cell.startswith("'") else cell.strip()
