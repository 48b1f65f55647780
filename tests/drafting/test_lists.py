"""Input lists as people keep them, each laid out in its own way. All are invented."""

from __future__ import annotations

import datetime
from pathlib import Path

import pytest

from replay.errors import PatchError
from tests.drafting.making import Drafted, book, drafted, numbered


@pytest.fixture
def take(tmp_path: Path) -> Path:
    return numbered(tmp_path / "takes" / "one", 12)


def phantoms(found: Drafted) -> str:
    """Phantom power of all channels in order: y, n, ? or e."""
    return "".join({"yes": "y", "no": "n", "unknown": "?", "elsewhere": "e"}[c.phantom] for c in found.patch.channels)


def test_plain_with_box_and_socket_in_one_column(take: Path) -> None:
    found = drafted(
        take,
        "Ch,Source,Mic/DI,+48,Stagebox,Stand\n"
        "1,Kick,large dynamic,,A 1,short\n2,Snare,dynamic,,A 2,clip\n3,Hat,condenser,x,A3,tall\n4,Bass,DI,,B-1,\n",
    )
    assert found.plugged() == {1: "Kick @ A 1 > 1", 2: "Snare @ A 2 > 2", 3: "Hat @ A 3 > 3", 4: "Bass @ B 1 > 4"}
    assert phantoms(found) == "nnyn"
    assert [c.input for c in found.patch.channels] == ["mic", "mic", "mic", "di"]
    assert [c.kind for c in found.patch.channels] == ["kick", "snare", "hi-hat", "bass"]
    assert found.left_out() == ["columns: Stand"]


def test_titles_above_semicolons_mark_decimal_commas_and_a_total(take: Path) -> None:
    text = (
        "Mill Yard;;;;;\nInput list, version 3;;;;;\n;;;;;\nStand 12.06.;;;;;\n"
        "Ch;Source;Stage Box;Phantom;Gain;Notes\n"
        '1;Fiddle;DECK 1;yes;32,5;"clip; by the f-hole"\n2;Accordion L;DECK 2;no;-3,5;\n'
        "3;Accordion R;DECK 3;no;;\n;;;;;\n4;Caller;DECK 4;no;+10 dB;own pack\n;;;;;\nTotal;4;;;;\n"
    )
    found = drafted(take, b"\xef\xbb\xbf" + text.encode())
    assert list(found.plugged().values()) == [
        "Fiddle @ DECK 1 > 1", "Accordion L @ DECK 2 > 2", "Accordion R @ DECK 3 > 3", "Caller @ DECK 4 > 4",
    ]  # fmt: skip
    assert [c.gain for c in found.patch.channels] == [32.5, -3.5, None, 10]
    assert found.channel(1).note == "clip; by the f-hole"
    assert phantoms(found) == "ynnn"
    assert (found.channel(2).pair, found.channel(2).pairing) == (3, "stereo")
    assert found.left_out() == ["line 12: adds the list up"]
    assert "channels 2-3: a pair by their names (stereo)" in found.guessed()


@pytest.mark.parametrize(
    ("rows", "pair"),
    [
        ("1,Bass DI,DI\n2,Bass mic,moving coil\n", True),
        ("1,Bass,DI\n2,Bass amp,moving coil\n", True),
        ("1,Ac gtr DI,DI\n2,Ac gtr mic,condenser\n", True),
        ("1,Bass DI,DI\n2,Fiddle mic,clip-on\n", False),
        ("1,Ac gtr 1 DI,DI\n2,Ac gtr 2 mic,condenser\n", False),
        ("1,Bass,DI\n2,Bass,DI\n", False),
    ],
)
def test_a_di_and_a_microphone_on_one_instrument_are_a_pair_on_one_source(take: Path, rows: str, pair: bool) -> None:
    found = drafted(take, "Ch,Source,Mic\n" + rows)
    assert found.channel(1).pair == (2 if pair else None)
    assert not pair or found.channel(1).pairing == "one-source"
    told = "channels 1-2: one instrument by its DI and by a microphone (one-source)"
    assert (told in found.guessed()) is pair


