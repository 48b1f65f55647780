"""What is fuzzed: each target takes any bytes and a folder to write in, and must end without a defect.

A reader may refuse with a ReplayError. Anything else that is raised is a defect.
"""

from __future__ import annotations

import contextlib
import functools
import io
import zipfile
from collections.abc import Callable, Mapping
from pathlib import Path

from replay.confirm.answers import read as read_answers
from replay.errors import PatchError, ReplayError, TakeError
from replay.patch.from_toml import read_patch
from replay.patch.routes import routes
from replay.take.find import open_take
from replay.take.header import read_header
from replay.take.moments import Moment, read_moments
from tests.patch.good import COLUMNS, ROWS, TOP, csv_text, toml

GOOD_PATCH = toml(TOP).encode()
GOOD_LIST = csv_text(ROWS).encode()

_SHEET = "xl/worksheets/sheet1.xml"
"""The part of a workbook that holds the cells."""


def header(data: bytes, folder: Path) -> None:
    """One file of a take: its header is read, or it is told why not; a claim of a length is never believed."""
    path = folder / "x.wav"
    path.write_bytes(data)
    opened = read_header(path, now=0.0)
    if opened.file is None:
        assert [trouble.code for trouble in opened.troubles] == ["unreadable"]
        return
    file = opened.file
    assert 1 <= file.channels <= 1024
    assert len(file.names) == len(file.numbers) == file.channels
    if file.encoding is not None:
        assert 0 <= file.data_offset + file.frames * file.frame_bytes <= len(data)


def take(data: bytes, folder: Path) -> None:
    """Two files of a take: the bytes as they are, and turned round in halves. What opens can be read to its end."""
    half = len(data) // 2
    (folder / "01 Kick.wav").write_bytes(data)
    (folder / "02 Snare.wav").write_bytes(data[half:] + data[:half])
    try:
        opened = open_take(folder, None, wanted_tracks=2, now=0.0)
    except TakeError:
        return
    assert opened.frames == max(track.stop for track in opened.tracks) > 0
    rate = opened.rate
    if rate >= 8000 and opened.frames < 100 * rate:
        places = tuple(range(len(opened.tracks)))
        for hop in range(min(3, opened.frames * 10 // rate + 1)):
            for _, samples in read_moments(opened.tracks, rate, [Moment(hop, 1, places)]):
                assert samples.shape == (len(places), rate // 10)


def patch(data: bytes, folder: Path) -> None:
    """A patch file beside a good input list."""
    _patch(data, "inputs.csv", GOOD_LIST, folder)


def listed(data: bytes, folder: Path) -> None:
    """An input list beside a good patch."""
    _patch(GOOD_PATCH, "inputs.csv", data, folder)


def workbook(data: bytes, folder: Path) -> None:
    """The cells of a workbook, beside a good patch: the bytes stand for the sheet's XML in an otherwise good file."""
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as whole, zipfile.ZipFile(io.BytesIO(_workbook())) as good:
        for name in good.namelist():
            whole.writestr(name, data if name == _SHEET else good.read(name))
    _patch(GOOD_PATCH.replace(b"inputs.csv", b"inputs.xlsx"), "inputs.xlsx", packed.getvalue(), folder)


def answers(data: bytes, folder: Path) -> None:
    """The answers that the engineer gave by ear."""
    (folder / "confirmed.csv").write_bytes(data)
    with contextlib.suppress(ReplayError):
        read_answers(folder)


@functools.cache
def _workbook() -> bytes:
    import openpyxl

    book = openpyxl.Workbook()
    book.active.append(list(COLUMNS))
    for row in ROWS:
        book.active.append([row.get(column) for column in COLUMNS])
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


def _patch(patch: bytes, name: str, inputs: bytes, folder: Path) -> None:
    (folder / "patch.toml").write_bytes(patch)
    (folder / name).write_bytes(inputs)
    with contextlib.suppress(PatchError):
        routes(read_patch(folder))


TARGETS: Mapping[str, Callable[[bytes, Path], None]] = {
    "header": header,
    "take": take,
    "patch": patch,
    "list": listed,
    "workbook": workbook,
    "answers": answers,
}
