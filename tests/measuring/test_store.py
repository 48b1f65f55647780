"""The folder of kept results: what a key depends on, what is removed and when, and what happens if the disk refuses."""

from __future__ import annotations

import os
import time
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from replay.measuring import store as store_module
from replay.measuring.history import Writer
from replay.measuring.store import LIMIT_BYTES, STALE_S, WORK_PREFIX, Store, default_folder
from replay.take.model import Track
from tests import tracks as make
from tests.measuring.test_history import COLUMNS, events, values

RATE = 48000
KEY = "0123456789abcdef0123456789abcdef01234567"
OTHER = "f" * 40


@pytest.fixture
def track(tmp_path) -> Track:
    noise = np.random.default_rng(1).integers(-(2**23), 2**23, 100_000).astype(np.int32) << 8
    (tmp_path / "take").mkdir()
    return make.track(1, (make.write(tmp_path / "take" / "01.wav", noise), 0, 0))


@pytest.fixture
def kept(tmp_path) -> Store:
    made = Store(tmp_path / "kept")
    assert made.work_folder() == tmp_path / "kept"
    return made


def history_file(path: Path, hops: int = 3) -> Path:
    writer = Writer(path, COLUMNS)
    writer.append(values(0, hops), hops)
    writer.finish({"rate": RATE}, events(1))
    return path


def key(track: Track, rate: int = RATE) -> str:
    """As a new run sees it: with nothing remembered."""
    return Store(Path("nowhere")).key(track, rate)


def rewrite(path: Path, data: bytes) -> None:
    """Other content under the old name, size and date."""
    before = path.stat()
    while True:
        path.write_bytes(data)
        os.utime(path, ns=(before.st_atime_ns, before.st_mtime_ns))
        after = path.stat()
        # Within one tick of the system's clock no date can tell; nobody replaces a recording that fast.
        if after.st_ctime_ns != before.st_ctime_ns:
            break
    assert (after.st_mtime_ns, after.st_size) == (before.st_mtime_ns, before.st_size)


def test_the_same_file_has_the_same_key(track):
    assert key(track) == key(track)
    assert len(key(track)) == 40


def test_a_file_touched_has_another_key(track):
    before, path = key(track), track.segments[0].file.path
    os.utime(path, ns=(10**18, 10**18))
    assert key(track) != before


@pytest.mark.parametrize("place", [50, 150_000, -10], ids=["head", "middle", "tail"])
def test_changed_content_has_another_key_even_with_size_and_date_of_old(track, place):
    before, path = key(track), track.segments[0].file.path
    data = bytearray(path.read_bytes())
    data[place] ^= 1
    rewrite(path, bytes(data))
    assert key(track) != before


def test_the_same_bytes_under_another_name_have_another_key(track):
    before, file = key(track), track.segments[0].file
    moved = file.path.rename(file.path.with_name("02.wav"))
    assert key(make.track(1, (replace(file, path=moved), 0, 0))) != before


def test_a_track_moved_on_the_clock_has_another_key(track):
    file = track.segments[0].file
    moved = make.track(1, (file, 0, 4800))
    assert key(moved) != key(track)
    assert key(make.track(1, (file, 0, 4801))) != key(moved)


def test_another_channel_rate_or_cut_has_another_key(track):
    file = track.segments[0].file
    others = [
        key(make.track(1, (file, 1, 0))),
        key(track, 96000),
        key(make.track(1, (file, 0, 0), (file, 0, 100_000))),
        key(make.track(1, (replace(file, frames=99_999), 0, 0))),
        key(make.track(1, (replace(file, data_offset=47), 0, 0))),
        key(make.track(1, (replace(file, encoding=None), 0, 0))),
    ]
    assert len({key(track), *others}) == 7


def test_the_number_of_a_track_is_no_part_of_its_key(track):
    assert key(replace(track, number=9, name="other")) == key(track)


def test_other_meters_have_other_keys(track, monkeypatch):
    before = key(track)
    monkeypatch.setattr(store_module, "source_digest", lambda: "changed")
    assert key(track) != before


def test_a_file_that_cannot_be_looked_at_has_no_key(track):
    track.segments[0].file.path.unlink()
    with pytest.raises(FileNotFoundError):
        key(track)


def test_names_of_any_bytes_have_keys(track):
    file = track.segments[0].file
    odd = file.path.rename(file.path.parent / os.fsdecode(b"\xff\xfe.wav"))
    assert len(key(make.track(1, (replace(file, path=odd), 0, 0)))) == 40


def test_what_is_kept_is_found_and_moves_in_whole(kept, tmp_path):
    assert kept.find(KEY) is None
    path = kept.keep(KEY, history_file(tmp_path / "new"))
    assert path == kept.folder / f"{KEY}.history"
    assert not (tmp_path / "new").exists()
    found = kept.find(KEY)
    assert found is not None
    assert found.column("slow").tolist() == [0.1, 1.1, 2.1]
    assert kept.find(OTHER) is None