def test_tabs_and_a_box_that_stands_only_once(take: Path) -> None:
    found = drafted(
        take,
        "CHANNEL\tINSTRUMENT\tBOX\tINPUT\n1\tKick\tdeck\t1\n2\tSnare\t\t2\n3\tFiddle\triser\t1\n4\tFlute\t\t2\n",
        ".tsv",
    )
    assert list(found.plugged().values()) == [
        "Kick @ deck 1 > 1", "Snare @ deck 2 > 2", "Fiddle @ riser 1 > 3", "Flute @ riser 2 > 4",
    ]  # fmt: skip
    assert "channel 2: box deck from the line above" in found.guessed()
    assert "channel 4: box riser from the line above" in found.guessed()


def test_boxes_with_dashes_and_numbers_in_their_names(take: Path) -> None:
    found = drafted(
        take,
        "Input,Name,Patch\n"
        "1,Kick,RISER-1\n2,Snare,RISER-2\n3,Bass,SB1-1\n4,Guitar,SB1-2\n5,Vox,SB2/1\n6,Keys,Local 3\n",
    )
    assert [str(c.socket) for c in found.patch.channels] == ["RISER 1", "RISER 2", "SB1 1", "SB1 2", "SB2 1", "Local 3"]


def test_stereo_lines_with_a_stroke(take: Path) -> None:
    found = drafted(
        take,
        "Ch,Source,Socket,48V\n1,Bass,A 1,\n2/3,Keys (stereo),A 2/3,\n4/5,Overheads,A 4/5,x\n6,Vox,A 6,\n",
    )
    assert list(found.plugged().values()) == [
        "Bass @ A 1 > 1", "Keys L @ A 2 > 2", "Keys R @ A 3 > 3", "Overheads L @ A 4 > 4", "Overheads R @ A 5 > 5",
        "Vox @ A 6 > 6",
    ]  # fmt: skip
    assert [c.pair for c in found.patch.channels] == [None, 3, 2, 5, 4, None]
    assert phantoms(found) == "nnnyyn"
    assert "channels 2-5: one line for two channels: taken as left and right" in found.guessed()


def test_stereo_lines_with_a_dash_and_one_socket(take: Path) -> None:
    found = drafted(take, "Ch;Signal;SB In\n1;Kick;1\n2;Snare;2\n9-10;Tracks L/R;9\n")
    assert list(found.plugged().values()) == [
        "Kick @ stage 1 > 1", "Snare @ stage 2 > 2", "Tracks L @ stage 9 > 9", "Tracks R @ stage 10 > 10",
    ]  # fmt: skip
    assert "channels 9-10: one socket stated for 2 channels: 9 to 10" in found.guessed()
    assert "channels 1-2, 9-10: the list names no box: called stage" in found.guessed()


def test_german_in_utf_16(take: Path) -> None:
    text = (
        "Kanal\tQuelle\tMikrofon\tBühnenbox\tPhantomspeisung\tBemerkung\r\n"
        "1\tGroße Trommel\tGrenzfläche\tA 1\tja\tauf Kissen\r\n"
        "2\tGeige\tClip\tA 2\tja\t\r\n3\tKontrabass\tDI\tA 3\tnein\t\r\n"
    )
    found = drafted(take, text.encode("utf-16"), ".txt")
    assert list(found.plugged().values()) == [
        "Große Trommel @ A 1 > 1", "Geige @ A 2 > 2", "Kontrabass @ A 3 > 3",
    ]  # fmt: skip
    assert phantoms(found) == "yyn"
    assert found.channel(1).note == "auf Kissen"
    assert found.channel(3).input == "di"


def test_french_in_windows_1252(take: Path) -> None:
    text = "Voie;Nom;Micro;Boîtier;Prise;48V;Remarques\r\n"
    text += "1;Accordéon;statique;Scène;1;oui;\r\n2;Voix;dynamique;Scène;2;;\r\n"
    found = drafted(take, text.encode("cp1252"))
    assert list(found.plugged().values()) == ["Accordéon @ Scène 1 > 1", "Voix @ Scène 2 > 2"]
    assert phantoms(found) == "yn"
    assert "list.csv: is not UTF-8; read as Windows-1252" in found.read()


