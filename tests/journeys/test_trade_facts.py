"""Facts of the trade, end to end. Common practice, no source: what every engineer would expect to hold."""

from __future__ import annotations

import pytest

from replay.errors import PatchError
from replay.findings.result import Report
from replay.patch.model import Slot
from replay.simulate import check
from tests.material import faults
from tests.material.recording import Recording
from tests.material.show import write_show
from tests.material.stage import record
from tests.material.take import write

LIST = "channel,name,box,socket,use,kind,trim,return\n"


@pytest.fixture(scope="module")
def four(shelf) -> Recording:
    """Kick, bass, vocal and keys for 36 s: enough to be told apart."""

    def build(_) -> Recording:
        recording = record(20, seed=41, seconds=36, bleed=False)
        return recording.part([recording.named(name).number for name in ("Kick", "Bass DI", "Vox Lead", "Trumpet")])

    return shelf.get("four", build)


def codes(report: Report) -> set[str]:
    return {finding.code for finding in report.findings}


def two_boxes(folder, recording: Recording, rows: list[str], *, feeds: str, link: str) -> object:
    """A show of two boxes of 32 sockets and the take of four tracks."""
    folder.mkdir(parents=True)
    boxes = "".join(f'[[box]]\nname = "{name}"\nsockets = 32\n' for name in ("north", "south"))
    (folder / "patch.toml").write_text(
        f'title = "Mill Yard"\nrate = 48000\ninputs = "inputs.csv"\n[take]\nfolder = "audio"\nof = "show"\n{boxes}'
        f'[[link]]\nname = "main"\n{link}\n{feeds}',
        encoding="utf-8",
    )
    (folder / "inputs.csv").write_text(LIST + "".join(row + "\n" for row in rows), encoding="utf-8")
    write(folder / "audio", recording)
    return folder


FEEDS_OF_56 = (
    '[[feed]]\nbox = "north"\nsockets = "1-32"\nlink = "main"\nslots = "1-32"\n'
    '[[feed]]\nbox = "south"\nsockets = "1-24"\nlink = "main"\nslots = "33-56"\n'
)
FOUR_ROWS = ["1,Kick,north,1,must,kick,,", "2,Bass,north,2,must,bass,,", "3,Vox,north,3,must,vocal,,"]
FOUR_ROWS += ["4,Trumpet,north,4,must,brass,,"]


# Common practice: two boxes of 32 sockets make 64 inputs, and a box of 32 has no socket 33.
def test_two_boxes_of_32_are_64_inputs_and_33_is_refused(tmp_path, four):
    rows = FOUR_ROWS + [f"{4 + socket},In {socket},south,{socket},may,other,," for socket in range(1, 33)]
    show = two_boxes(tmp_path / "good", four, rows, feeds=FEEDS_OF_56, link="slots = 56")
    assert len(check(show).show.channels) == 36
    beyond = [*FOUR_ROWS, "5,Far,north,33,may,other,,"]
    show = two_boxes(tmp_path / "bad", four, beyond, feeds=FEEDS_OF_56, link="slots = 56")
    with pytest.raises(PatchError, match="33") as refused:
        check(show)
    assert "inputs.csv" in str(refused.value)


# Common practice: both boxes onto a link of 56 channels carry all 32 of the first and the first 24 of the second.
@pytest.mark.parametrize("link", ["slots = 56", 'standard = "AES10-56"'])
def test_both_boxes_on_a_link_of_56_leave_the_last_8_sockets_out(tmp_path, four, link):
    rows = FOUR_ROWS + [f"{4 + socket},In {socket},south,{socket},may,other,," for socket in range(1, 33)]
    report = check(two_boxes(tmp_path / "show", four, rows, feeds=FEEDS_OF_56, link=link))
    left_out = {view.channel.number for view in report.show.channels if view.status == "not-recorded"}
    assert left_out == set(range(29, 37))
    told = [finding for finding in report.findings if finding.code == "not-recorded"]
    assert {channel for finding in told for channel in finding.channels} == left_out
    sockets = {(socket.box, socket.number) for finding in told for socket in finding.sockets}
    assert sockets == {("south", number) for number in range(25, 33)}


# Common practice: sockets come in eights and are numbered straight through; a feed may start inside an eight.
def test_a_feed_may_start_and_end_inside_an_eight(tmp_path, four):
    feeds = '[[feed]]\nbox = "north"\nsockets = "13-16"\nlink = "main"\nslots = "1-4"\n'
    rows = [row.replace(f"north,{n}", f"north,{n + 12}") for n, row in enumerate(FOUR_ROWS, start=1)]
    report = check(two_boxes(tmp_path / "show", four, rows, feeds=feeds, link="slots = 8"))
    assert [view.slot for view in report.show.channels] == [Slot("main", number) for number in (1, 2, 3, 4)]
    assert [view.status for view in report.show.channels] == ["track"] * 4


