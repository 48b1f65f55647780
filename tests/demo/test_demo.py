"""The demo is what docs/demo.md says: the files, the levels, and the faults planted in them.

Figures are taken from the files with plain numpy and soundfile; what they are held to is the scenario, and not what
the demo once printed.
"""

from __future__ import annotations

import csv
import tomllib
from pathlib import Path

import numpy as np
import pytest
import soundfile

from replay.demo import write_demo
from replay.errors import CallError, OutputError

RATE = 48000
COMMITTED = Path(__file__).parents[2] / "demo_audio"

HEALTHY_DEAF = {"Bass DI", "Acoustic guitar", "Keys L", "Keys R"}
"""Channels that come down a cable, and hear nothing of the others."""

HEALTHY_OPEN = {
    "Kick", "Snare bottom", "Hi-hat", "Tom high", "Tom low", "Overhead L", "Overhead R", "Bass mic", "Accordion L",
    "Accordion R", "Fiddle 1", "Whistle", "Trumpet", "Trombone", "Lead vocal 1", "Backing 1", "Caller",
}  # fmt: skip

MACHINES = {"Playback L", "Playback R", "Click"}


class Take:
    """A written show, and its tracks read when asked for."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.patch = tomllib.loads((folder / "patch.toml").read_text())
        with (folder / "inputs.csv").open(newline="") as file:
            self.lines = {row["name"]: row for row in csv.DictReader(file)}
        minutes, seconds = self.patch["take"].get("from", "0:00").split(":")
        self.begin = (int(minutes) * 60 + int(seconds)) * RATE
        self.paths = sorted((folder / "audio").iterdir())
        self.files = {path.stem[3:]: path for path in self.paths}

    def judged(self, name: str) -> np.ndarray:
        """The track's samples after the line check."""
        return soundfile.read(self.files[name], start=self.begin)[0]

    def line_check(self, name: str) -> np.ndarray:
        return soundfile.read(self.files[name], stop=self.begin)[0]


@pytest.fixture(scope="module")
def take(tmp_path_factory: pytest.TempPathFactory) -> Take:
    """The evening, one minute of it."""
    folder = tmp_path_factory.mktemp("demo") / "show"
    write_demo(folder, minutes=1)
    return Take(folder)


@pytest.fixture(scope="module")
def pocket(tmp_path_factory: pytest.TempPathFactory) -> Take:
    folder = tmp_path_factory.mktemp("demo") / "pocket"
    write_demo(folder, pocket=True)
    return Take(folder)


def db(amplitude: float) -> float:
    return 20 * np.log10(amplitude)


