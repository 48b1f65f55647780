"""Two recorders' recordings of one pass: the truth of made takes, found again."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from replay.cli import run
from replay.compare.same_pass import as_json, as_text
from replay.compare.same_pass.answer import answer, open_side
from replay.compare.same_pass.model import Answer, Loss, Piece, Slip
from replay.errors import CallError
from tests.compare.passes import RATE, sound, write

SECONDS = 24.0
PASS = sound(SECONDS, 4)
FRAMES = len(PASS)


def quietly(share: float, doing: str) -> None:
    """No progress."""


def compared(folder: Path, a: np.ndarray, b: np.ndarray, **of_b: int) -> Answer:
    one, other = write(folder / "one", a), write(folder / "two", b, **of_b)
    return answer(open_side("A", str(one)), open_side("B", str(other)), quietly)


def relations(found: Answer) -> list[str]:
    return [pair.relation.kind for pair in found.pairs]


@pytest.fixture
def b() -> np.ndarray:
    """A copy to be spoiled."""
    return PASS.copy()


class TestCopies:
    def test_the_same(self, tmp_path: Path) -> None:
        found = compared(tmp_path, PASS, PASS)
        assert (found.same, relations(found)) == (True, ["identical"] * 4)
        assert [(pair.compared, pair.differing) for pair in found.pairs] == [(FRAMES, 0)] * 4
        assert found.alignment.pieces == (Piece(start=0, stop=FRAMES, lag=0),)

    @pytest.mark.parametrize("offset", [1, 7001, 12 * RATE + 13])
    def test_one_begins_later(self, tmp_path: Path, offset: int) -> None:
        found = compared(tmp_path, PASS, PASS[offset:])
        assert found.alignment.pieces == (Piece(start=offset, stop=FRAMES, lag=-offset),)
        assert [pair.same for pair in found.pairs] == [True] * 4
        head = [Loss(side="B", kind="head", start=0, frames=offset, tracks=())] if offset > RATE else []
        assert list(found.losses) == head

    def test_the_other_begins_later_and_stops_earlier(self, tmp_path: Path) -> None:
        found = compared(tmp_path, PASS[2 * RATE : -3 * RATE], PASS)
        length = FRAMES - 5 * RATE
        assert found.alignment.pieces == (Piece(start=0, stop=length, lag=2 * RATE),)
        assert found.losses == (
            Loss(side="A", kind="head", start=-2 * RATE, frames=2 * RATE, tracks=()),
            Loss(side="A", kind="tail", start=length, frames=3 * RATE, tracks=()),
        )
        assert (found.is_whole("A"), found.is_whole("B")) == (False, True)

    def test_tracks_in_another_order(self, tmp_path: Path) -> None:
        found = compared(tmp_path, PASS, PASS[:, [2, 0, 1, 3]])
        assert [(pair.a.number, pair.b.number) for pair in found.pairs] == [(1, 2), (2, 3), (3, 1), (4, 4)]
        assert found.same

    def test_tracks_that_one_has_not_got(self, tmp_path: Path) -> None:
        found = compared(tmp_path, PASS, PASS[:, 1:3])
        assert [(pair.a.number, pair.b.number) for pair in found.pairs] == [(2, 1), (3, 2)]
        assert [track.number for track in found.only_a] == [1, 4]
        assert found.losses == (Loss(side="B", kind="tracks", start=None, frames=None, tracks=(1, 4)),)

    def test_equal_tracks_keep_their_numbers(self, tmp_path: Path, b: np.ndarray) -> None:
        b[:, 1] = b[:, 0]
        assert [(pair.a.number, pair.b.number) for pair in compared(tmp_path, b, b).pairs] == [
            (n, n) for n in range(1, 5)
        ]

    def test_a_silent_track(self, tmp_path: Path, b: np.ndarray) -> None:
        b[:, 2] = 0
        found = compared(tmp_path, b, b[100:])
        assert (relations(found), found.same) == (["identical", "identical", "silent", "identical"], True)

    def test_one_polyphonic_file(self, tmp_path: Path) -> None:
        import soundfile

        one = write(tmp_path / "one", PASS)
        (tmp_path / "two").mkdir()
        soundfile.write(tmp_path / "two" / "all.wav", (PASS[500:] << 8).astype(np.int32), RATE, subtype="PCM_24")
        found = answer(open_side("A", str(one)), open_side("B", str(tmp_path / "two" / "all.wav")), quietly)
        assert (found.same, found.alignment.pieces[0].lag) == (True, -500)

    def test_a_loop_is_placed_by_the_tracks_that_do_not_repeat(self, tmp_path: Path, b: np.ndarray) -> None:
        b[:, 0] = np.tile(b[: 4 * RATE, 0], 6)
        found = compared(tmp_path, b, b[5000:])
        assert (found.same, found.alignment.pieces[0].lag) == (True, -5000)

    def test_a_show_of_nothing_but_loops_lies_where_most_of_it_fits(self, tmp_path: Path) -> None:
        loops = np.tile(PASS[: 4 * RATE], (6, 1))
        found = compared(tmp_path, loops, loops[5000:])
        assert (found.same, found.alignment.pieces[0].lag) == (True, -5000)

    def test_a_file_that_breaks_off_reads_as_silence_there(self, tmp_path: Path) -> None:
        """Nothing is known of what cannot be read; the other recording has it."""
        import soundfile

        one, other = write(tmp_path / "one", PASS), write(tmp_path / "two", PASS)
        (other / "02 take.wav").unlink()
        path = other / "02 take.flac"
        soundfile.write(path, (PASS[:, 1] << 8).astype(np.int32), RATE, subtype="PCM_24")
        data = bytearray(path.read_bytes())
        data[len(data) // 2 : len(data) // 2 + 4000] = bytes(4000)
        path.write_bytes(data)
        found = answer(open_side("A", str(one)), open_side("B", str(other)), quietly)
        assert {(loss.side, loss.tracks) for loss in found.losses} == {("B", (2,))}
        assert 10 * RATE < min(loss.start for loss in found.losses) < 14 * RATE


class TestFormats:
    @pytest.mark.parametrize(
        ("kind", "codes"),
        [
            ("cut", PASS >> 8),
            ("rounded", np.minimum((PASS + 128) >> 8, 32767)),
            (
                "dithered",
                np.clip(
                    np.floor(PASS / 256 + np.random.default_rng(4).triangular(-1, 0, 1, PASS.shape) + 0.5),
                    -32768,
                    32767,
                ).astype(np.int64),
            ),
        ],
    )
    @pytest.mark.parametrize("coarser", ["A", "B"])
    def test_sixteen_bits(self, tmp_path: Path, kind: str, codes: np.ndarray, coarser: str) -> None:
        one, other = write(tmp_path / "24", PASS), write(tmp_path / "16", codes[901:], bits=16)
        sides = [open_side("A", str(one)), open_side("B", str(other))]
        found = answer(*(sides if coarser == "B" else sides[::-1]), quietly)
        assert {(pair.relation.kind, pair.relation.bits, pair.relation.coarser) for pair in found.pairs} == {
            (kind, 16, coarser)
        }
        assert found.same

    def test_sixteen_bits_in_a_larger_file_are_sixteen_bits(self, tmp_path: Path) -> None:
        found = compared(tmp_path, PASS, PASS >> 8 << 8)
        assert {(pair.relation.kind, pair.relation.coarser) for pair in found.pairs} == {("cut", "B")}

    def test_a_bit_that_is_wrong_in_a_copy_of_fewer_bits(self, tmp_path: Path) -> None:
        codes = PASS >> 8
        codes[7 * RATE, 1] += 1
        found = compared(tmp_path, PASS, codes, bits=16)
        (parting,) = found.pairs[1].partings
        assert (parting.start, parting.stop, parting.kind, found.same) == (7 * RATE, 7 * RATE + 1, "differs", False)

    @pytest.mark.parametrize(("factor", "gain_db"), [(0.5, -6.0206), (-1.0, 0.0), (-0.25, -12.0412)])
    def test_a_gain_or_polarity(self, tmp_path: Path, factor: float, gain_db: float) -> None:
        found = compared(tmp_path, PASS, np.round(PASS * factor).astype(np.int64))
        assert relations(found) == ["gain"] * 4
        tracks = as_json.document(found)["tracks"]
        assert [track["gain_db"] for track in tracks] == [pytest.approx(gain_db, abs=1e-3)] * 4
        assert {track["inverted"] for track in tracks} == {factor < 0}
        assert found.same


def silence(b: np.ndarray) -> None:
    b[5 * RATE : 5 * RATE + 960] = 0


def held(b: np.ndarray) -> None:
    b[5 * RATE : 5 * RATE + 960, 1] = b[5 * RATE - 1, 1]


class TestPartings:
    @pytest.mark.parametrize(
        ("spoil", "kind", "tracks"), [(silence, "silent", (1, 2, 3, 4)), (held, "held", (2,))], ids=["silence", "held"]
    )
    @pytest.mark.parametrize("side", ["A", "B"])
    def test_a_gap(
        self, tmp_path: Path, b: np.ndarray, spoil: Callable[[np.ndarray], None], kind: str, tracks: tuple, side: str
    ) -> None:
        spoil(b)
        found = compared(tmp_path, *((PASS, b) if side == "B" else (b, PASS)))
        (loss,) = found.losses
        assert (loss.side, loss.kind, loss.tracks) == (side, kind, tracks)
        # Where the sound itself happens to have the gap's value, nothing differs.
        assert 5 * RATE <= loss.start <= 5 * RATE + 5
        assert abs(loss.frames - 960) <= 10
        assert {pair.differing > 0 for pair in found.pairs if pair.a.number in tracks} == {True}

    def test_one_sample(self, tmp_path: Path, b: np.ndarray) -> None:
        b[9 * RATE + 17, 3] ^= 1
        found = compared(tmp_path, PASS, b)
        assert [pair.differing for pair in found.pairs] == [0, 0, 0, 1]
        (parting,) = found.pairs[3].partings
        assert (parting.start, parting.stop, parting.kind, parting.side) == (
            9 * RATE + 17,
            9 * RATE + 18,
            "differs",
            "",
        )
        assert (found.losses, found.same) == ((), False)

    def test_a_parting_over_a_seam_of_blocks_is_one(self, tmp_path: Path, b: np.ndarray) -> None:
        b[10 * RATE - 700 : 10 * RATE + 700, 0] = 0
        (parting,) = compared(tmp_path, PASS, b).pairs[0].partings
        assert (parting.kind, parting.side, abs(parting.stop - parting.start - 1400) <= 10) == ("silent", "B", True)

    def test_a_track_that_ends_before_its_take(self, tmp_path: Path) -> None:
        import soundfile

        one, other = write(tmp_path / "one", PASS), write(tmp_path / "two", PASS)
        last = other / "03 take.wav"
        soundfile.write(last, (PASS[: 15 * RATE, 2] << 8).astype(np.int32), RATE, subtype="PCM_24")
        found = answer(open_side("A", str(one)), open_side("B", str(other)), quietly)
        (loss,) = found.losses
        assert (loss.side, loss.kind, loss.tracks, loss.start) == ("B", "ends", (3,), pytest.approx(15 * RATE, abs=5))

    def test_more_partings_than_are_kept_are_counted(self, tmp_path: Path, b: np.ndarray, monkeypatch) -> None:
        monkeypatch.setattr("replay.compare.same_pass.compare.MOST_KEPT", 3)
        b[RATE : 11 * RATE : RATE, 0] += 1
        pair = compared(tmp_path, PASS, b).pairs[0]
        assert (len(pair.partings), pair.parting_count, pair.differing) == (3, 10, 10)


class TestClocks:
    @pytest.mark.parametrize("lost", [1, 64, 4800, 3 * RATE])
    @pytest.mark.parametrize("side", ["A", "B"])
    def test_lost_frames(self, tmp_path: Path, lost: int, side: str) -> None:
        at = 11 * RATE + 321
        short = np.concatenate([PASS[:at], PASS[at + lost :]])
        found = compared(tmp_path, *((PASS, short) if side == "B" else (short, PASS)))
        (slip,) = found.alignment.slips
        # The frame before the loss may be equal to the last one lost.
        assert slip == Slip(frame=slip.frame, side=side, frames=lost)
        assert abs(slip.frame - at) <= 3
        assert [pair.differing for pair in found.pairs] == [0] * 4
        assert (found.is_whole(side), found.is_whole("B" if side == "A" else "A")) == (False, True)

    @pytest.mark.parametrize(
        "losses",
        [
            [(11 * RATE, 100), (11 * RATE + 3000, 50)],
            [(4000, 64)],
            [(FRAMES - 3000, 64)],
            [(k * RATE, 1) for k in range(3, 22, 5)],
        ],
        ids=["two close together", "near the beginning", "near the end", "one frame again and again"],
    )
    def test_lost_frames_where_they_are_hard_to_see(self, tmp_path: Path, losses: list[tuple[int, int]]) -> None:
        kept = np.ones(FRAMES, bool)
        for at, count in losses:
            kept[at : at + count] = False
        found = compared(tmp_path, PASS, PASS[kept])
        assert [slip.frames for slip in found.alignment.slips] == [count for _, count in losses]
        assert all(abs(slip.frame - at) <= 3 for slip, (at, _) in zip(found.alignment.slips, losses, strict=True))
        assert [pair.differing for pair in found.pairs] == [0] * 4

    def test_a_recorder_that_was_stopped_for_longer_than_the_offset_is_followed(
        self, tmp_path: Path, monkeypatch
    ) -> None:
        monkeypatch.setattr("replay.compare.same_pass.align.REACHES_S", (0.05, 0.5))
        long = sound(60.0, 2, seed=5)
        found = compared(tmp_path, long, np.concatenate([long[: 20 * RATE], long[24 * RATE :]]))
        (slip,) = found.alignment.slips
        assert (slip.side, slip.frames, abs(slip.frame - 20 * RATE) <= 3) == ("B", 4 * RATE, True)
        assert [pair.differing for pair in found.pairs] == [0, 0]

    def test_a_loss_in_silence_may_be_anywhere_in_it(self, tmp_path: Path, b: np.ndarray) -> None:
        b[8 * RATE : 14 * RATE] = 0
        found = compared(tmp_path, b, np.concatenate([b[: 10 * RATE], b[10 * RATE + 480 :]]))
        (slip,) = found.alignment.slips
        assert slip.frames == 480
        assert (slip.frame - slip.unsure, slip.frame) == (
            pytest.approx(8 * RATE, abs=3),
            pytest.approx(14 * RATE - 480, abs=3),
        )
        assert "480 frames" not in as_text.loss_words(found.losses[0], found)
        assert as_text.loss_words(found.losses[0], found) == (
            "0:13.990  10 ms (or up to 6.0 s before): lost without a gap: all that follows is early"
        )

    def test_a_split_through_two_converters(self, tmp_path: Path) -> None:
        noise = np.random.default_rng(9).standard_normal(PASS.shape) * 40
        found = compared(tmp_path, PASS, np.round(np.roll(PASS, 50, axis=0) * 0.5 + noise).astype(np.int64))
        assert relations(found) == ["similar"] * 4
        assert found.alignment.pieces[0].lag == 50
        assert [round(20 * np.log10(pair.relation.gain), 1) for pair in found.pairs] == [-6.0] * 4
        assert all(pair.relation.residual_db < -30 for pair in found.pairs)
        assert (found.same, found.losses) == (False, ())

    @pytest.mark.parametrize("ppm", [-40.0, 25.0])
    def test_two_clocks(self, tmp_path: Path, ppm: float) -> None:
        import soxr

        long = sound(60.0, 2, seed=7)
        other = soxr.resample(long / 2**23, 1.0, 1.0 + ppm * 1e-6, quality="VHQ")[4000:]
        found = compared(tmp_path, long, np.round(other * 2**23).astype(np.int64))
        assert found.alignment.drift_ppm == pytest.approx(ppm, abs=1.0)
        assert found.alignment.pieces[0].lag == pytest.approx(-4000, abs=2)
        assert relations(found) == ["similar"] * 2
        faster = "faster" if ppm > 0 else "slower"
        assert f"millionths {faster}, " in as_text.offset_words(found)


class TestNoPass:
    def test_other_sound(self, tmp_path: Path) -> None:
        with pytest.raises(CallError, match="nothing in B sounds like A"):
            compared(tmp_path, PASS, sound(SECONDS, 4, seed=2))

    def test_silence(self, tmp_path: Path) -> None:
        with pytest.raises(CallError, match="too little is heard"):
            compared(tmp_path, PASS * 0, PASS * 0)

    def test_other_rates(self, tmp_path: Path) -> None:
        with pytest.raises(CallError, match="A is at 48000 Hz and B at 44100 Hz: their samples cannot be compared"):
            compared(tmp_path, PASS, PASS, rate=44100)


class TestTheCommand:
    def test_text(self, tmp_path: Path, b: np.ndarray, capsys) -> None:
        silence(b)
        write(tmp_path / "pass" / "one", PASS)
        write(tmp_path / "pass" / "two", b[480:, [1, 0, 2]])
        call = ["compare", str(tmp_path / "pass" / "one"), str(tmp_path / "pass" / "two"), "--same-pass"]
        assert run(call) == 1
        said = capsys.readouterr().out
        assert said == (
            "They part on 3 of 3 tracks over 0:23.990; 0.083 % of the samples differ. A is\n"
            "whole, B is not.\n\n"
            "A  one: 4 tracks, 48 kHz, 24 bit, 0:24.000 long\n"
            "B  two: 3 tracks, 48 kHz, 24 bit, 0:23.990 long\n"
            "B begins 0:00.010 (480 frames) after A. Times below are on the clock of A.\n\n"
            "B lacks\n"
            "  track 4 of A\n"
            "  0:05.000 20 ms on all tracks: digital silence\n\n"
            "Tracks\n"
            "  identical samples, but for what stands above: tracks 1-3\n"
            "  in another order (track of A is track of B): 1 is 2, 2 is 1\n"
            "  only in A: track 4\n"
        )
        assert run([*call, "--quiet"]) == 1
        assert capsys.readouterr().out.count("\n") == 1

    def test_json(self, tmp_path: Path, b: np.ndarray, capsys) -> None:
        silence(b)
        one, other = write(tmp_path / "one", PASS), write(tmp_path / "two", b)
        assert run(["compare", str(one), str(other), "--same-pass", "--json", "-"]) == 1
        found = json.loads(capsys.readouterr().out)
        assert (found["format"], found["version"], found["same"], found["whole"]) == (
            "replay-same-pass",
            "1.0",
            False,
            ["A"],
        )
        assert found["compared"] == {"from_frame": 0, "to_frame": FRAMES}
        assert found["pieces"] == [{"from_frame": 0, "to_frame": FRAMES, "lag_frames": 0}]
        assert [track["compared_frames"] for track in found["tracks"]] == [FRAMES] * 4
        assert [loss["kind"] for loss in found["losses"]] == ["silent"]

    def test_identical_is_status_0(self, tmp_path: Path, capsys) -> None:
        one, other = write(tmp_path / "one", PASS), write(tmp_path / "two", PASS)
        assert run(["compare", str(one), str(other), "--same-pass", "--quiet"]) == 0
        assert capsys.readouterr().out == (
            "Identical to the sample: 4 tracks over 0:24.000. Neither lacks anything that the other has.\n"
        )

    def test_nothing_is_written_into_a_take(self, tmp_path: Path, capsys) -> None:
        one, other = write(tmp_path / "one", PASS[:RATE]), write(tmp_path / "two", PASS[:RATE])
        target = one / "x.json"
        assert run(["compare", str(one), str(other), "--same-pass", "--json", str(target)]) == 2
        assert "lies inside a take, and nothing is ever written into a take" in capsys.readouterr().err
        assert not target.exists()

    def test_both_missing(self, tmp_path: Path, capsys) -> None:
        assert run(["compare", str(tmp_path / "x"), str(tmp_path / "y"), "--same-pass"]) == 2
        hint = "(give a folder of tracks, a show, or one file)"
        assert capsys.readouterr().err.splitlines() == [
            f"replay: A: {tmp_path / 'x'} does not exist {hint}",
            f"replay: B: {tmp_path / 'y'} does not exist {hint}",
        ]
