from __future__ import annotations

import os
import random

import pytest

from replay.confirm import answers
from replay.ear import Answer, rings
from replay.errors import PatchError

HEAD = "channel,name,answer,what it is,date,take,fingerprint,track,track fingerprint\n"


def one(channel: int, answer: str = "right", **more) -> Answer:
    return Answer(channel=channel, name=f"Source {channel}", answer=answer, **more)


def test_what_is_written_is_read(tmp_path):
    kept = (
        one(3, "unsure", is_really="'quoted'"),
        one(7, "wrong", is_really='=cmd|"/c calc", the 2nd', date="2026-06-20T17:30:00+02:00"),
        one(2, take="soundcheck", fingerprint="abc", track=2, track_fingerprint="def"),
        one(2, "wrong", take="the show", fingerprint="ghi", track=2, track_fingerprint="jkl"),
    )
    answers.write(tmp_path, reversed(kept))
    assert answers.read(tmp_path) == kept
    text = (tmp_path / "confirmed.csv").read_text(encoding="utf-8-sig")
    assert [line.split(",")[0] for line in text.splitlines()] == ["channel", "3", "7", "2", "2"]
    assert "'=cmd" in text


def test_no_file_is_no_answers(tmp_path):
    assert answers.read(tmp_path) == ()
    assert answers.look(tmp_path) == ((), ())


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes by name on this system")
def test_a_pipe_is_not_waited_for(tmp_path):
    os.mkfifo(tmp_path / "confirmed.csv")
    there, (problem,) = answers.look(tmp_path)
    assert (there, str(problem)) == ((), "confirmed.csv: is not a file (move it away)")


def test_what_a_spreadsheet_would_run_is_kept_as_text(tmp_path):
    answers.write(tmp_path, [one(1, "wrong", is_really="＝cmd"), one(2, "wrong", is_really=" -3")])
    assert [answer.is_really for answer in answers.read(tmp_path)] == ["＝cmd", " -3"]
    text = (tmp_path / "confirmed.csv").read_text(encoding="utf-8-sig")
    assert [line.split(",")[3] for line in text.splitlines()[1:]] == ["'＝cmd", "' -3"]


def test_everything_wrong_is_told_with_line_and_column_and_the_rest_is_read(tmp_path):
    rows = "x,a,right,,,,,,\n1,a,perhaps,,,,,no,\n\n2,a,right,,,,,,\n3,a\n4,a,right,,,,,,,,\n"
    (tmp_path / "confirmed.csv").write_text(HEAD + rows)
    with pytest.raises(PatchError) as caught:
        answers.read(tmp_path)
    put_right = "(put it right, or move the file away)"
    told = [
        f"confirmed.csv, line 2, column 1: no channel: x {put_right}",
        "confirmed.csv, line 3, column 3: no answer: perhaps (one of right, wrong, unsure)",
        f"confirmed.csv, line 3, column 8: no track: no {put_right}",
        f"confirmed.csv, line 6, column 3: 2 cells instead of 9 {put_right}",
        f"confirmed.csv, line 7, column 10: 11 cells instead of 9 {put_right}",
    ]
    assert [str(problem) for problem in caught.value.problems] == told
    there, problems = answers.look(tmp_path)
    assert [answer.channel for answer in there] == [2]
    assert [str(problem) for problem in problems] == told


@pytest.mark.parametrize(
    ("data", "told", "left"),
    [
        (b"my notes\n", "line 1, column 1: its first line is not channel,name,answer,", 0),
        (HEAD.replace("date", "when").encode(), "line 1, column 5: its first line is not channel,name,answer,", 0),
        (HEAD.encode() + b"1,Kick,right,,,,,,\n2,Sn\xffare,right,,,,,,\n", "line 3, column 5: is not UTF-8 text", 0),
        (HEAD.encode() + b'1,Kick,right,,,,,,\n2,"Snare,right,,,,,,\n3,Tom,right,,,,,,\n',
         "line 3, column 3: is no list of answers from here on: unexpected end of data", 1),
    ],
    ids=["other words", "another heading", "other bytes", "a quote without an end"],
)  # fmt: skip
def test_a_file_that_is_none_is_told_with_line_and_column(tmp_path, data, told, left):
    (tmp_path / "confirmed.csv").write_bytes(data)
    there, (problem,) = answers.look(tmp_path)
    assert str(problem).startswith(f"confirmed.csv, {told}")
    assert len(there) == left


@pytest.mark.parametrize("seed", range(200))
def test_any_bytes_are_answers_or_an_error(tmp_path, seed):
    luck = random.Random(seed)
    good = (HEAD + "1,Kick,right,,2026-06-20,audio,abc,1,a\n2,Snare,wrong,3,,,,,\n").encode()
    data = bytearray(good)
    for _ in range(luck.randrange(1, 8)):
        at = luck.randrange(len(data))
        if seed % 2:
            data[at] = luck.randrange(256)
        else:
            del data[at : at + luck.randrange(1, 9)]
            data[at:at] = luck.choice([b'"', b"\0", b"\n", b",", b"\xff\xfe", b"\r", b"9" * 5000])
    (tmp_path / "confirmed.csv").write_bytes(bytes(data))
    there, problems = answers.look(tmp_path)
    assert all(isinstance(answer.channel, int) and answer.answer in ("right", "wrong", "unsure") for answer in there)
    assert all(problem.place.file == "confirmed.csv" for problem in problems)


def test_a_file_beyond_all_bounds(tmp_path):
    with (tmp_path / "confirmed.csv").open("wb") as file:
        file.truncate(1 << 34)
    with pytest.raises(PatchError, match=r"confirmed\.csv: is larger than 10 MB"):
        answers.read(tmp_path)


def test_a_folder_of_that_name_is_told(tmp_path):
    (tmp_path / "confirmed.csv").mkdir()
    with pytest.raises(PatchError, match=r"^confirmed\.csv: is not a file \(move it away\)$"):
        answers.read(tmp_path)


def test_a_new_answer_takes_the_place_of_the_old_one_of_this_take_and_of_no_other():
    old = one(1, take="a", fingerprint="x")
    changed = one(1, take="a", fingerprint="before")
    copied = one(1, take="copy of a", fingerprint="new")
    other = one(1, take="b", fingerprint="y")
    neighbour = one(2, take="a", fingerprint="x")
    new = one(1, "wrong", take="a", fingerprint="new")
    assert answers.with_answer((old, changed, copied, other, neighbour), new) == (other, neighbour, new)


def said(**what: str) -> dict[int, Answer]:
    return {int(number[1:]): one(int(number[1:]), "wrong", is_really=words) for number, words in what.items()}


def test_channels_that_are_each_other():
    kept = said(c1="2", c2="1", c3="4", c5="5", c6="a fiddle", c7="8", c8="9", c9="7", c10="11", c11="12", c12="11")
    kept[4] = one(4, "right", is_really="3")
    # 3 is 4, but 4 is right; 5 is itself; 10 is 11, and 11 and 12 are each other.
    assert one(1, "wrong", is_really="1234567").is_channel is None
    assert rings(kept) == [(1, 2), (7, 8, 9), (11, 12)]


def test_the_time_of_an_answer_in_words():
    assert one(1, date="2026-06-20T17:30:59+02:00").when == "2026-06-20 17:30"
    assert one(1, date="2026-06-20").when == "2026-06-20"
    assert one(1, date="last\x1b[2J night").when == "last?[2J night"
    assert one(1).when == ""