# Common practice: the recording point is after the preamp and before processing. A gain change of n dB moves the
# recorded level by n dB; a trim moves it by 0 and the channel by n.
def test_gain_moves_the_recording_and_trim_moves_the_channel(tmp_path, four):
    softer = four.copy()
    softer.track(2)[:] = faults.change_gain(softer.track(2), -6.0)
    plain = check(write_show(tmp_path / "plain", four, encoding="f32")).show.view(2)
    turned = check(write_show(tmp_path / "turned", softer, encoding="f32")).show.view(2)
    trimmed = check(tmp_path / "plain", trims={2: -4.5}).show.view(2)
    for name in ("sample_peak_dbfs", "true_peak_dbtp", "played_peak_dbtp", "integrated_lufs", "rms_dbfs"):
        level = getattr(plain.recorded, name)
        assert getattr(turned.recorded, name) == pytest.approx(level - 6.0, abs=1e-3), name
        assert getattr(trimmed.recorded, name) == level, name
        assert getattr(trimmed.input, name) == pytest.approx(level - 4.5, abs=1e-6), name


# Common practice: a preamp tried at another gain is a take recorded at that gain.
def test_a_gain_tried_out_is_the_level_of_a_take_at_that_gain(tmp_path, four):
    show = write_show(tmp_path / "show", four)
    was = four.inputs[1].gain
    plain, tried = check(show).show.view(2), check(show, gains={2: was - 6}).show.view(2)
    assert tried.recorded.true_peak_dbtp == pytest.approx(plain.recorded.true_peak_dbtp - 6.0, abs=1e-9)
    assert tried.recorded.integrated_lufs == pytest.approx(plain.recorded.integrated_lufs - 6.0, abs=1e-9)


# Common practice: on playback each channel fed from the stage takes its own slot; local inputs stay live and are told.
def test_returns_are_the_recorded_slots_and_local_inputs_stay_live(tmp_path, four):
    rows = [*FOUR_ROWS, "5,Laptop,desk,1,may,playback,,"]
    feeds = FEEDS_OF_56 + '[[box]]\nname = "desk"\nsockets = 8\n'
    report = check(two_boxes(tmp_path / "show", four, rows, feeds=feeds, link="slots = 56"))
    views = report.show.channels
    assert [view.playback for view in views[:4]] == [view.slot for view in views[:4]]
    assert views[4].slot is None
    assert views[4].track is None
    told = [finding for finding in report.findings if 5 in finding.channels]
    assert [(finding.code, finding.severity) for finding in told] == [("not-recorded", "note")]


# Common practice: what the patch says is connected must match what is; both ways.
def test_a_channel_without_its_track_is_told(tmp_path, four):
    show = write_show(tmp_path / "show", four)
    next((show / "audio").glob("03*")).unlink()
    report = check(show)
    (missing,) = [finding for finding in report.findings if finding.code == "no-track"]
    assert (missing.severity, missing.channels) == ("fault", (3,))
    assert report.verdict == "not-ready"
    assert report.states[3] == "bad"


def test_a_track_without_its_channel_is_told(tmp_path, four):
    show = write_show(tmp_path / "show", four)
    lines = (show / "inputs.csv").read_text(encoding="utf-8").splitlines(keepends=True)
    (show / "inputs.csv").write_text("".join(lines[:-1]), encoding="utf-8")
    report = check(show)
    (extra,) = [finding for finding in report.findings if finding.code == "extra-track"]
    # It holds a trumpet: a source that nobody patched.
    assert (extra.severity, extra.tracks) == ("warning", (4,))


# Common practice: nothing but the clipped channel is told, and the cure is less gain and a new recording.
def test_a_clipped_preamp_is_one_fault_with_less_gain(tmp_path, four):
    hot = four.copy()
    faults.plant_clip(hot, 2, 3.0)
    report = check(write_show(tmp_path / "show", hot, of="soundcheck"))
    told = [finding for finding in report.findings if finding.severity == "fault"]
    assert [(finding.code, finding.channels) for finding in told] == [("clipped", (2,))]
    advice = report.show.view(2).advice
    assert advice.gain_db <= -6
    assert advice.new_gain_db == hot.inputs[1].gain + advice.gain_db


def test_a_dead_microphone_and_a_lost_link_are_faults(tmp_path, four):
    dead = four.copy()
    faults.plant_dead_microphone(dead, 3)
    dead.track(4)[:] = 0
    report = check(write_show(tmp_path / "show", dead))
    told = {(finding.code, finding.severity, finding.channels) for finding in report.findings}
    assert ("noise-only", "fault", (3,)) in told
    assert ("silent", "fault", (4,)) in told


def test_a_track_that_stops_is_told_with_its_time(tmp_path, four):
    lost = four.copy()
    faults.plant_silence_from(lost, 1, 20.0)
    report = check(write_show(tmp_path / "show", lost))
    (cut,) = [finding for finding in report.findings if finding.code == "cuts-out"]
    assert (cut.severity, cut.channels) == ("fault", (1,))
    assert cut.start_s == pytest.approx(20.0, abs=0.1)
