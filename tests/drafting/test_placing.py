"""Which track a channel is placed on: the list's word, the usual ways, names one by one, and names that say nothing."""

from __future__ import annotations

from pathlib import Path

from tests.drafting.making import drafted, numbered, tracks
from tests.take.shows import lay, recorded

TWO_BOXES = "Ch,Source,Socket\n1,Kick,A 1\n2,Snare,A 2\n3,Bass,A 3\n11,Fiddle,B 1\n12,Flute,B 2\n13,Caller,B 3\n"


def slots(found) -> dict[int, int | None]:
    return {one.number: one.track for one in found.made.channels}


def test_names_say_that_boxes_were_recorded_whole(tmp_path: Path) -> None:
    names = {1: "Kick", 2: "Snr", 3: "Bass DI", 9: "Fid", 10: "Flt", 11: "Caller"}
    take = tracks(tmp_path / "one", *(f"{n:02d} {names.get(n, 'Track')}" for n in range(1, 17)))
    found = drafted(take, TWO_BOXES)
    assert slots(found) == {1: 1, 2: 2, 3: 3, 11: 9, 12: 10, 13: 11}
    assert "box after box, each recorded whole: 6 of 6 track names that say something fit" in found.guessed()
    assert [(feed.box, feed.sources, feed.slots) for feed in found.patch.feeds] == [
        ("A", (1, 2, 3), (1, 2, 3)), ("B", (1, 2, 3), (9, 10, 11)),
    ]  # fmt: skip


def test_names_say_that_tracks_follow_the_list(tmp_path: Path) -> None:
    take = tracks(tmp_path / "one", "01 Kick", "02 Snare", "03 Bass", "04 Fiddle", "05 Flute", "06 Caller")
    found = drafted(take, TWO_BOXES)
    assert slots(found) == {1: 1, 2: 2, 3: 3, 11: 4, 12: 5, 13: 6}


def test_names_say_that_tracks_have_the_channels_numbers(tmp_path: Path) -> None:
    names = {1: "Kick", 2: "Snare", 3: "Bass", 11: "Fiddle", 12: "Flute", 13: "Caller"}
    take = tracks(tmp_path / "one", *(f"{number:02d} {name}" for number, name in names.items()))
    assert slots(drafted(take, TWO_BOXES)) == {1: 1, 2: 2, 3: 3, 11: 11, 12: 12, 13: 13}


def test_names_in_no_usual_order_are_followed_one_by_one(tmp_path: Path) -> None:
    take = tracks(tmp_path / "one", "01 Caller", "02 Kick", "03 Flute", "04 Bass", "05 Snare", "06 Fiddle")
    found = drafted(take, TWO_BOXES)
    assert slots(found) == {1: 2, 2: 5, 3: 4, 11: 6, 12: 3, 13: 1}
    assert found.guessed()[0] == "tracks placed by their names, one by one: 6 of 6 track names that say something fit"


def test_two_names_exchanged_are_for_the_check_to_tell(tmp_path: Path) -> None:
    names = ["Kick", "Snare", "Hat", "Bass", "Guitar", "Keys", "Fiddle", "Flute", "Trumpet", "Vox"]
    rows = "".join(f"{n},{name},A {n}\n" for n, name in enumerate(names, 1))
    names[0], names[3] = names[3], names[0]
    take = tracks(tmp_path / "one", *(f"{n:02d} {name}" for n, name in enumerate(names, 1)))
    found = drafted(take, "Ch,Source,Socket\n" + rows)
    assert slots(found) == {n: n for n in range(1, 11)}
    assert found.guessed()[0] == "each channel on the track of its number: 8 of 10 track names that say something fit"


def test_two_names_exchanged_in_a_short_list_are_no_order_of_their_own(tmp_path: Path) -> None:
    # "Main L" and "Main R" tell no kind and no word; two of five others are exchanged.
    rows = "1,Main L,A 1\n2,Main R,A 2\n3,Organ,A 3\n4,Choir S,A 4\n5,Choir B,A 5\n6,Fiddle,A 6\n7,Caller,A 7\n"
    names = ("01 Main L", "02 Main R", "03 Organ", "04 Choir S", "05 Caller", "06 Fiddle", "07 Choir B")
    found = drafted(tracks(tmp_path / "one", *names), "Ch,Source,Socket\n" + rows)
    assert slots(found) == {n: n for n in range(1, 8)}
    assert found.guessed()[0] == "each channel on the track of its number: 3 of 5 track names that say something fit"


def test_names_that_say_nothing_stay_in_their_place_beside_others_followed_one_by_one(tmp_path: Path) -> None:
    rows = "1,Main L,A 1\n2,Main R,A 2\n3,Organ,A 3\n4,Choir S,A 4\n5,Choir B,A 5\n6,Fiddle,A 6\n7,Caller,A 7\n"
    names = ("01 Main L", "02 Main R", "03 Choir S", "04 Choir B", "05 Caller", "06 Organ", "07 Fiddle")
    found = drafted(tracks(tmp_path / "one", *names), "Ch,Source,Socket\n" + rows)
    assert slots(found) == {1: 1, 2: 2, 3: 6, 4: 3, 5: 4, 6: 7, 7: 5}
    assert not any("on no line of the list" in guess for guess in found.guessed())