def test_spanish(take: Path) -> None:
    found = drafted(
        take, "Canal,Fuente,Micrófono,Caja,Toma,Phantom,Ganancia\n1,Violín,clip,C,1,sí,28\n2,Voz,dinámico,C,2,no,30\n"
    )
    assert list(found.plugged().values()) == ["Violín @ C 1 > 1", "Voz @ C 2 > 2"]
    assert phantoms(found) == "yn"
    assert [c.gain for c in found.patch.channels] == [28, 30]


def test_a_sheet_with_merged_titles_and_blank_rows(take: Path) -> None:
    rows = [
        ["MILL YARD - BARN DANCE"], [], ["Input list", None, None, "page 1"], [],
        ["Ch", "Source", "Mic", "Box", "In", "48V"],
        [1, "Kick", "dyn", "deck", 1, None], [], [2, "Snare", "dyn", "deck", 2.0, None],
        [3, "Hat", "cond", "deck", 3, True],
    ]  # fmt: skip
    found = drafted(take, book(("Sheet1", rows, ["A1:F1", "A3:C3"])), ".xlsx")
    assert list(found.plugged().values()) == ["Kick @ deck 1 > 1", "Snare @ deck 2 > 2", "Hat @ deck 3 > 3"]
    assert phantoms(found) == "nny"
    assert found.read()[0] == "list.xlsx, sheet “Sheet1”: headings on line 5, 3 sources on lines 6 to 9"


def test_a_sheet_with_merged_boxes_and_a_merged_stereo_source(take: Path) -> None:
    rows = [
        ["Box", "In", "Ch", "Source", "Phantom"],
        ["DECK", 1, 1, "Bass", None], [None, 2, 2, "Keys", None], [None, 3, 3, None, None],
        ["RISER", 1, 4, "Flute", "x"], [None, 2, 5, "Fiddle", None],
    ]  # fmt: skip
    found = drafted(take, book(("Patch", rows, ["A2:A4", "A5:A6", "D3:D4", "E5:E6"])), ".xlsx")
    assert list(found.plugged().values()) == [
        "Bass @ DECK 1 > 1", "Keys L @ DECK 2 > 2", "Keys R @ DECK 3 > 3", "Flute @ RISER 1 > 4",
        "Fiddle @ RISER 2 > 5",
    ]  # fmt: skip
    assert found.channel(2).pair == 3
    assert phantoms(found) == "nnnyy"


def test_the_right_one_of_several_sheets(take: Path) -> None:
    contacts = ("Contacts", [["Name", "Role", "Input"], ["A. Nobody", "sound", "none"]], [])
    outputs = ("Outputs", [["Ch", "Name", "Box", "Socket"], *([n, f"Wedge {n}", "deck", n] for n in range(1, 9))], [])
    friday = ("Friday", [["Ch", "Source", "Box", "Socket"], [1, "Kick", "deck", 5], [2, "Snare", "deck", 6]], [])
    found = drafted(take, book(contacts, outputs, friday), ".xlsx")
    assert list(found.plugged().values()) == ["Kick @ deck 5 > 1", "Snare @ deck 6 > 2"]
    assert any("other sheets that hold a list: " in line and "Outputs" in line for line in found.read())


def test_a_sheet_asked_for_by_name(take: Path, tmp_path: Path) -> None:
    friday = ("Friday", [["Ch", "Source", "Socket"], [1, "Kick", "A 5"]], [])
    saturday = ("Saturday", [["Ch", "Source", "Socket"], [1, "Harp", "A 6"]], [])
    data = book(friday, saturday)
    assert list(drafted(take, data, ".xlsx", "saturday").plugged().values()) == ["Harp @ A 6 > 1"]
    with pytest.raises(PatchError, match=r"^list.xlsx: there is no sheet 'Sunday' \(there are: Friday, Saturday\)$"):
        drafted(take, data, ".xlsx", "Sunday")


def test_stereo_channels_that_a_spreadsheet_took_for_dates(take: Path) -> None:
    rows = [
        ["Ch", "Source", "Socket"], [8, "Bass", 8],
        [datetime.datetime(2026, 10, 9), "Keys", datetime.datetime(2026, 9, 10)],
        [11, "Vox", 11],
    ]  # fmt: skip
    found = drafted(take, book(("Inputs", rows, [])), ".xlsx")
    assert list(found.plugged().values()) == [
        "Bass @ stage 8 > 8", "Keys L @ stage 9 > 9", "Keys R @ stage 10 > 10", "Vox @ stage 11 > 11",
    ]  # fmt: skip


