"""The material is what it says: checked against arithmetic and published figures, without the program."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from tests.material import faults
from tests.material.cast import DYNAMIC_DBV, SOURCES, Line, lines
from tests.material.ltc import SYNC, frame_bits, ltc
from tests.material.midi import midi_file, variable_length
from tests.material.recording import Recording
from tests.material.show import feeds
from tests.material.stage import acoustic_level, at_input, path, record
from tests.material.take import long_plan, write
from tests.need import need_package


def level_db(samples: np.ndarray) -> float:
    return 20 * np.log10(float(np.abs(samples).max()))


def test_a_dynamic_microphone_in_94_db_gives_what_its_sheet_says():
    # 1.5 mV/Pa is -56.5 dBV; a microphone's level in dBu is 2.218 above dBV; +24 dBu is full scale (SMPTE RP 155).
    assert acoustic_level(94.0, DYNAMIC_DBV) == pytest.approx(-56.5 + 2.218 - 24, abs=1e-9)


def test_bleed_arrives_2_914_ms_later_for_each_metre():
    microphone = Line(name="far", order=1, source="nobody", kind="other", at=(0.0, 10.5))
    _, delay = path(microphone, SOURCES["kick"])  # the kick stands at (0, 0.5)
    assert delay * 1000 == pytest.approx(10 * 2.914, abs=0.01)
    impulse = np.zeros(4800, np.float32)
    impulse[0] = 1
    line = Line(name="far", order=1, source="snare", kind="snare", at=(0.0, 10.5), reject=0.0)
    assert int(np.argmax(np.abs(at_input(line, {"kick": impulse}, 4800, 48000)))) == round(10 / 343.2 * 48000)


def test_twice_the_distance_is_6_db_less():
    near = Line(name="near", order=1, source="nobody", kind="other", at=(0.0, 2.5), reject=0.0)
    far = Line(name="far", order=1, source="nobody", kind="other", at=(0.0, 4.5), reject=0.0)
    assert path(near, SOURCES["kick"])[0] - path(far, SOURCES["kick"])[0] == pytest.approx(6.0206, abs=1e-4)


def test_peaks_lie_between_12_and_6_db_below_full_scale(full_band):
    for one, samples in zip(full_band.inputs, full_band.tracks, strict=True):
        if one.source != "nobody":
            assert -12 <= level_db(samples) <= -6, one.name


def test_every_seed_and_kit_gives_healthy_peaks():
    for seed, kit in ((3, "pearl"), (4, "pacific"), (5, "room")):
        recording = record(20, seed=seed, seconds=15, kit=kit, extras=False)
        assert recording.frames == 15 * 48000
        for one, samples in zip(recording.inputs, recording.tracks, strict=True):
            assert -12.5 <= level_db(samples) <= -6, one.name


def test_the_same_arguments_give_the_same_samples():
    once = record(10, seed=5, seconds=6)
    again = record(10, seed=5, seconds=6)
    other = record(10, seed=6, seconds=6)
    assert np.array_equal(once.tracks, again.tracks)
    assert not np.array_equal(once.tracks, other.tracks)


def test_digital_silence_between_songs_only_on_digital_inputs(full_band):
    (_, first_stop), (second_start, _) = full_band.songs[:2]
    pause = slice(round((first_stop + 1.0) * 48000), round(second_start * 48000))
    for one, samples in zip(full_band.inputs, full_band.tracks, strict=True):
        assert np.all(samples[pause] == 0) == (one.input == "digital"), one.name


def test_the_line_check_lets_one_source_after_another_sound():
    recording = record(6, seed=1, seconds=15, line_check=True, extras=False)
    assert len(recording.turns) == 5  # one snare drum, two microphones on it
    for number, start, stop in recording.turns:
        part = slice(round(start * 48000), round(stop * 48000))
        power = np.mean(recording.tracks[:, part].astype(float) ** 2, axis=1)
        songs = np.mean(recording.tracks[:, recording.cuts[0] :].astype(float) ** 2, axis=1)
        above = 10 * np.log10(power / songs)
        assert above[number - 1] == max(above), number


def test_a_growing_band_keeps_pairs_whole():
    for count in (8, 10, 16, 24, 31, 32, 33, 34, 48, 56):
        chosen = lines(count)
        names = {line.name for line in chosen}
        assert len(names) == count
        assert all(line.partner in names for line in chosen if line.partner and line.pairing != "one-source")
    with pytest.raises(ValueError, match="the band has 56 lines, not 57"):
        lines(57)


def test_timecode_is_what_smpte_st_12_1_says():
    bits = frame_bits(((1 * 60 + 23) * 60 + 45) * 25 + 12, 25)
    assert tuple(bits[64:]) == SYNC == (0, 0, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 0, 1)
    assert (bits[0:4], bits[8:10]) == ([0, 1, 0, 0], [1, 0])  # 12 frames: units 2, tens 1, least bit first
    assert (bits[16:20], bits[24:27]) == ([1, 0, 1, 0], [0, 0, 1])  # 45 seconds
    assert (bits[32:36], bits[40:43]) == ([1, 1, 0, 0], [0, 1, 0])  # 23 minutes
    assert (bits[48:52], bits[56:58]) == ([1, 0, 0, 0], [0, 0])  # 1 hour
    assert all(sum(frame_bits(number, 25)) % 2 == 0 for number in range(2000))


@pytest.mark.parametrize(("fps", "spacings"), [(24, {25, 12, 13}), (25, {24, 12}), (30, {20, 10})])
def test_timecode_edges_stand_as_far_apart_as_published(fps, spacings):
    samples = ltc(48000, 0, 48000, fps=fps)
    edges = np.flatnonzero(np.diff(np.signbit(samples)))
    assert set(np.diff(edges).tolist()) <= spacings


def test_timecode_is_the_same_in_any_stretch():
    whole = ltc(48000, 0, 96000)
    parts = [ltc(48000, start, stop - start) for start, stop in ((0, 777), (777, 50001), (50001, 96000))]
    assert np.array_equal(np.concatenate(parts), whole)


def test_midi_bytes():
    # The examples of the MIDI file format's own table of variable-length quantities.
    assert [variable_length(n).hex() for n in (0, 0x40, 0x7F, 0x80, 0x2000, 0x3FFF, 0x1FFFFF, 0x0FFFFFFF)] == [
        "00", "40", "7f", "8100", "c000", "ff7f", "ffff7f", "ffffff7f",
    ]  # fmt: skip
    assert midi_file(33, ((0.0, 0.1, 40, 100),)).hex() == (
        "4d546864000000060000000101f4" + "4d54726b0000000f" + "00c021" + "00902864" + "64802800" + "00ff2f00"
    )


def test_a_planted_clip_stops_at_the_converters_ends():
    tone = np.sin(np.arange(48000) * 0.05).astype(np.float32) * 0.3
    for bits in (16, 24):
        hot = faults.clip(tone, 3.0, bits=bits)
        assert hot.max() == np.float32(1 - 2.0 ** (1 - bits))
        assert hot.min() == -1.0
        assert np.count_nonzero(hot == hot.max()) > 1000
    assert faults.clip(tone, 3.0, symmetric=True).min() == -np.float32(1 - 2.0**-23)


def test_planted_faults_change_what_they_say():
    recording = record(4, seed=1, seconds=6, bleed=False)
    clean = recording.copy()
    faults.plant_swap(recording, 1, 3)
    assert np.array_equal(recording.track(1), clean.track(3))
    assert np.array_equal(recording.track(3), clean.track(1))
    faults.plant_silence_from(recording, 2, 2.0)
    assert np.all(recording.track(2)[96000:] == 0)
    assert np.array_equal(recording.track(2)[:96000], clean.track(2)[:96000])
    was = recording.inputs[3].gain
    faults.plant_gain_change(recording, 4, 3.0, -6.0)
    assert recording.inputs[3].gain == was - 6
    assert np.allclose(recording.track(4)[144000:], clean.track(4)[144000:] * 10 ** (-6 / 20))
    faults.plant_dead_microphone(recording, 1)
    assert 20 * np.log10(np.sqrt(np.mean(recording.track(1).astype(float) ** 2))) == pytest.approx(-96, abs=0.1)
    faults.plant_clip(recording, 2, 4.0)
    assert recording.track(2).max() == np.float32(1 - 2.0**-23) or recording.track(2).min() == -1
    assert len(recording.planted) == 5


def test_feeds_join_what_lies_in_a_row():
    recording = record(24, seed=1, seconds=3)
    assert feeds(recording.inputs) == [("riser", 1, 1, 20), ("rack", 1, 21, 3), ("riser", 21, 24, 1)]


@pytest.fixture(scope="module")
def six() -> Recording:
    """Six inputs, a stereo pair among them; 3 slots, so that a long take can be made of them."""
    return record(24, seed=2, seconds=45).part([9, 10, 12, 13, 21, 24])


def read_all(paths: list) -> list[np.ndarray]:
    import soundfile

    return [soundfile.read(path, dtype="int32", always_2d=True)[0] for path in paths]


@pytest.mark.parametrize("encoding", ["s16", "s24"])
def test_every_form_holds_the_same_samples(tmp_path, six, encoding):
    need_package("soundfile")
    cuts = (1.00001, 20.5)
    mono = np.concatenate(read_all(write(tmp_path / "mono", six, "mono", encoding)), axis=1)
    assert mono.shape == (six.frames, 6)
    if encoding == "s16":
        # Dither follows the blocks; only its size is told.
        assert np.abs(mono / 2.0**31 - six.tracks.T).max() <= 1.5 * 2.0**-15
        return
    assert np.array_equal(mono, np.rint(six.tracks.T.astype(float) * 2**23).astype(np.int32) << 8)
    across = ("polyphonic", "pairs", "rf64", "rf64-mono", "flac", "w64")
    for form in across:
        files = read_all(write(tmp_path / form, six, form, encoding, metadata=True))
        assert np.array_equal(np.concatenate(files, axis=1), mono), form
    poly = read_all(write(tmp_path / "ps", six, "polyphonic-segments", encoding, cuts_s=cuts))
    assert [len(part) for part in poly] == [48000, 20 * 48000 + 24000 - 48000, six.frames - 20 * 48000 - 24000]
    assert np.array_equal(np.concatenate(poly), mono)
    parts = read_all(write(tmp_path / "segments", six, "segments", encoding, cuts_s=cuts))
    rows = [np.concatenate(parts[3 * row : 3 * row + 3]) for row in range(6)]
    assert np.array_equal(np.concatenate(rows, axis=1), mono)


def test_a_long_take_has_no_seams(tmp_path):
    recording = record(20, seed=1, seconds=45)
    plan = long_plan(recording, 100)
    assert sum(stop - start for start, stop in plan) == 100 * 48000
    slots = [start for start, _ in plan]
    assert all(one != other for one, other in pairwise(slots))
    samples = read_all(write(tmp_path, recording, plan=plan))[0][:, 0] / 2.0**31
    position = 0
    for start, stop in plan[:-1]:
        position += stop - start
        # A seam in the pause is no louder than the noise around it.
        around = np.abs(np.diff(samples[position - 2400 : position + 2400]))
        assert around[2399] <= around.max()
        assert around.max() < 1e-4


def test_a_file_beyond_riff_is_refused():
    from tests.material.take import wav_head

    wav_head(32, 48000, "s24", 44_700_000)  # 15 min 31 s
    with pytest.raises(ValueError, match="do not fit into a RIFF file"):
        wav_head(32, 48000, "s24", 44_760_000)  # 15 min 32.5 s: over the 932.07 s of 4 GiB