def test_a_file_of_another_rate_is_still_its_channels_track(tmp_path: Path) -> None:
    take = tracks(tmp_path / "one", "01 Kick", "02 Snare", "04 Fiddle")
    lay(take, {"03 Bass.wav": recorded(0.1, rate=96000)})
    found = drafted(take, "Ch,Source,Socket\n1,Kick,A 1\n2,Snare,A 2\n3,Bass,A 3\n4,Fiddle,A 4\n")
    assert slots(found) == {1: 1, 2: 2, 3: 3, 4: 4}
    assert not any("not recorded" in guess for guess in found.guessed())


def test_names_of_another_show_bear_nothing_out(tmp_path: Path) -> None:
    take = tracks(tmp_path / "one", "01 Sitar", "02 Tabla", "03 Oboe", "04 Choir", "05 Cello", "06 Organ")
    found = drafted(take, TWO_BOXES)
    assert "the track names say nothing, so this is by numbers alone" in found.guessed()[0]


def test_names_that_say_nothing(tmp_path: Path) -> None:
    found = drafted(numbered(tmp_path / "one", 6), TWO_BOXES)
    assert slots(found) == {1: 1, 2: 2, 3: 3, 11: 4, 12: 5, 13: 6}
    assert found.guessed()[0] == (
        "box after box, each with all sockets that are in use: the track names say nothing, so this is by numbers alone"
    )


def test_channels_without_a_track_and_tracks_without_a_channel(tmp_path: Path) -> None:
    take = tracks(tmp_path / "one", "01 Kick", "02 Snare", "03 Bass", "04 Audience L", "05 Audience R")
    found = drafted(take, "Ch,Source,Socket\n1,Kick,A 1\n2,Snare,A 2\n3,Bass,A 3\n9,Talkback,A 9\n")
    assert slots(found) == {1: 1, 2: 2, 3: 3, 9: None}
    assert "channel 9: no track in this take: not recorded" in found.guessed()
    assert "tracks 4-5: on no line of the list" in found.guessed()
    assert found.patch.links[0].slots == 5


def test_a_take_that_begins_at_a_later_track(tmp_path: Path) -> None:
    take = tracks(tmp_path / "one", "33 Kick", "34 Snare", "35 Bass")
    found = drafted(take, "Ch,Source,Socket\n1,Kick,A 1\n2,Snare,A 2\n3,Bass,A 3\n")
    assert slots(found) == {1: 33, 2: 34, 3: 35}


def test_tracks_of_the_list_that_the_take_does_not_have(tmp_path: Path) -> None:
    found = drafted(
        numbered(tmp_path / "one", 3), "Ch,Source,Socket,Track\n1,Kick,A 1,2\n2,Snare,A 2,3\n3,Bass,A 3,9\n"
    )
    assert slots(found) == {1: 2, 2: 3, 3: 9}
    assert "channel 3: the list's track is not in this take" in found.guessed()


def test_one_file_with_all_tracks(tmp_path: Path) -> None:
    take = tracks(tmp_path / "one", "evening", channels=4)
    found = drafted(take, "Ch,Source,Socket\n1,Kick,A 1\n2,Snare,A 2\n3,Bass,A 3\n4,Vox,A 4\n")
    assert slots(found) == {1: 1, 2: 2, 3: 3, 4: 4}


def test_a_kind_that_only_the_tracks_name_tells(tmp_path: Path) -> None:
    take = tracks(tmp_path / "one", "01 Kick", "02 Snare", "03 Fiddle")
    found = drafted(take, "Ch,Source,Socket\n1,Kick,A 1\n2,Snare,A 2\n3,Ottilie,A 3\n")
    assert found.channel(3).kind == "strings"
    assert "channel 3: kind strings by the track's name" in found.guessed()


def test_a_track_that_bears_another_channels_name_tells_no_kind(tmp_path: Path) -> None:
    take = tracks(tmp_path / "one", "01 Kick", "02 Snare", "03 Bass", "04 Ottilie", "05 Fiddle")
    rows = "1,Kick,A 1\n2,Snare,A 2\n3,Bass,A 3\n4,Fiddle,A 4\n5,Ottilie,A 5\n"
    found = drafted(take, "Ch,Source,Socket\n" + rows)
    assert slots(found) == {n: n for n in range(1, 6)}
    assert [found.channel(n).kind for n in (4, 5)] == ["strings", "other"]


def test_two_channel_files_are_pairs_where_there_is_no_list(tmp_path: Path) -> None:
    take = tmp_path / "one"
    tracks(take, "01 Kick")
    tracks(take, "02-03 Keys", channels=2)
    found = drafted(take)
    assert [(c.number, c.pair, c.pairing) for c in found.patch.channels] == [
        (1, None, None), (2, 3, "stereo"), (3, 2, "stereo"),
    ]  # fmt: skip
    assert "channels 2-3: the two sides of one file: a stereo pair" in found.guessed()
