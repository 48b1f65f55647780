"""`confirm`, `hear` and `play` as they are used: in a terminal, with keys."""

from __future__ import annotations

import csv
import json
import re
import shutil
import signal
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from tests.need import need_package
from tests.sound.alsa import ROOT, SoundSystem
from tests.sound.shows import make_show, noise

COLUMNS = [
    *("channel", "name", "answer", "what it is", "date", "take", "fingerprint", "track", "track fingerprint"),
]
QUESTION = r"r right  w wrong  u unsure  a again  s skip  q end  > "


@pytest.fixture
def sound(tmp_path) -> SoundSystem:
    need_package("pexpect")
    return SoundSystem(tmp_path)


@pytest.fixture
def show(tmp_path) -> Path:
    """Four channels that play one after another, two seconds each, and a little of everything else."""
    codes = noise(8 * 48000, 4, peak=0.002)
    loud = noise(8 * 48000, 4, seed=2)
    for number in range(4):
        own = slice(number * 96000, (number + 1) * 96000)
        codes[own, number] = loud[own, number]
    make_show(tmp_path / "show", 4, codes)
    return tmp_path / "show"


def terminal(sound: SoundSystem, *words: str):
    import pexpect

    return pexpect.spawn(
        sys.executable, ["-m", "replay", *words], cwd=str(ROOT), env=sound.environment, timeout=60, encoding="utf-8",
        dimensions=(40, 100),
    )  # fmt: skip


def answers(show: Path) -> dict[int, dict[str, str]]:
    with open(show / "confirmed.csv", encoding="utf-8-sig", newline="") as file:
        reader = csv.DictReader(file)
        rows = {int(row["channel"]): row for row in reader}
        assert reader.fieldnames == COLUMNS
    return rows