@pytest.mark.parametrize(
    "cell", ["9-Oct", "10-Sep", "09. Okt", "9/10", "9 & 10", "9+10", "Ch 9-10", "9,10", "09/10 st"]
)
def test_ways_to_write_two_channels(take: Path, cell: str) -> None:
    found = drafted(take, f'Ch;Source;Socket\n8;Bass;8\n"{cell}";Keys;9\n')
    assert [c.number for c in found.patch.channels] == [8, 9, 10]
    assert [c.pair for c in found.patch.channels] == [None, 10, 9]


def test_titles_that_name_boxes_and_numbers_that_begin_again(take: Path) -> None:
    found = drafted(
        take,
        "In,Instrument,Mic\nSTAGEBOX A,,\n1,Kick,dyn\n2,Snare,dyn\nSTAGEBOX B,,\n1,Fiddle,clip\n2,Caller,dyn\n",
    )
    assert list(found.plugged().values()) == [
        "Kick @ A 1 > 1", "Snare @ A 2 > 2", "Fiddle @ B 1 > 3", "Caller @ B 2 > 4",
    ]  # fmt: skip
    assert any("begin again in every box" in line for line in found.guessed())


def test_titles_that_are_groups_and_a_header_on_every_page(take: Path) -> None:
    found = drafted(
        take,
        "Ch,Source,Box,Socket\nDRUMS,,,\n1,Kick,deck,1\n2,Snare,deck,2\nCh,Source,Box,Socket\nWINDS,,,\n3,Flute,deck,3\n",
    )
    assert list(found.plugged().values()) == ["Kick @ deck 1 > 1", "Snare @ deck 2 > 2", "Flute @ deck 3 > 3"]
    assert found.left_out() == []


def test_two_lists_side_by_side(take: Path) -> None:
    found = drafted(
        take,
        "Ch,Source,Socket,,Ch,Source,Socket\n1,Kick,A 1,,4,Keys,B 1\n2,Snare,A 2,,5,Vox,B 2\n3,Hat,A 3,,,,\n",
    )
    assert list(found.plugged().values()) == [
        "Kick @ A 1 > 1", "Snare @ A 2 > 2", "Hat @ A 3 > 3", "Keys @ B 1 > 4", "Vox @ B 2 > 5",
    ]  # fmt: skip


def test_no_sockets_at_all(take: Path) -> None:
    found = drafted(take, "Channel,Source,Mic\n1,Kick,dyn\n2,Snare,dyn\n3,Fiddle,clip\n")
    assert list(found.plugged().values()) == ["Kick @ stage 1 > 1", "Snare @ stage 2 > 2", "Fiddle @ stage 3 > 3"]
    assert "channels 1-3: no socket in the list: the channel's number, on a box called stage" in found.guessed()
    assert phantoms(found) == "???"
    assert found.unknown() == [
        "channels 1-3: gain: a change can be told, but not what to set",
        "the range of the preamps: stage",
        "channels 1-3: whether a pad is in",
        "channels 1-3: phantom power",
    ]


def test_boxes_but_no_sockets(take: Path) -> None:
    found = drafted(
        take, "Ch,Name,Stagebox\n1,Kick,A\n2,Snare,A\n3,Hat,A\n4,Vox,B\n5,Flute,B\n6,Harp,B\n7,Bass,B\n8,Keys,B\n"
    )
    assert [str(c.socket) for c in found.patch.channels] == ["A 1", "A 2", "A 3", "B 1", "B 2", "B 3", "B 4", "B 5"]
    assert "channels 1-3: no socket in the list: counted on box A in the list's order" in found.guessed()


def test_no_channels_at_all(take: Path) -> None:
    found = drafted(take, "Box,Input,Instrument\nA,1,Kick\nA,2,Snare\nA,3/4,Keys\nB,1,Vox\n")
    assert list(found.plugged().values()) == [
        "Kick @ A 1 > 1", "Snare @ A 2 > 2", "Keys L @ A 3 > 3", "Keys R @ A 4 > 4", "Vox @ B 1 > 5",
    ]  # fmt: skip
    assert "channels 1-5: no channel in the list, numbered in its order" in found.guessed()


