from __future__ import annotations

import random
from pathlib import Path

import pytest

from replay.confirm import answers
from replay.confirm.answers import Answer
from replay.errors import PatchError
from replay.opening import open_show
from tests.sound.shows import make_show, noise

HEAD = "channel,name,answer,what it is,date,take,fingerprint\n"


def one(channel: int, answer: str = "right", **more: str) -> Answer:
    return Answer(channel=channel, name=f"Source {channel}", answer=answer, **more)


def test_what_is_written_is_read(tmp_path):
    kept = {
        7: one(7, "wrong", is_really='=cmd|"/c calc", the 2nd', date="2026-06-20T17:30:00+02:00"),
        2: one(2, take="soundcheck", fingerprint="abc"),
        3: one(3, "unsure", is_really="'quoted'"),
    }
    answers.write(tmp_path, kept)
    assert answers.read(tmp_path) == kept
    text = (tmp_path / "confirmed.csv").read_text(encoding="utf-8-sig")
    assert [line.split(",")[0] for line in text.splitlines()] == ["channel", "2", "3", "7"]
    assert "'=cmd" in text


def test_no_file_is_no_answers(tmp_path):
    assert answers.read(tmp_path) == {}


def test_everything_wrong_is_told_with_its_line(tmp_path):
    rows = "x,a,right,,,,\n1,a,perhaps,,,,\n\n2,a,right,,,,\n3,a\n"
    (tmp_path / "confirmed.csv").write_text(HEAD + rows)
    with pytest.raises(PatchError) as caught:
        answers.read(tmp_path)
    assert [str(problem) for problem in caught.value.problems] == [
        "confirmed.csv, line 2: no channel: x (put it right, or move the file away)",
        "confirmed.csv, line 3: no answer: perhaps (one of right, wrong, unsure)",
        "confirmed.csv, line 6: 2 cells instead of 7 (put it right, or move the file away)",
    ]


@pytest.mark.parametrize("seed", range(200))
def test_any_bytes_are_answers_or_an_error(tmp_path, seed):
    luck = random.Random(seed)
    good = (HEAD + "1,Kick,right,,2026-06-20,audio,abc\n2,Snare,wrong,3,,,\n").encode()
    data = bytearray(good)
    for _ in range(luck.randrange(1, 8)):
        at = luck.randrange(len(data))
        if seed % 2:
            data[at] = luck.randrange(256)
        else:
            del data[at : at + luck.randrange(1, 9)]
            data[at:at] = luck.choice([b'"', b"\0", b"\n", b",", b"\xff\xfe", b"\r", b"9" * 5000])
    (tmp_path / "confirmed.csv").write_bytes(bytes(data))
    try:
        read = answers.read(tmp_path)
    except PatchError:
        return
    assert all(isinstance(number, int) for number in read)


def test_a_file_beyond_all_bounds(tmp_path):
    with (tmp_path / "confirmed.csv").open("wb") as file:
        file.truncate(1 << 34)
    with pytest.raises(PatchError, match=r"confirmed\.csv: is larger than 10 MB"):
        answers.read(tmp_path)


def test_exchanges_need_both_to_say_so():
    said = {1: "2", 2: "1", 3: "4", 5: "5", 6: "a fiddle"}
    kept = {number: one(number, "wrong", is_really=what) for number, what in said.items()}
    kept[4] = one(4, "right", is_really="3")
    assert answers.exchanges(kept) == [(1, 2)]


def stamp(folder: Path) -> str:
    return answers.fingerprint(open_show(folder).take)


def test_a_fingerprint_goes_with_the_take_and_not_with_its_place_or_age(tmp_path):
    import os
    import shutil

    make_show(tmp_path / "show", 2, noise(96000, 2))
    first = stamp(tmp_path / "show")
    shutil.copytree(tmp_path / "show", tmp_path / "elsewhere")
    for path in (tmp_path / "elsewhere" / "audio").iterdir():
        os.utime(path, (1e9, 1e9))
    assert stamp(tmp_path / "elsewhere") == first
    make_show(tmp_path / "other", 2, noise(96000, 2, seed=9))
    assert stamp(tmp_path / "other") != first
    shutil.move(tmp_path / "elsewhere" / "audio" / "002 Source 2.wav", tmp_path / "x.wav")
    assert stamp(tmp_path / "elsewhere") != first
