"""Any bytes give a result and never an exception, in memory that does not depend on what they claim."""

from __future__ import annotations

import tracemalloc
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from replay.errors import TakeError
from replay.take.bext import read_bext
from replay.take.find import open_take
from replay.take.header import read_header
from replay.take.ixml import read_ixml
from tests.take.making import bext, chunk, fmt, ixml, rf64, riff, samples, wave

GOOD = (
    wave(50, bext(reference=7, description=b"x"), ixml((1, 1, "Kick"))),
    riff(
        fmt(tag=3, bits=32, channels=2, valid=32),
        chunk(b"note", b"abc"),
        chunk(b"data", samples(9, channels=2, width=4)),
    ),
    rf64(150, chunk(b"JUNK", bytes(28)), fmt(bits=24), chunk(b"data", samples(50, width=3), size=0xFFFFFFFF)),
)
EDGES = (0, 1, 0x7F, 0x80, 0xFF)
MEMORY = 24 << 20
"""A file holds at most 4 MB of iXML that is read; the rest is small change."""

quick = settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])


@st.composite
def damaged(draw: st.DrawFn) -> bytes:
    """A good file with bytes changed, cut out, doubled, and its end cut off."""
    content = bytearray(draw(st.sampled_from(GOOD)))
    for _ in range(draw(st.integers(1, 6))):
        at = draw(st.integers(0, max(0, len(content) - 1)))
        what = draw(st.sampled_from(("set", "cut", "double", "end", "size")))
        if what == "set" and content:
            content[at] = draw(st.one_of(st.sampled_from(EDGES), st.integers(0, 255)))
        elif what == "cut":
            del content[at : at + draw(st.integers(1, 9))]
        elif what == "double":
            content[at:at] = content[at : at + draw(st.integers(1, 40))]
        elif what == "end":
            del content[at:]
        elif len(content) >= at + 4:
            content[at : at + 4] = draw(st.sampled_from((b"\xff\xff\xff\xff", b"\0\0\0\0", b"\xff\xff\xff\x7f")))
    return bytes(content)


def look(path: Path, content: bytes) -> None:
    path.write_bytes(content)
    opened = read_header(path, now=0.0)
    if opened.file is None:
        assert [trouble.code for trouble in opened.troubles] == ["unreadable"]
    else:
        file = opened.file
        assert 1 <= file.channels <= 1024
        assert len(file.names) == len(file.numbers) == file.channels
        if file.encoding is not None:
            assert 0 <= file.data_offset + file.frames * file.frame_bytes <= len(content)
        assert file.frames > 0 or "empty-file" in [trouble.code for trouble in opened.troubles]
    assert all("\n" not in trouble.detail for trouble in opened.troubles)


@quick
@given(content=damaged())
def test_damaged_headers(tmp_path, content):
    look(tmp_path / "x.wav", content)


@quick
@given(content=st.binary(max_size=600))
def test_arbitrary_bytes(tmp_path, content):
    look(tmp_path / "x.wav", content)


@quick
@given(
    form=st.sampled_from((b"RIFF", b"RF64", b"BW64", b"RIFX", b"FORM", b"fLaC", b"OggS", b"caff", b"riff")),
    content=st.binary(max_size=300),
)
def test_a_true_beginning_and_arbitrary_bytes(tmp_path, form, content):
    look(tmp_path / "x.wav", form + b"\xff\0\0\0WAVE" + content)


@quick
@given(content=damaged())
def test_a_whole_take_of_damaged_files_opens_or_is_told(tmp_path, content):
    (tmp_path / "01 Kick.wav").write_bytes(content)
    (tmp_path / "02 Snare.wav").write_bytes(content[::-1])
    try:
        take = open_take(tmp_path, None, wanted_tracks=2, now=0.0)
    except TakeError:
        return
    assert take.frames == max(track.stop for track in take.tracks) > 0


@quick
@given(body=st.binary(max_size=700))
def test_bext_and_ixml_bodies(body):
    read_bext(body)
    read_ixml(body)
    read_ixml(b"<BWFXML><TRACK_LIST><TRACK><NAME>" + body + b"</NAME></TRACK></TRACK_LIST></BWFXML>")


@pytest.mark.parametrize(
    "content",
    [
        riff(fmt(), chunk(b"data", b"", size=0xFFFFFFF0)),
        riff(fmt(channels=1024, bits=32), chunk(b"data", bytes(4096), size=0xFFFFFFFE)),
        rf64(1 << 49, fmt(bits=24), chunk(b"data", bytes(300), size=0xFFFFFFFF)),
        riff(chunk(b"iXML", b"<a>", size=0xFFFFFFFF), fmt(), chunk(b"data", bytes(4))),
        riff(chunk(b"bext", b"", size=0xFFFFFFFF)),
        riff(fmt(), chunk(b"iXML", b"<BWFXML>" + b"<a b='c'>" * 450_000), chunk(b"data", bytes(4))),
        riff(fmt(), chunk(b"iXML", bytes(9 << 20)), chunk(b"data", bytes(4))),
        riff(fmt(), chunk(b"note", b"") * 300_000, chunk(b"data", bytes(4))),
    ],
)
def test_claims_allocate_nothing(tmp_path, content):
    path = tmp_path / "x.wav"
    path.write_bytes(content)
    read_header(path)  # what is imported late is imported now
    del content
    tracemalloc.start()
    try:
        read_header(path)
        assert tracemalloc.get_traced_memory()[1] < MEMORY
    finally:
        tracemalloc.stop()