def test_no_headings_at_all(take: Path) -> None:
    found = drafted(take, "1,Kick,A 1,+48\n2,Snare,A 2,\n3,Fiddle,A 3,+48\n4,Vox,B 1,\n")
    assert list(found.plugged().values()) == [
        "Kick @ A 1 > 1", "Snare @ A 2 > 2", "Fiddle @ A 3 > 3", "Vox @ B 1 > 4",
    ]  # fmt: skip
    assert phantoms(found) == "ynyn"
    assert "no headings, columns told by what they hold" in found.read()[0]


def test_numbers_without_a_heading(take: Path) -> None:
    found = drafted(take, ",Source,Mic\n1,Kick,dyn\n2,Snare,dyn\n4,Vox,dyn\n")
    assert [c.number for c in found.patch.channels] == [1, 2, 4]
    assert "column 1 as channel (by what stands below it)" in found.read()[1]


def test_a_second_ch_beside_the_box(take: Path) -> None:
    found = drafted(take, "CH,INSTRUMENT,STAGEBOX,CH\n1,Kick,SB A,5\n2,Snare,SB A,6\n3,Hat,SB A,7\n4,Vox,SB B,1\n")
    assert [str(c.socket) for c in found.patch.channels] == ["SB A 5", "SB A 6", "SB A 7", "SB B 1"]


def test_groups_tell_kinds_where_names_do_not(take: Path) -> None:
    found = drafted(
        take,
        "Ch,Source,Socket,Group\n1,Kick,A 1,Drums\n2,Ottilie,A 2,Vocals\n3,Fiddle,A 3,Vocals\n4,Anton,A 4,Vocals\n",
    )
    assert [c.kind for c in found.patch.channels] == ["kick", "vocal", "strings", "vocal"]
    assert "channels 2, 4: kind vocal, by its Group" in found.guessed()


def test_sockets_in_front_and_nothing_else(take: Path) -> None:
    found = drafted(
        take,
        "Input list,,\n,,\nStage left box (A),,\nA1,Kick,dyn\nA2,Snare,dyn\nA3-4,OH,48V\n"
        "Stage right box (B),,\nB1,Fiddle,48V\n",
    )
    assert [f"{c.number} {c.name} @ {c.socket}" for c in found.patch.channels] == [
        "1 Kick @ A 1", "2 Snare @ A 2", "3 OH L @ A 3", "4 OH R @ A 4", "5 Fiddle @ B 1",
    ]  # fmt: skip


def test_lines_without_a_socket_are_told(take: Path) -> None:
    found = drafted(take, "Ch,Source,Box,Socket\n1,Kick,A,1\n2,Snare,A,2\n3,Bass,-,-\n4,Vox,A,4\n")
    assert found.channel(3).socket is None
    assert found.plugged()[3] == "Bass @ - > 3"
    assert "channel 3: box and socket" in found.unknown()


def test_columns_of_other_things_are_no_slips_of_the_finger(take: Path) -> None:
    found = drafted(take, "Ch,Source,Socket,Insert,Stands,HPF\n1,Kick,A 1,Gate,x,80\n2,Snare,A 2,,x,\n")
    assert found.left_out() == ["columns: Insert, Stands, HPF"]
    assert not any(c.polarity_stated for c in found.patch.channels)


def test_headings_over_two_lines(take: Path) -> None:
    rows = [
        ["Desk", "Source", "Stage box", None, "Preamp", None], ["Ch", None, "Box", "In", "Gain", "48V"],
        [1, "Kick", "deck", 7, 30, None], [2, "Hat", "deck", 8, 41, "x"],
    ]  # fmt: skip
    found = drafted(take, book(("Inputs", rows, ["C1:D1", "E1:F1"])), ".xlsx")
    assert list(found.plugged().values()) == ["Kick @ deck 7 > 1", "Hat @ deck 8 > 2"]
    assert [c.gain for c in found.patch.channels] == [30, 41]
    assert phantoms(found) == "ny"