def recurring_peak(signal: np.ndarray) -> float:
    """The fifth-highest peak of 100 ms stretches that lie 250 ms apart or more, in dBFS."""
    peaks = np.abs(signal[: len(signal) // 4800 * 4800]).reshape(-1, 4800).max(axis=1)
    found: list[int] = []
    for hop in np.argsort(-peaks, kind="stable"):
        if all(abs(hop - other) >= 3 for other in found):
            found.append(int(hop))
        if len(found) == 5:
            break
    return db(peaks[found[-1]])


def rms(signal: np.ndarray) -> float:
    return 10 * np.log10(np.mean(signal**2))


def longest_run(flags: np.ndarray) -> int:
    edges = np.flatnonzero(np.diff(np.concatenate([[False], flags, [False]]).astype(np.int8)))
    return int((edges[1::2] - edges[::2]).max(initial=0))


def same_files(left: Path, right: Path) -> list[str]:
    """The names of the files in both folders, which are the same to the byte."""
    names = [str(path.relative_to(left)) for path in sorted(left.rglob("*")) if path.is_file()]
    assert names == [str(path.relative_to(right)) for path in sorted(right.rglob("*")) if path.is_file()]
    assert [name for name in names if (left / name).read_bytes() != (right / name).read_bytes()] == []
    return names


def test_demo_audio_is_what_the_command_writes(pocket: Take) -> None:
    names = same_files(COMMITTED, pocket.folder)
    assert len(names) == 12


def test_demo_audio_stays_small() -> None:
    assert sum(path.stat().st_size for path in COMMITTED.rglob("*.wav")) <= 8_000_000


def test_the_same_call_writes_the_same_bytes(take: Take, tmp_path: Path) -> None:
    write_demo(tmp_path / "again", minutes=1)
    assert len(same_files(take.folder, tmp_path / "again")) == 34


def test_every_track_has_its_form_and_length(take: Take) -> None:
    assert len(take.paths) == 32
    for number, path in enumerate(take.paths, start=1):
        info = soundfile.info(path)
        assert (info.samplerate, info.channels, info.subtype, info.frames) == (RATE, 1, "PCM_24", 60 * RATE)
        assert path.name.startswith(f"{number:02d} ")


def test_names_follow_the_input_list(take: Take) -> None:
    assert list(take.files) == list(take.lines)[:32]


def test_bext_tells_date_and_start(take: Take) -> None:
    head = (take.folder / "audio" / "06 Tom low.wav").read_bytes()[:1000]
    at = head.index(b"bext")
    assert int.from_bytes(head[at + 4 : at + 8], "little") == 602
    chunk = head[at + 8 : at + 610]
    assert chunk[:256].rstrip(b"\0") == b"Tom low"
    assert chunk[320:338] == b"2026-06-2017:30:00"
    # 17:30 is 63000 seconds after midnight.
    assert int.from_bytes(chunk[338:346], "little") == 63000 * RATE


def test_boxes_link_and_sockets(take: Take) -> None:
    assert [(box["name"], box["sockets"]) for box in take.patch["box"]] == [("deck", 24), ("riser", 16)]
    assert [(link["name"], link["slots"]) for link in take.patch["link"]] == [("main", 32)]
    assert [(feed["sockets"], feed["slots"]) for feed in take.patch["feed"]] == [("1-24", "1-24"), ("1-8", "25-32")]
    sockets = [(row["box"], int(row["socket"])) for row in take.lines.values()]
    assert len(set(sockets)) == len(sockets) == 35


def test_planted_clipped_snare(take: Take) -> None:
    snare = take.judged("Snare top")
    top = snare >= 1 - 2**-23
    bottom = snare == -1
    assert longest_run(top) >= 24  # half a millisecond of flat top
    assert longest_run(bottom) >= 3


def test_nothing_else_reaches_full_scale(take: Take) -> None:
    assert [name for name in take.files if np.abs(take.judged(name)).max() >= 0.9] == ["Snare top"]


def test_planted_dead_vocal_is_noise_and_nothing_else(take: Take) -> None:
    dead = take.judged("Lead vocal 2")
    assert -95 < rms(dead) < -85
    hops = dead[: len(dead) // 4800 * 4800].reshape(-1, 4800)
    levels = 10 * np.log10((hops**2).mean(axis=1))
    assert np.ptp(levels) < 1  # steady: nobody sings, and not even the drums are heard
    spectrum = np.abs(np.fft.rfft(dead[: 30 * RATE])) ** 2
    thirds = spectrum[1 : len(spectrum) // 3 * 3 + 1].reshape(3, -1).mean(axis=1)
    assert thirds.max() / thirds.min() < 1.1  # white


def test_planted_hot_and_low_channels(take: Take) -> None:
    assert -3 < recurring_peak(take.judged("Electric guitar")) < -1
    assert -47 < recurring_peak(take.judged("Fiddle 2")) < -43


def test_planted_sockets_that_no_feed_carries(take: Take) -> None:
    outside = [name for name, row in take.lines.items() if row["box"] == "riser" and int(row["socket"]) > 8]
    assert outside == ["Mandolin", "Backing 2", "Talkback"]
    assert [take.lines[name]["use"] for name in outside] == ["must", "must", "may"]


@pytest.mark.parametrize(("bus", "over"), [("main", True), ("wedge1", False)])
def test_planted_bus_that_runs_over(take: Take, bus: str, over: bool) -> None:
    total = np.zeros(60 * RATE - take.begin)
    for name, row in take.lines.items():
        sends = dict(send.split(":") for send in row["bus"].split())
        if bus in sends and name in take.files:
            sign = -1 if row["polarity"] == "inverted" else 1
            total += sign * take.judged(name) * 10 ** ((float(sends[bus]) + float(row["trim"])) / 20)
    assert (db(np.abs(total).max()) > take.patch["bus"][bus]["ceiling"] + 1) == over


def test_spares_are_rightly_silent(take: Take) -> None:
    assert take.lines["Spare"]["use"] == take.lines["Guest radio"]["use"] == "may"
    assert not take.judged("Guest radio").any()
    assert -120 < rms(take.judged("Spare")) < -105


@pytest.mark.parametrize("name", sorted(HEALTHY_OPEN | HEALTHY_DEAF | MACHINES))
def test_healthy_channels_peak_where_they_should(take: Take, name: str) -> None:
    signal = take.judged(name)
    assert -18 < recurring_peak(signal) < -7.5
    assert db(np.abs(signal).max()) < -7


def test_every_track_is_named_in_one_of_these_lists(take: Take) -> None:
    others = {"Snare top", "Electric guitar", "Fiddle 2", "Lead vocal 2", "Spare", "Guest radio", "Room L", "Room R"}
    assert HEALTHY_OPEN | HEALTHY_DEAF | MACHINES | others == set(take.files)


@pytest.mark.parametrize("name", sorted(HEALTHY_OPEN | HEALTHY_DEAF | {"Room L", "Room R", "Fiddle 2", "Lead vocal 2"}))
def test_whatever_is_plugged_in_is_never_digital_silence(take: Take, name: str) -> None:
    whole = soundfile.read(take.files[name])[0]
    assert np.mean(whole == 0) < 0.005
    assert longest_run(whole == 0) < 8


def test_machines_are_silent_to_the_bit_between_songs(take: Take) -> None:
    for name in MACHINES:
        assert longest_run(take.judged(name) == 0) > RATE


def test_the_line_check_hears_every_source_loudest_on_its_own_track(take: Take) -> None:
    """In a source's own stretch, its level against what its track reaches in the songs beats all other tracks'."""
    names = [name for name in take.files if name not in ("Spare", "Guest radio", "Lead vocal 2", "Room L", "Room R")]
    usual = {name: np.sqrt(np.mean(take.judged(name) ** 2)) for name in names}
    hop = RATE // 10
    loud = {}
    for name in names:
        head = take.line_check(name)
        loud[name] = np.sqrt((head[: len(head) // hop * hop].reshape(-1, hop) ** 2).mean(axis=1)) / usual[name]
    order = sorted(names, key=lambda name: int(np.argmax(loud[name])))
    # Those of a pair speak together, and the overheads hear the whole kit.
    single = [name for name in order if take.lines[name]["pair"] == ""]
    assert single == [name for name in names if take.lines[name]["pair"] == ""]


def test_bleed_comes_late_by_the_distance(take: Take) -> None:
    """The kick reaches the tom's microphone, 0.55 m away, 77 frames after its beater."""
    head = slice(2 * RATE, 2 * RATE + RATE // 2)
    own, other = take.line_check("Kick")[head], take.line_check("Tom high")[head]
    lags = np.arange(-50, 250)
    match = [np.dot(own[100:20000], other[100 + lag : 20000 + lag]) for lag in lags]
    metres = float(np.hypot(0.1, 3.3 - 2.9)) - 0.08
    assert lags[int(np.argmax(match))] == pytest.approx(metres * 2.914e-3 * RATE, abs=2)


def test_snare_microphones_see_the_drum_from_both_sides(take: Take) -> None:
    top, bottom = take.judged("Snare top"), take.judged("Snare bottom")
    smooth = np.ones(64) / 64  # the drum without its wires
    top, bottom = (np.convolve(side[: 10 * RATE], smooth, "same") for side in (top, bottom))
    assert np.corrcoef(top, bottom)[0, 1] < -0.5


@pytest.mark.parametrize(
    ("name", "low", "high"),
    [
        # The ranges of real hits and rendered notes, widened for bleed and for a whole tune.
        ("Kick", 38, 100),
        ("Snare top", 170, 290),
        ("Tom high", 95, 140),
        ("Tom low", 60, 110),
        ("Bass DI", 60, 290),
        ("Whistle", 580, 1700),
        ("Fiddle 1", 190, 1500),
        ("Trumpet", 400, 1700),
        ("Trombone", 140, 700),
        ("Lead vocal 1", 110, 700),
        ("Caller", 85, 800),
        ("Click", 950, 1050),
    ],
)
def test_strongest_frequency_is_the_instrument_s(take: Take, name: str, low: float, high: float) -> None:
    signal = take.judged(name)
    blocks = signal[: len(signal) // 16384 * 16384].reshape(-1, 16384) * np.hanning(16384)
    power = (np.abs(np.fft.rfft(blocks)) ** 2).sum(axis=0)
    assert low < np.argmax(power) * RATE / 16384 < high


def test_hat_has_its_energy_above_5_khz(take: Take) -> None:
    power = np.abs(np.fft.rfft(take.judged("Hi-hat"))) ** 2
    above = power[int(len(power) * 5000 / 24000) :].sum() / power.sum()
    assert above > 0.25


def test_pocket_show_and_its_faults(pocket: Take) -> None:
    assert len(pocket.files) == 10
    assert [(box["name"], box["sockets"]) for box in pocket.patch["box"]] == [("deck", 16)]
    assert pocket.patch["link"][0]["slots"] == 16
    assert longest_run(pocket.judged("Fiddle") >= 1 - 2**-23) >= 3
    assert -96 < rms(pocket.judged("Accordion vocal")) < -88
    assert -4 < recurring_peak(pocket.judged("Stomp board")) < -1
    assert (pocket.lines["Raffle mic"]["socket"], pocket.patch["feed"][0]["sockets"]) == ("12", "1-10")
    assert pocket.lines["Spare"]["use"] == "may"
    for name in ("Accordion L", "Accordion R", "Bass DI", "Bass mic", "Fiddle vocal", "Caller"):
        assert -18 < recurring_peak(pocket.judged(name)) < -8


def test_both_patches_are_valid(take: Take, pocket: Take) -> None:
    from replay.patch.from_toml import read_patch

    for show, channels in ((take, 35), (pocket, 11)):
        assert len(read_patch(show.folder / "patch.toml").channels) == channels


def test_longer_takes_have_a_full_line_check_and_more_songs() -> None:
    from replay.demo.show import full, full_scenes

    show = full(10)
    assert show.frames == 600 * RATE
    # 23 sources of 4.6 s each, after two seconds.
    assert show.from_s == 108
    scenes = list(full_scenes(10))
    assert len(scenes) == 4
    for start, events in scenes:
        assert min(event.start for event in events) >= start
        assert max(event.start for event in events) < show.frames
    assert all(event.start < 108 * RATE for event in scenes[0][1])


def test_progress_ends_at_one(tmp_path: Path) -> None:
    told: list[float] = []
    write_demo(tmp_path / "show", pocket=True, progress=lambda share, _: told.append(share))
    assert told == sorted(told)
    assert told[-1] == 1


def test_an_empty_folder_is_used_as_it_is(pocket: Take, tmp_path: Path) -> None:
    inode = tmp_path.stat().st_ino
    write_demo(tmp_path, pocket=True)
    assert tmp_path.stat().st_ino == inode
    same_files(pocket.folder, tmp_path)
    assert sorted(path.name for path in tmp_path.iterdir()) == ["audio", "inputs.csv", "patch.toml"]


def test_a_full_folder_is_refused(tmp_path: Path) -> None:
    (tmp_path / "mine.txt").write_text("mine")
    with pytest.raises(CallError, match=r"this folder is not empty \(name a new folder, or an empty one\)$"):
        write_demo(tmp_path, pocket=True)
    assert [path.name for path in tmp_path.iterdir()] == ["mine.txt"]


def test_a_file_is_refused(tmp_path: Path) -> None:
    (tmp_path / "show").write_text("mine")
    with pytest.raises(CallError, match=r"this is not a folder \(name a new folder, or an empty one\)$"):
        write_demo(tmp_path / "show", pocket=True)
    assert (tmp_path / "show").read_text() == "mine"


@pytest.mark.parametrize("minutes", [0, 0.5, -3, 241, float("nan"), float("inf")])
def test_impossible_lengths_are_refused(tmp_path: Path, minutes: float) -> None:
    text = rf"^a demo take of {minutes:g} minutes \(from 1 to 240 minutes are possible\)$"
    with pytest.raises(CallError, match=text):
        write_demo(tmp_path / "show", minutes=minutes)
    assert not (tmp_path / "show").exists()


@pytest.mark.parametrize("there", [False, True])
def test_a_full_disk_leaves_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, there: bool) -> None:
    folder = tmp_path / "show"
    if there:
        folder.mkdir()

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("replay.demo.wav.Recorder.write", full)
    with pytest.raises(OutputError, match=r"show: cannot be written: No space left on device$"):
        write_demo(folder, pocket=True)
    assert [str(path.relative_to(tmp_path)) for path in tmp_path.rglob("*")] == (["show"] if there else [])


def test_an_interruption_leaves_nothing(tmp_path: Path) -> None:
    def stop(share: float, _: str) -> None:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        write_demo(tmp_path / "show", pocket=True, progress=stop)
    assert list(tmp_path.iterdir()) == []


def test_a_folder_inside_a_file_is_refused(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    with pytest.raises(CallError, match=r"file: this is a file, in which no folder can be made$"):
        write_demo(tmp_path / "file" / "show", pocket=True)