@pytest.mark.parametrize("damage", ["empty", "cut", "footer", "events", "magic", "folder", "foreign"])
def test_a_damaged_entry_is_not_found_and_a_new_one_takes_its_place(kept, tmp_path, damage):
    path = kept.keep(KEY, history_file(tmp_path / "new"))
    good = path.read_bytes()
    events_at = 3 * (8 + 40 + 4)
    changed = {
        "empty": b"",
        "cut": good[:-1],
        "footer": good[:-40] + b"!" + good[-39:],
        "events": good[:events_at] + b"\xff" + good[events_at + 1 :],
        "magic": good[:-1] + b"2",
        "foreign": b"hello",
    }
    path.unlink()
    if damage == "folder":
        path.mkdir()
    else:
        path.write_bytes(changed[damage])
    assert kept.find(KEY) is None
    again = kept.keep(KEY, history_file(tmp_path / "again"))
    if damage == "folder":
        assert again == tmp_path / "again"  # it stays where it was made
    else:
        found = kept.find(KEY)
        assert found is not None
        assert found.hops == 3


def test_a_footer_of_another_kind_is_not_found(kept, tmp_path):
    """Right checksums, other content: what a later version may leave."""
    import json
    import struct
    import zlib

    for facts in ({}, {"columns": 3}, {"columns": [{"name": "x"}], "hops": 1}, [], "x", None):
        text = json.dumps(facts).encode()
        tail = struct.pack("<QI16s", len(text), zlib.crc32(text), b"replay-history-1")
        (kept.folder / f"{KEY}.history").write_bytes(text + tail)
        assert kept.find(KEY) is None


def test_extras_come_back_and_no_damaged_byte_is_believed(kept):
    name = f"{KEY}-peaks"
    assert kept.extra(name) is None
    numbers = np.array([7.0, 0.5, 12.0, -0.25])
    kept.keep_extra(name, numbers)
    read = kept.extra(name)
    assert read is not None
    assert read.tolist() == [7.0, 0.5, 12.0, -0.25]
    assert sorted(os.listdir(kept.folder)) == [f"{name}.extra"]
    path = kept.folder / f"{name}.extra"
    good = path.read_bytes()
    for place in range(len(good)):
        path.write_bytes(good[:place] + bytes([good[place] ^ 0x10]) + good[place + 1 :])
        assert kept.extra(name) is None
    for length in (0, 3, 4, 11, len(good) - 8, len(good) - 1):
        path.write_bytes(good[:length])
        # The checksum of nothing is nothing: a cut to 4 bytes cannot pass, since the checksum is that of the whole.
        assert kept.extra(name) is None


def fill(kept: Store, size: int, names: list[str]) -> None:
    """Entries of `size` bytes, used one second after another, long ago."""
    for age, name in enumerate(names):
        path = kept.folder / name
        path.write_bytes(b"x" * size)
        os.utime(path, (10**9 + age, 10**9 + age))


def test_beyond_the_limit_the_oldest_go_first(tmp_path):
    kept = Store(tmp_path, limit_bytes=250)
    names = [f"{digit * 40}.history" for digit in "3120"] + [f"{KEY}-sums.extra"]
    fill(kept, 100, names)
    kept.prune()
    assert sorted(os.listdir(tmp_path)) == sorted(names[3:])
    kept.prune()
    assert sorted(os.listdir(tmp_path)) == sorted(names[3:])


def test_exactly_at_the_limit_nothing_goes(tmp_path):
    kept = Store(tmp_path, limit_bytes=300)
    fill(kept, 100, [f"{digit * 40}.history" for digit in "312"])
    kept.prune()
    assert len(os.listdir(tmp_path)) == 3


def test_what_the_run_reads_itself_is_spared(tmp_path):
    kept = Store(tmp_path, limit_bytes=0)
    fill(kept, 100, [f"{digit * 40}.history" for digit in "312"])
    kept.prune(spare={kept.entry("1" * 40)})
    assert os.listdir(tmp_path) == [f"{'1' * 40}.history"]


def test_use_makes_an_entry_young(tmp_path):
    kept = Store(tmp_path)
    for digit in "12":
        kept.keep(digit * 40, history_file(tmp_path / "new"))
        kept.keep_extra(f"{digit * 40}-peaks", np.zeros(2))
    for path in tmp_path.iterdir():
        os.utime(path, (10**9, 10**9))
    assert kept.find("1" * 40) is not None
    assert kept.extra(f"{'2' * 40}-peaks") is not None
    young = sorted(path.name for path in tmp_path.iterdir() if path.stat().st_mtime > 10**9)
    assert young == [f"{'1' * 40}.history", f"{'2' * 40}-peaks.extra"]


def test_the_limit_is_what_the_docs_say():
    assert LIMIT_BYTES == 4 * 2**30
    assert STALE_S == 24 * 60 * 60


def aged(path: Path, hours: float) -> Path:
    then = time.time() - 3600 * hours
    os.utime(path, (then, then))
    return path