def test_a_running_number_beside_the_desks_channel(take: Path) -> None:
    found = drafted(take, "#,Input,FOH Ch,Name\n1,A 4,3,Kick\n2,A 5,4,Snare\n3,B 1,1,Vox\n")
    assert {n: text.split(" >")[0] for n, text in found.plugged().items()} == {
        3: "Kick @ A 4", 4: "Snare @ A 5", 1: "Vox @ B 1",
    }  # fmt: skip


def test_mistyped_headings(take: Path) -> None:
    found = drafted(take, "Chanel,Sourse,Stage bocks,Phantim power\n1,Kick,A 1,\n2,Hat,A 2,x\n")
    assert list(found.plugged().values()) == ["Kick @ A 1 > 1", "Hat @ A 2 > 2"]
    assert phantoms(found) == "ny"


def test_pads_polarity_and_trims(take: Path) -> None:
    found = drafted(
        take,
        "Ch,Source,Box,Socket,Pad,Phase,Trim,Gain\n"
        "1,Kick,deck,1,-20,,0,20\n2,Snare btm,deck,2,,Ø,-3.5,30\n3,Brass,deck,3,x,,,10\n4,Vox,riser,1,no,,,unity\n",
    )
    assert [c.pad for c in found.patch.channels] == [True, False, True, False]
    assert found.patch.box("deck").pad == 20
    assert found.patch.box("riser").pad is None
    assert [c.inverted for c in found.patch.channels] == [False, True, False, False]
    assert [c.trim for c in found.patch.channels] == [0, -3.5, 0, 0]
    assert found.channel(4).gain is None
    assert "channel 4: gain “unity” is no gain in dB: left unknown" in found.guessed()


def test_a_pad_whose_attenuation_nobody_states_is_not_made_up(take: Path) -> None:
    found = drafted(take, "Ch,Source,Socket,Pad\n1,Kick,A 1,x\n2,Snare,A 2,\n")
    assert found.patch.box("A").pad is None
    assert (found.channel(1).pad, found.channel(1).note) == (False, "pad in")
    assert found.unknown()[0] == (
        "channel 1: a pad is in, its attenuation is not stated: write pad = ... into the [[box]], and yes here"
    )


def test_a_pads_attenuation_in_the_heading(take: Path) -> None:
    found = drafted(take, "Ch,Source,Socket,Pad -20 dB\n1,Kick,A 1,x\n2,Snare,A 2,\n")
    assert (found.patch.box("A").pad, found.channel(1).pad, found.channel(2).pad) == (20, True, False)


def test_marks_for_di_and_types_of_input(take: Path) -> None:
    found = drafted(take, "Ch,Source,Socket,Mic,DI\n1,Bass,A 1,,x\n2,Vox,A 2,dynamic,\n3,Guitar,A 3,dynamic,\n")
    assert [c.input for c in found.patch.channels] == ["di", "mic", "mic"]
    found = drafted(
        numbered(take.parent.parent / "b" / "two", 3),
        "Ch,Source,Socket,Type\n1,Laptop,A 1,line\n2,Vox,A 2,wireless\n3,Bass,A 3,DI\n",
    )
    assert [c.input for c in found.patch.channels] == ["line", "rf", "di"]


def test_a_template_with_unused_lines_and_spares(take: Path) -> None:
    found = drafted(
        take,
        "Ch,Source,Box,Socket\n1,Kick,A,1\n2,Spare,A,2\n3,,A,3\n4,-,A,4\n5,Guest vox,A,5\n6,,,\n7,,,\n",
    )
    assert {c.number: c.use for c in found.patch.channels} == {1: "must", 2: "may", 5: "may"}
    assert found.left_out() == ["lines 4-5, 7-8: no source is named there"] or found.left_out() == [
        "lines 4-8: no source is named there"
    ]


def test_outputs_below_the_inputs(take: Path) -> None:
    found = drafted(
        take, "Ch,Source,Socket\n1,Kick,A 1\n2,Vox,A 2\n\nOUTPUTS,,\nMix,Name,Socket\n1,Wedge 1,A 1\n2,Wedge 2,A 2\n"
    )
    assert list(found.plugged().values()) == ["Kick @ A 1 > 1", "Vox @ A 2 > 2"]
    assert found.left_out() == ["everything from line 5 on (“OUTPUTS”): another table"]


