"""An ident take written, played through a desk that is made up here, recorded back, and checked."""

from __future__ import annotations

import os
from pathlib import Path

import numpy as np
import pytest

from replay import check, cli
from replay.sound.reading import Reading
from tests.sound.shows import make_show, noise


def read(path: Path) -> np.ndarray:
    import soundfile

    return soundfile.read(path, dtype="float64")[0]


@pytest.fixture
def show(tmp_path) -> Path:
    """Six channels on six slots; channel 5 stays live."""
    make_show(tmp_path / "show", 6, noise(4800, 6), columns="return,trim,polarity", cells={5: "live,-3,inverted"})
    return tmp_path / "show"


def recorded_back(tmp_path: Path, feeds: dict[int, list[int]]) -> Path:
    """What a desk records whose channel c gets the sum of the returns `feeds[c]`, with a little noise."""
    import soundfile

    written = {int(path.name[:2]): read(path) for path in (tmp_path / "ident").glob("*.wav")}
    random = np.random.default_rng(4)
    folder = tmp_path / "back"
    folder.mkdir()
    for channel, returns in feeds.items():
        signal = random.normal(0, 3e-5, len(written[1]) + 96000)
        for number in returns:
            signal[48000 : 48000 + len(written[1])] += written[number]
        soundfile.write(folder / f"{channel:02d}.wav", signal, 48000, subtype="PCM_24")
    return folder


def test_what_is_written(tmp_path, show, capsys):
    assert cli.run(["ident", str(show), str(tmp_path / "ident")]) == 0
    assert sorted(os.listdir(tmp_path / "ident")) == [
        "01 Source 1.wav", "02 Source 2.wav", "03 Source 3.wav", "04 Source 4.wav", "05 silent.wav",
        "06 Source 6.wav", "BACK TO LIVE.txt", "TO PLAYBACK.txt",
    ]  # fmt: skip
    # One at a time, one a second, in channel order; the one that stays live is silent.
    begins = {}
    for number in range(1, 7):
        sounding = np.flatnonzero(read(next((tmp_path / "ident").glob(f"{number:02d} *"))))
        begins[number] = None if len(sounding) == 0 else (sounding[0] / 48000, sounding[-1] / 48000)
    assert begins[5] is None
    for place, number in enumerate([1, 2, 3, 4, 6]):
        assert begins[number][0] == pytest.approx(1 + place, abs=0.001)
        assert begins[number][1] == pytest.approx(1.84 + place, abs=0.001)
    to_playback = (tmp_path / "ident" / "TO PLAYBACK.txt").read_text()
    assert "First mute all outputs and the amplifiers." in to_playback
    assert "[ ]   2 Source 2                      input from return 2\n" in to_playback
    assert (
        "These keep their live source: mute them.\n[ ]   5 Source 5                      stays on deck 5" in to_playback
    )
    back = (tmp_path / "ident" / "BACK TO LIVE.txt").read_text()
    assert "[ ]   6 Source 6                      input from deck 6, trim 0 dB\n" in back
    assert "Source 5" not in back
    assert "Mute all outputs and the amplifiers" in capsys.readouterr().out


def test_recorded_back_it_tells_which_return_feeds_which_channel(tmp_path, show):
    cli.run(["ident", str(show), str(tmp_path / "ident")])
    # Channels 1 and 2 are crossed, 3 has a second return, 4 is right, 5 is live but carries a return, 6 has nothing.
    feeds = {1: [2], 2: [1], 3: [3, 6], 4: [4], 5: [6], 6: []}
    report = check(show, take=str(recorded_back(tmp_path, feeds)), keep=False)
    assert report.show.returns_heard == {1: (2,), 2: (1,), 3: (3, 6), 4: (4,), 5: (6,), 6: ()}
    found = {finding.channels: (finding.code, finding.severity, finding.message) for finding in report.findings}
    slot = "the return from slot"
    assert found == {
        (1,): ("wrong-return", "fault", f"It carries {slot} 2; the patch says {slot} 1."),
        (2,): ("wrong-return", "fault", f"It carries {slot} 1; the patch says {slot} 2."),
        (3,): ("wrong-return", "warning", f"It carries {slot} 6 as well as its own return."),
        (4,): ("wrong-return", "note", "Channel 4 carries its own return: the recorded-back bursts say so."),
        (5,): ("wrong-return", "fault", f"It carries {slot} 6; the patch says that it stays live."),
        (6,): ("wrong-return", "warning", f"It carries no return at all; the patch says {slot} 6."),
    }
    assert report.verdict == "not-ready"
    assert all(view.advice is None for view in report.show.channels)