def test_leavings_of_killed_runs_go_after_a_day_and_nothing_else(tmp_path):
    kept = Store(tmp_path)
    for name, hours in (("aaaaaaaa", 25), ("bbbbbbbb", 23), ("with_own", 25)):
        folder = tmp_path / f"{WORK_PREFIX}{name}"
        folder.mkdir()
        aged(history_file(folder / "track-1.history"), hours)
        aged(history_file(folder / "track-2.123.part"), hours)
        if name == "with_own":
            (folder / "notes.txt").write_text("mine")
            aged(folder / "notes.txt", hours)
        aged(folder, hours)
    growing = tmp_path / f"{WORK_PREFIX}growing_"
    growing.mkdir()
    history_file(growing / "track-1.1.part")
    aged(growing, 25)
    (tmp_path / f"{KEY}-peaks.1-2.part").write_bytes(b"")
    aged(tmp_path / f"{KEY}-peaks.1-2.part", 25)
    (tmp_path / f"{KEY}-peaks.1-3.part").write_bytes(b"")
    kept.prune()
    assert sorted(os.listdir(tmp_path)) == sorted(
        [f"{KEY}-peaks.1-3.part", *(f"{WORK_PREFIX}{name}" for name in ("bbbbbbbb", "with_own", "growing_"))]
    )
    assert os.listdir(tmp_path / f"{WORK_PREFIX}with_own") == ["notes.txt"]
    assert len(os.listdir(tmp_path / f"{WORK_PREFIX}bbbbbbbb")) == 2


def test_a_folder_chosen_by_mistake_keeps_what_is_in_it(tmp_path):
    """Neither the limit nor emptying touches what does not bear a name of ours."""
    (tmp_path / "replay-soundcheck").mkdir()
    (tmp_path / "replay-soundcheck" / "mix.wav").write_bytes(b"x")
    (tmp_path / f"{'a' * 40}.history").mkdir()
    names = ["shell.history", "old.extra", "song.part", f"{KEY}.wav", "A" * 40 + ".history", f"{KEY}.history.bak"]
    for name in names:
        aged((tmp_path / name), 48) if (tmp_path / name).write_bytes(b"x" * 100) else None
    aged(tmp_path / "replay-soundcheck", 48)
    target = tmp_path / "elsewhere"
    target.write_bytes(b"x" * 100)
    (tmp_path / f"{OTHER}.history").symlink_to(target)
    before = sorted(os.listdir(tmp_path))
    kept = Store(tmp_path, limit_bytes=0)
    kept.prune()
    gone, left = kept.empty()
    assert (gone.entries, gone.bytes, left.entries, left.bytes) == (0, 0, 0, 0)
    assert sorted(os.listdir(tmp_path)) == before
    assert os.listdir(tmp_path / "replay-soundcheck") == ["mix.wav"]


def test_emptying_says_what_went(kept, tmp_path):
    size = history_file(tmp_path / "new").stat().st_size
    kept.keep(KEY, tmp_path / "new")
    kept.keep(OTHER, history_file(tmp_path / "new"))
    kept.keep_extra(f"{KEY}-peaks", np.zeros(2))
    usage = kept.usage()
    assert (usage.folder, usage.entries, usage.bytes) == (kept.folder, 2, 2 * size + 4 + 16)
    gone, left = kept.empty()
    assert gone == usage
    assert (left.entries, left.bytes) == (0, 0)
    assert os.listdir(kept.folder) == []


@pytest.mark.parametrize("kind", ["file", "missing below a file", "refused"])
def test_a_folder_that_cannot_be_used_keeps_nothing_and_harms_nothing(tmp_path, monkeypatch, kind):
    (tmp_path / "file").write_bytes(b"x")
    place = {"file": tmp_path / "file", "missing below a file": tmp_path / "file" / "kept", "refused": tmp_path / "no"}
    kept = Store(place[kind])
    if kind == "refused":
        kept.folder.mkdir()
        # An administrator may write everywhere: the answer is made by hand.
        monkeypatch.setattr(os, "access", lambda path, mode: False)
    assert kept.work_folder() is None
    if kind == "refused":
        return
    new = history_file(tmp_path / "new")
    assert kept.keep(KEY, new) == new
    assert kept.find(KEY) is None
    kept.keep_extra(f"{KEY}-peaks", np.zeros(2))
    assert kept.extra(f"{KEY}-peaks") is None
    assert kept.usage().entries == 0
    kept.prune()
    assert kept.empty()[0].bytes == 0
    assert (tmp_path / "file").read_bytes() == b"x"


def test_the_usual_folder_is_below_the_one_given_for_everything_kept(monkeypatch, tmp_path):
    monkeypatch.setenv("REPLAY_CACHE_DIR", str(tmp_path))
    assert default_folder() == tmp_path / "kept"
    monkeypatch.delenv("REPLAY_CACHE_DIR")
    assert default_folder().name == "kept"
    assert "replay-soundcheck" in default_folder().parts