def test_one_socket_on_two_channels(take: Path) -> None:
    found = drafted(take, "Ch,Source,Socket,Gain,48V\n1,Vox,A 1,30,x\n2,Bass,A 2,20,\n3,Vox fx,A 1,,\n")
    assert [str(c.socket) for c in found.patch.channels] == ["A 1", "A 2", "A 1"]
    assert [c.gain for c in found.patch.channels] == [30, 20, 30]
    assert phantoms(found) == "yny"
    assert "channel 3: on the same socket as channel 1" in found.guessed()


def test_tracks_that_the_list_states(take: Path) -> None:
    found = drafted(take, "Ch,Source,Socket,Rec track\n1,Kick,A 1,5\n2,Snare,A 2,6\n3,Vox,B 1,1\n")
    assert list(found.plugged().values()) == ["Kick @ A 1 > 5", "Snare @ A 2 > 6", "Vox @ B 1 > 1"]


def test_bars_and_line_breaks_in_cells(take: Path) -> None:
    found = drafted(take, 'Ch|Source|Socket|Note\n1|"Kick\nin"|A 1|"two\nlines, of notes"\n2|Snare|A 2|\n')
    assert list(found.plugged().values()) == ["Kick in @ A 1 > 1", "Snare @ A 2 > 2"]
    assert found.channel(1).note == "two lines, of notes"


def test_the_programs_own_list(take: Path) -> None:
    found = drafted(
        take,
        "channel,name,kind,use,input,mic,box,socket,gain,pad,phantom,trim,polarity,pair,pairing,return,bus,note\n"
        "1,Fiddle,strings,must,mic,clip-on,deck,1,34,no,yes,-2,,,,,,\n"
        "2,Accordion L,keys,must,mic,small,deck,2,30,no,yes,0,normal,3,spaced,,,\n"
        "3,Accordion R,keys,may,mic,small,deck,3,30,no,elsewhere,0,normal,,,,,\n",
    )
    fiddle, left, right = found.patch.channels
    assert (fiddle.gain, fiddle.trim, fiddle.phantom, fiddle.kind) == (34, -2, "yes", "strings")
    assert (left.pair, left.pairing, right.pair, right.use, right.phantom) == (3, "spaced", 2, "may", "elsewhere")


def test_channels_as_people_write_them(take: Path) -> None:
    found = drafted(take, "CH#,Source,Stage Box #\nCH 01,Kick,1\nCh.2,Snare,2\n#3,Hat,3\n4.,Vox,4\n")
    assert [c.number for c in found.patch.channels] == [1, 2, 3, 4]
    assert [str(c.socket) for c in found.patch.channels] == ["stage 1", "stage 2", "stage 3", "stage 4"]


def test_phantom_power_in_the_microphones_words(take: Path) -> None:
    found = drafted(take, "Ch,Source,Socket,Mic\n1,Kick,A 1,dynamic\n2,Hat,A 2,condenser (+48V)\n")
    assert phantoms(found) == "?y"


def test_no_socket_but_words(take: Path) -> None:
    found = drafted(take, "Ch,Source,Socket\n1,Kick,A 1\n2,Snare,A 2\n3,Fiddle,A 3\n4,Laptop,USB\n")
    assert found.plugged()[4] == "Laptop @ - > 4"
    assert found.channel(4).note == "socket: USB"


def test_what_a_spreadsheet_would_run_is_defused(take: Path) -> None:
    found = drafted(take, 'Ch,Source,Socket,Note\n1,"=HYPERLINK(""x"")",A 1,=1+1\n2,@Snare,A 2,+1\n')
    lines = (found.show / "inputs.csv").read_text("utf-8-sig").splitlines()
    assert not any(cell[:1] in "=@+" for line in lines for cell in line.replace('"', "").split(",") if cell)
    assert found.channel(2).name == "Snare"


def test_nothing_that_looks_like_a_list(take: Path) -> None:
    with pytest.raises(PatchError, match=r"^list.csv: no list of inputs can be seen in it \(a line with headings"):
        drafted(take, "Dear all,\nthe list comes tomorrow.\n")
    with pytest.raises(
        PatchError, match=r"^list.csv: the list has no sources \(a line for each source, with its name\)$"
    ):
        drafted(take, "Ch,Source,Socket\n1,,A 1\n")