def test_all_channels_answered(sound, show):
    child = terminal(sound, "confirm", str(show), "--device", "desk")
    child.expect("1 of 4  channel 1 Source 1  from 0:00")
    child.expect(QUESTION)
    child.send("x")  # means nothing
    child.send("r")
    child.expect("right")
    child.expect("2 of 4  channel 2 Source 2  from 0:0")
    child.expect(QUESTION)
    child.send("a")
    child.expect(QUESTION)
    child.send("w")
    child.expect("What is it?")
    child.sendline("3")
    child.expect("So it is channel 3 Source 3.")
    child.expect("3 of 4")
    child.expect(QUESTION)
    child.send("w")
    child.expect("What is it?")
    child.sendline("3")
    child.expect("Channel 3 is the one that is wrong.")
    child.expect("What is it?")
    child.sendline("source 2")
    child.expect("So it is channel 2 Source 2.")
    child.expect("4 of 4")
    child.expect(QUESTION)
    child.send("u")
    child.expect(r"1 right, 2 wrong, 1 unsure\. Kept in ")
    child.expect(r"Channels 2 and 3 are each other\.")
    child.expect(r"Exchange the plugs, or take the list that replay check --corrected FILE writes\.")
    child.expect("$")
    child.wait()
    assert child.exitstatus == 0
    rows = answers(show)
    assert [(n, row["answer"], row["what it is"]) for n, row in rows.items()] == [
        (1, "right", ""), (2, "wrong", "3"), (3, "wrong", "2"), (4, "unsure", ""),
    ]  # fmt: skip
    assert {row["take"] for row in rows.values()} == {"audio"}
    assert all(re.fullmatch(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d[+-]\d\d:\d\d", row["date"]) for row in rows.values())
    (stamp,) = {row["fingerprint"] for row in rows.values()}
    assert re.fullmatch("[0-9a-f]{20}", stamp)
    assert [row["track"] for row in rows.values()] == ["1", "2", "3", "4"]
    assert len({row["track fingerprint"] for row in rows.values()}) == 4

    # Nothing is asked twice.
    child = terminal(sound, "confirm", str(show), "--device", "desk")
    child.expect(r"Answered already: channels 1-4 \(--again asks once more\)\.")
    child.expect("1 right, 2 wrong, 1 unsure")
    child.wait()
    assert child.exitstatus == 0


def test_what_is_skipped_is_asked_again(sound, show):
    for channels in ("1 of 1", "1 of 1"):
        child = terminal(sound, "confirm", str(show), "2", "--device", "desk")
        child.expect(f"{channels}  channel 2 Source 2")
        child.expect(QUESTION)
        child.send("s")
        child.expect("skipped")
        child.expect(r"0 right, 0 wrong, 0 unsure\.")
        child.wait()
        assert child.exitstatus == 0
    assert not (show / "confirmed.csv").exists()


def stop(child, expected: int = 130) -> None:
    child.sendintr()
    child.expect("Interrupted.")
    child.wait()
    assert child.exitstatus == expected


@pytest.mark.parametrize("answered", [0, 1])
@pytest.mark.parametrize("where", ["playing", "question", "what", "sigterm"])
def test_an_interruption_loses_nothing(sound, show, answered, where):
    child = terminal(sound, "confirm", str(show), "--device", "desk")
    for _ in range(answered):
        child.expect(QUESTION)
        child.send("r")
        child.expect("right")
    child.expect(f"{answered + 1} of 4")
    if where == "playing":
        child.expect("> playing")
    else:
        child.expect(QUESTION)
    if where == "what":
        child.send("w")
        child.expect("What is it?")
    if where == "sigterm":
        child.kill(signal.SIGTERM)
        child.expect("Interrupted.")
        child.wait()
        assert child.exitstatus == 130
    else:
        stop(child)
    if answered:
        assert {number: row["answer"] for number, row in answers(show).items()} == {1: "right"}
    else:
        assert not (show / "confirmed.csv").exists()


def test_a_changed_take_makes_answers_stale(sound, show):
    import soundfile

    child = terminal(sound, "confirm", str(show), "1", "--device", "desk")
    child.expect(QUESTION)
    child.send("r")
    child.expect("1 right, 0 wrong")
    child.wait()
    path = show / "audio" / "001 Source 1.wav"
    samples, rate = soundfile.read(path, dtype="int32")
    samples[192000:240000] = 0
    soundfile.write(path, samples, rate, subtype="PCM_24")
    child = terminal(sound, "confirm", str(show), "1", "--device", "desk")
    child.expect(r"The take or the patch has changed since, and asked again: channel 1\.")
    child.expect(QUESTION)
    child.send("q")
    child.expect(r"0 right, 0 wrong, 0 unsure\.")
    child.wait()
    assert child.exitstatus == 0


def checked(sound, show: Path, *words: str) -> tuple[int, dict]:
    """What `check` says of the show, as JSON."""
    done = subprocess.run(
        [sys.executable, "-m", "replay", "check", str(show), "--json", "-", *words],
        cwd=ROOT, env=sound.environment, capture_output=True, text=True, timeout=120,
    )  # fmt: skip
    assert done.stderr == ""
    return done.returncode, json.loads(done.stdout)


def coded(document: dict, code: str) -> list[dict]:
    return [finding for finding in document["findings"] if finding["code"] == code]


def test_from_confirm_to_check_to_another_take(sound, show, tmp_path):
    """Answers count in `check` and `routes`, make a corrected list, and go stale with what they were about."""
    import soundfile

    # Two plugs were exchanged on stage.
    two, three = (show / "audio" / f"00{number} Source {number}.wav" for number in (2, 3))
    held = two.read_bytes()
    two.write_bytes(three.read_bytes())
    three.write_bytes(held)
    _, before = checked(sound, show)
    assert [channel["confirmed"] for channel in before["channels"]] == [None] * 4
    assert "ears" not in "".join(finding["message"] for finding in before["findings"])
    child = terminal(sound, "confirm", str(show), "--device", "desk")
    for keys in ("r", "w3\n", "w2\n", "wa horn\n"):
        child.expect(QUESTION)
        child.send(keys[0])
        if keys[1:]:
            child.expect("What is it?")
            child.send(keys[1:])
    child.expect(r"1 right, 3 wrong, 0 unsure\.")
    child.expect("Channel 4 Source 4 is wrong: it is a horn.")
    child.wait()

    status, document = checked(sound, show, "--corrected", str(tmp_path / "corrected.csv"))
    assert status == 1
    assert document["counts"]["unconfirmed"] == 3
    assert [channel["confirmed"]["answer"] for channel in document["channels"]] == ["right", "wrong", "wrong", "wrong"]
    assert [channel["state"] for channel in document["channels"][1:]] == ["bad", "bad", "bad"]
    (swap,), (horn,) = coded(document, "swapped"), coded(document, "wrong-by-ear")
    assert (swap["channels"], swap["severity"]) == ([2, 3], "fault")
    assert re.search(r"; you said so by ear on \d{4}-\d\d-\d\d \d\d:\d\d\.", swap["message"])
    assert 'that it is wrong: it is "a horn". The sound says otherwise of 4 Source 4: ' in horn["message"]
    assert coded(document, "stale-confirmation") == []
    done = subprocess.run(
        [sys.executable, "-m", "replay", "routes", str(show)],
        cwd=ROOT, env=sound.environment, capture_output=True, text=True, timeout=120,
    )  # fmt: skip
    ticks = {line.split()[0]: line[-12:].strip() for line in done.stdout.splitlines() if "Source " in line}
    assert ticks["1"].endswith("both")
    assert ticks["2"].endswith("WRONG, is 3")

    # The list that was put right: what was said of channels 2 and 3 was about other tracks, and is asked again.
    original = (show / "inputs.csv").read_bytes()
    shutil.copy(tmp_path / "corrected.csv", show / "inputs.csv")
    _, document = checked(sound, show)
    assert coded(document, "swapped") == []
    (stale,) = coded(document, "stale-confirmation")
    assert stale["channels"] == [2, 3]
    assert "by the patch channels 2-3 come from other tracks now" in stale["message"]
    (show / "inputs.csv").write_bytes(original)

    # Another track recorded anew, in the same place: nothing that was said holds for what is played now.
    path = show / "audio" / "003 Source 3.wav"
    samples, rate = soundfile.read(path, dtype="int32")
    soundfile.write(path, samples[::-1], rate, subtype="PCM_24")
    _, document = checked(sound, show)
    (stale,) = coded(document, "stale-confirmation")
    assert stale["channels"] == [1, 2, 3, 4]
    assert "(channels 1-4, last on " in stale["message"]
    assert stale["message"].endswith("count no more: track 3 holds something else now.")
    assert [channel["confirmed"] for channel in document["channels"]] == [None] * 4
    assert coded(document, "swapped") == coded(document, "wrong-by-ear") == []

    # A spoilt list is told with its places, and everything else is answered.
    with open(show / "confirmed.csv", "a", encoding="utf-8") as file:
        file.write("2,Source 2,perhaps,,,,,,\n")
    status, document = checked(sound, show)
    (unread,) = coded(document, "unread-confirmation")
    assert "confirmed.csv, line 6, column 3: no answer: perhaps (one of right, wrong, unsure)" in unread["message"]
    assert len(coded(document, "stale-confirmation")) == 1
    assert status == 0


def test_two_takes_have_answers_of_their_own(sound, show):
    for name in ("noon", "evening"):
        shutil.copytree(show / "audio", show / "takes" / name)
        (show / "takes" / name / "002 Source 2.wav").touch()
    shutil.rmtree(show / "audio")
    path = show / "takes" / "evening" / "001 Source 1.wav"
    path.write_bytes(path.read_bytes()[:-3000] + bytes(3000))
    patch = show / "patch.toml"
    patch.write_text(patch.read_text().replace('folder = "audio"', 'folder = "takes"'))
    for take, key in (("noon", "r"), ("evening", "u")):
        child = terminal(sound, "confirm", str(show), "1", "--take", take, "--device", "desk")
        child.expect("1 of 1")
        child.expect(QUESTION)
        child.send(key)
        child.expect("Kept in ")
        child.wait()
    for take, said in (("noon", "right"), ("evening", "unsure")):
        _, document = checked(sound, show, "--take", take)
        assert document["channels"][0]["confirmed"]["answer"] == said
        assert coded(document, "stale-confirmation") == []


def test_a_list_of_answers_that_is_none_is_left_alone(sound, show):
    (show / "confirmed.csv").write_text("my notes\n")
    child = terminal(sound, "confirm", str(show), "--device", "desk")
    child.expect(r"replay: confirmed\.csv, line 1, column 1: its\s+first\s+line\s+is\s+not\s+channel,name,answer")
    child.wait()
    assert child.exitstatus == 2
    assert (show / "confirmed.csv").read_text() == "my notes\n"


def test_keys_while_hearing(sound, show):
    child = terminal(sound, "hear", str(show), "1", "--from", "0", "--device", "desk")
    child.expect("p pause  b back 5 s  f forward 5 s  n next channel")
    child.wait()
    assert child.exitstatus == 0
    # The null device runs through eight seconds in a moment: what keys do is held in tests/sound/test_hear.py.
    child = terminal(sound, "hear", str(show), "1", "--from", "0", "--device", "desk")
    child.expect("heard at -20 dB")
    child.wait()


def test_play_asks_and_takes_no_for_an_answer(sound, show):
    child = terminal(sound, "play", str(show), "--device", "desk")
    child.expect("Type yes to play: ")
    child.sendline("no")
    child.expect("Nothing was played.")
    child.wait()
    assert child.exitstatus == 2
    assert not sound.capture.exists() or not np.fromfile(sound.capture, "<i4").any()
    child = terminal(sound, "play", str(show), "--device", "desk")
    child.expect("Type yes to play: ")
    stop(child)


def test_a_loop_plays_until_q_and_fades_out(sound, show):
    child = terminal(sound, "play", str(show), "--device", "nowhere", "--loop", "--to", "2")
    child.expect("Type yes to play: ")
    child.sendline("yes")
    child.expect("Playing. q fades out and ends.")
    child.expect("round [0-9]+")
    child.send("q")
    child.expect(r"Played [0-9:]+ to 4 outputs: no underrun\.")
    child.wait()
    assert child.exitstatus == 0


def test_interrupting_a_loop(sound, show):
    child = terminal(sound, "play", str(show), "--device", "nowhere", "--loop", "--yes")
    child.expect("round [0-9]+")
    stop(child)