def test_a_desk_that_does_what_the_patch_says(tmp_path, show):
    cli.run(["ident", str(show), str(tmp_path / "ident")])
    feeds = {number: [number] if number != 5 else [] for number in range(1, 7)}
    report = check(show, take=str(recorded_back(tmp_path, feeds)), keep=False)
    assert report.verdict == "ready"
    (finding,) = report.findings
    assert finding.severity == "note"
    assert finding.message == "Channels 1-4, 6 carry their own returns: the recorded-back bursts say so."


def test_a_kept_ident_take_is_not_listened_to_again(tmp_path, show, monkeypatch):
    cli.run(["ident", str(show), str(tmp_path / "ident")])
    back = str(recorded_back(tmp_path, {1: [2], 2: [1], 3: [3, 6], 4: [4], 5: [6], 6: []}))
    first = check(show, take=back, kept_in=tmp_path / "kept")
    monkeypatch.setattr("replay.take.stream.Reader.__init__", lambda *_: pytest.fail("samples were read"))
    again = check(show, take=back, kept_in=tmp_path / "kept", trims={4: 2.0})
    assert (
        again.show.returns_heard == first.show.returns_heard == {1: (2,), 2: (1,), 3: (3, 6), 4: (4,), 5: (6,), 6: ()}
    )
    assert again.findings == first.findings


def test_ordinary_takes_are_no_ident_takes(tmp_path):
    make_show(tmp_path / "show", 4, noise(48000, 4))
    assert check(tmp_path / "show", keep=False).show.returns_heard is None


def test_a_show_without_returns_has_nothing_to_find_out(tmp_path, capsys):
    make_show(tmp_path / "show", 2, noise(4800, 2), columns="return", cells={1: "live", 2: "none"})
    assert cli.run(["ident", str(tmp_path / "show"), str(tmp_path / "ident")]) == 2
    assert capsys.readouterr().err == "replay: no channel of this patch has a return: there is nothing to find out\n"
    assert os.listdir(tmp_path) == ["show"]


def test_a_folder_that_is_not_free(tmp_path, show, capsys):
    assert cli.run(["ident", str(show), str(show)]) == 2
    assert capsys.readouterr().err == (
        f"replay: {show}: this folder is not empty (name a new folder, or an empty one)\n"
    )


@pytest.mark.parametrize(("samples", "passes"), [(1 << 24, 1), (1, 2)])
def test_tracks_of_one_file_are_read_together(tmp_path, show, monkeypatch, samples, passes):
    """Twelve tracks in one file: read one by one, the file was read twelve times, and one of a thousand without end."""
    import soundfile

    cli.run(["ident", str(show), str(tmp_path / "ident")])
    folder = recorded_back(tmp_path, {1: [2], 2: [1], 3: [3, 6], 4: [4], 5: [6], 6: []})
    tracks = [read(path) for path in sorted(folder.glob("*.wav"))]
    (tmp_path / "poly").mkdir()
    soundfile.write(tmp_path / "poly" / "all.wav", np.stack(tracks * 2, axis=1), 48000, subtype="PCM_24")
    read_at = []
    blocks = Reading.blocks
    monkeypatch.setattr(Reading, "blocks", lambda self, *a: read_at.append(len(self._tracks)) or blocks(self, *a))
    monkeypatch.setattr("replay.ident.read._MOST_SAMPLES", samples)
    report = check(show, take=str(tmp_path / "poly"), keep=False)
    once = {1: (2,), 2: (1,), 3: (3, 6), 4: (4,), 5: (6,), 6: ()}
    assert report.show.returns_heard == once | {number + 6: returns for number, returns in once.items()}
    assert len(read_at) == passes
