"""Names against names: the trade's abbreviations, twins, names that say nothing, names of another show."""

from __future__ import annotations

import numpy as np
import pytest

from replay.mapping.names import FLAT, read_name, score_names
from replay.patch.kinds import kind_from_name

LIST = (
    "Kick In", "Kick Out", "Snare Top", "Snare Bottom", "Hi-hat", "Tom 1", "Tom 2", "Floor Tom", "OH L", "OH R",
    "Bass DI", "Bass Mic", "Guitar 1", "Guitar 2", "Acoustic", "Keys L", "Keys R", "Trumpet", "Trombone", "Alto Sax",
    "Fiddle", "Lead Vox", "BV 1", "BV 2", "Talkback",
)  # fmt: skip
WRITTEN = (
    "BD in", "kik OUT", "Snr T Top", "sn btm", "HH", "rack tom 1", "tom2", "flr tom", "Ovhd Left", "OHR",
    "bs di", "Bass amp mic", "Gtr 1", "EG 2", "Ac Gtr", "KBD L", "keysR", "Tpt", "Tbn", "sax alto",
    "vln", "Ld Voc", "BVox 1", "bgv 2", "TB",
)  # fmt: skip


def channels(names=LIST):
    return [(number, name, kind_from_name(name)) for number, name in enumerate(names, start=1)]


def test_abbreviations_of_the_trade_find_their_channels() -> None:
    found = score_names([(n, (name,)) for n, name in enumerate(WRITTEN, start=1)], channels())
    best = found.scores.argmax(axis=1)
    wrong = [(WRITTEN[i], LIST[best[i]]) for i in range(len(LIST)) if best[i] != i]
    assert wrong == [] or wrong == [("vln", "Fiddle")]
    assert all(found.scores[i, i] >= 0.5 for i in range(len(LIST)) if WRITTEN[i] != "vln")


@pytest.mark.parametrize("name", ["Track 07", "Audio 12_3", "07", "CH 3", "", "Input 5", "Mono_004"])
def test_names_that_say_nothing_are_flat(name: str) -> None:
    assert not read_name(name).says_something
    found = score_names([(1, (name,)), (2, ("Kick In",))], channels())
    assert (found.scores[0] == FLAT).all()
    assert found.informative == {2}


def test_twins_are_told_apart_by_number_and_side() -> None:
    found = score_names([(1, ("Vox 2",)), (2, ("Keys R",))], channels(("Vox 1", "Vox 2", "Keys L", "Keys R")))
    assert found.score(1, 2) == 1.0
    assert found.score(1, 1) < 0.4
    assert found.score(2, 4) == 1.0
    assert found.score(2, 3) < 0.4


def test_the_name_of_the_take_is_no_name_of_a_track() -> None:
    found = score_names([(n, ("Mill Yard Kick",)) for n in (1, 2, 3)], channels())
    assert found.informative == frozenset()


def test_a_word_that_all_tracks_bear_is_the_recorders() -> None:
    """'STAGE_01' to 'STAGE_32' were called the names of another show."""
    found = score_names([(n, (f"STAGE_{n:02d}",)) for n in range(1, 33)], channels())
    assert (found.other_show, found.informative) == (False, frozenset())
    assert (found.scores == FLAT).all()
    names = [(n, (f"Friday {name}",)) for n, name in enumerate(LIST, start=1)]
    assert (score_names(names, channels()).scores.argmax(axis=1) == np.arange(len(LIST))).all()


def test_a_source_that_all_tracks_bear_still_tells_twins() -> None:
    voices = tuple(f"Choir {n}" for n in (1, 2, 3, 4))
    found = score_names([(n, (f"choir {n}",)) for n in (1, 2, 3, 4)], channels(voices))
    assert found.informative == {1, 2, 3, 4}
    assert (found.scores.argmax(axis=1) == np.arange(4)).all()


def test_names_of_another_show_are_recognised() -> None:
    others = ("Podium", "Row 1 Violin", "Horn F 2", "Oboe", "Timpani", "Celeste", "Soprano solo", "Tuba")
    found = score_names([(n, (name,)) for n, name in enumerate(others, start=1)], channels())
    assert found.other_show
    assert (found.scores == FLAT).all()


def test_a_shifted_list_is_not_another_show() -> None:
    shifted = LIST[1:] + LIST[:1]
    found = score_names([(n, (name,)) for n, name in enumerate(shifted, start=1)], channels())
    assert not found.other_show
    assert np.array_equal(found.scores.argmax(axis=1), np.roll(np.arange(len(LIST)), -1))


def test_a_name_of_one_letter_again_and_again_takes_no_time() -> None:
    """The ways to lay the first name's letters along the second's are more than anybody can try out."""
    names = [(1, ("n" * 40 + "x",)), (2, ("N" * 30 + " bass",))]
    found = score_names(names, channels(("n" * 100, "Bass DI")))
    assert found.score(1, 1) < 1.0
    assert found.score(2, 2) > found.score(1, 2)
