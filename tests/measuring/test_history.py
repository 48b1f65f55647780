"""Histories on disk: what was written is what is read, and no damaged byte is ever believed."""

from __future__ import annotations

import json
import struct
import zlib
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from replay.measuring.history import CHUNK_HOPS, RECENT_BYTES, DamagedError, History, Writer, read_history
from replay.meters.model import EVENT, Column

COLUMNS = (
    Column("slow", "power", 100, "f8", "square"),
    Column("quick", "power", 10, "f4", "square"),
    Column("count", "samples", 100, "u4", "same"),
)
FACTS = {"rate": 48000, "totals": {"sample_peak": 0.1}}


def values(first: int, hops: int) -> dict[str, np.ndarray]:
    """What the columns hold from hop `first` on: every value tells where it belongs."""
    return {
        "slow": np.arange(first, first + hops) + 0.1,
        "quick": (np.arange(10 * first, 10 * (first + hops)) / 8.0).reshape(hops, 10),
        "count": np.arange(first, first + hops) * 3.0,
    }


def events(count: int) -> np.ndarray:
    made = np.zeros(count, EVENT)
    made["kind"], made["start"], made["length"], made["value"] = 1, np.arange(count) * 1000, 3, 0.5
    return made


def write(path: Path, hops: int, count: int = 2, chunk_hops: int = CHUNK_HOPS) -> Path:
    writer = Writer(path, COLUMNS, chunk_hops)
    for first in range(0, hops, chunk_hops):
        here = min(chunk_hops, hops - first)
        writer.append(values(first, here), here)
    writer.finish(FACTS, events(count))
    return path


def everything(history: History) -> list[bytes]:
    columns = [history.column(column.name).tobytes() for column in history.columns]
    return [*columns, history.events.tobytes(), json.dumps(history.facts).encode()]


@pytest.mark.parametrize("chunk_hops", [CHUNK_HOPS, 75])
@pytest.mark.parametrize("hops", [0, 1, CHUNK_HOPS - 1, CHUNK_HOPS, CHUNK_HOPS + 1, 3 * CHUNK_HOPS + 7])
def test_what_was_written_is_read(tmp_path, hops, chunk_hops):
    history = read_history(write(tmp_path / "a.history", hops, chunk_hops=chunk_hops))
    wanted = values(0, hops)
    assert history.hops == hops
    assert history.columns == COLUMNS
    assert history.facts["totals"] == {"sample_peak": 0.1}
    assert np.array_equal(history.events, events(2))
    for column in COLUMNS:
        read = history.column(column.name)
        assert read.dtype == np.dtype(column.dtype)
        assert np.array_equal(read, wanted[column.name].ravel().astype(column.dtype))


def test_a_column_is_fresh_each_time(tmp_path):
    history = read_history(write(tmp_path / "a.history", 3))
    history.column("slow")[:] = 0
    assert history.column("slow").tolist() == [0.1, 1.1, 2.1]
    with pytest.raises(KeyError, match=r"^'nothing'$"):
        history.column("nothing")


def test_columns_read_last_are_kept_within_their_room_and_long_ones_not_at_all(tmp_path):
    history = read_history(write(tmp_path / "a.history", 3))
    slow, quick = history.column("slow"), history.column("quick")
    (tmp_path / "a.history").unlink()
    assert np.array_equal(history.column("slow"), slow)
    assert np.array_equal(history.column("quick"), quick)
    hops = RECENT_BYTES // 4 // 8
    history = read_history(write(tmp_path / "b.history", hops))
    slow, quick = history.column("slow"), history.column("quick")
    assert slow.nbytes == RECENT_BYTES // 4 < quick.nbytes
    (tmp_path / "b.history").unlink()
    assert np.array_equal(history.column("slow"), slow)
    with pytest.raises(DamagedError, match="No such file or directory"):
        history.column("quick")


def test_every_damaged_byte_is_noticed(tmp_path):
    path = write(tmp_path / "a.history", 3)
    good = path.read_bytes()
    truth = everything(read_history(path))
    assert len(truth) == 5
    for place in range(len(good)):
        for change in (0x01, 0x80, 0xFF):
            path.write_bytes(good[:place] + bytes([good[place] ^ change]) + good[place + 1 :])
            with pytest.raises(DamagedError):
                everything(read_history(path))


def test_a_damaged_column_leaves_the_others_alone(tmp_path):
    path = write(tmp_path / "a.history", 3)
    good = path.read_bytes()
    # "slow" comes first: 3 hops of 8 bytes.
    path.write_bytes(good[:5] + b"\x55" + good[6:])
    history = read_history(path)
    with pytest.raises(DamagedError, match="column slow has changed"):
        history.column("slow")
    assert np.array_equal(history.column("quick"), np.arange(30, dtype="f4") / 8)


def test_a_file_cut_short_or_drawn_out_is_noticed(tmp_path):
    path = write(tmp_path / "a.history", 3)
    good = path.read_bytes()
    for length in range(len(good)):
        path.write_bytes(good[:length])
        with pytest.raises(DamagedError):
            read_history(path)
    for more in (b"\0", good, b"\0" * 10 + good[-28:]):
        path.write_bytes(good + more)
        with pytest.raises(DamagedError):
            read_history(path)


def test_a_file_that_goes_away_or_shrinks_after_it_was_opened(tmp_path):
    path = write(tmp_path / "a.history", 3)
    history = read_history(path)
    path.write_bytes(path.read_bytes()[:30])
    with pytest.raises(DamagedError, match="shorter than its columns"):
        history.column("quick")
    path.unlink()
    with pytest.raises(DamagedError, match="No such file or directory"):
        history.column("quick")
    with pytest.raises(DamagedError, match="No such file or directory"):
        read_history(path)


def test_a_folder_is_no_history(tmp_path):
    (tmp_path / "a.history").mkdir()
    with pytest.raises(DamagedError, match="Is a directory"):
        read_history(tmp_path / "a.history")


def test_a_pass_that_was_given_up_leaves_no_history(tmp_path):
    writer = Writer(tmp_path / "a.history", COLUMNS)
    writer.append(values(0, 5), 5)
    writer.close()
    with pytest.raises(DamagedError):
        read_history(tmp_path / "a.history")


@given(st.binary(max_size=200), st.booleans())
def test_any_bytes_are_no_history(tmp_path_factory, data, with_tail):
    path = tmp_path_factory.mktemp("any") / "a.history"
    # With a right tail the bytes before it are taken for a footer of 10 bytes.
    tail = struct.pack("<QI16s", 10, 0 if len(data) % 2 else zlib.crc32(b"x"), b"replay-history-1")
    path.write_bytes(data + tail if with_tail else data)
    with pytest.raises(DamagedError):
        read_history(path)


def test_a_footer_that_claims_too_much_allocates_nothing(tmp_path):
    path = tmp_path / "a.history"
    path.write_bytes(b"x" * 100 + struct.pack("<QI16s", 1 << 40, 0, b"replay-history-1"))
    with pytest.raises(DamagedError, match="no footer"):
        read_history(path)
