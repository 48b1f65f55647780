"""What the engineer sees: literal pages of the small show at the two usual widths, then one thing changed at a time."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from replay.desk.model import Advice
from replay.findings.finding import Finding
from replay.patch.model import Box, Socket
from replay.report.as_text import text
from replay.report.cells import width
from tests.report.shows import CHANNELS, CLIPPED, FINDINGS, LOCAL_INPUT, OLD_TAKE, STATES, report

AT_80 = """\
NOT READY: 3 of 9 channels not to be relied on (2, 6, 9), 1 to look at (5), 3
good, 1 spare, 1 not judged.
Channels are matched by track number only; the sound itself was not compared.

Show  Saturday, Mill Yard barn dance
Take  audio, a soundcheck, 3 hours old, 7 tracks, 48 kHz, 24 bit, 10:00 long;
      levels judged from 1:30 to 10:00.
      Other takes here: linecheck, friday (--take chooses).

TO DO

deck
BAD   deck 2  -10  38 -> 28  trim +10  ch 2 Snare top
      clipped: 14 runs at full scale between 2:31 and 8:02, the longest 0.8 ms.
      Gain down first, then trim up.
      Then record it again and check: no trim mends a clip.
BAD   deck 5                           ch 6 Vocal caller
      noise-only (likely): The preamp's own noise and nothing else, 84 dB under
      full scale.
      Do: Check microphone, cable, phantom power and mute switch.

riser
LOOK  riser 13  -6  24 -> 18  trim +7.5  ch 5 Bass
      hot: Plays up to -4.2 dBTP; with the show 4 dB louder it reaches -0.2.
      Tell the monitor desk first.
      Gain down first, then trim up.

The patch and the desk
LOOK  bus-over: Bus main reaches -0.6 dBTP at 2:31, 2.4 dB above its ceiling.
      Do: Lower channel 2 in it by 4 dB.

The recorder and its files
BAD   riser 14  ch 9 Fiddle
      no-track: The take has no track 30.
      Do: Arm track 30 on the recorder and record again.

CHANNELS
                                           peak played    lone  after change
        ch name           socket   track   dBTP   dBTP      at   trim     dB
good     1 Kick in        deck 1       1   -9.9  -10.6          -11.9
BAD      2 Snare top      deck 2       2    0.6    0.4            0.6    -10
good     3 Overhead left  deck 3       3  -13.2  -14.4          -13.2
good     4 Overhead right deck 4       4   -7.0  -14.0    4:32   -7.0
LOOK     5 Bass           riser 13     5   -4.0   -4.2           -2.5     -6
BAD      6 Vocal caller   deck 5       6  -83.5      -          -83.5
spare    7 Vocal spare    deck 6       7      -      -              -
?        8 Talkback       local 1         live on playback
BAD      9 Fiddle         riser 14        no track in this take
peak: the highest single peak; played: the peak that recurs, on which advice
rests; lone: when a peak 6 dB or more above the played one falls; after trim:
the highest peak at the channel, in dBTP.
?: nothing to judge in this take.

PAIRS                                  pairing       LUFS     LRA    dBTP
3 + 4  Overhead left + Overhead right  stereo       -29.8     7.2    -7.0
A stereo pair is read as one programme. LUFS: a mono track reads 3.01 LU below
the same signal on both sides of a stereo pair.

BUSES       dBTP  ceiling  headroom       at  loudest in it
main        -0.6     -3.0      -2.4     2:31  2, 1

NOTES
- not-recorded, channel 8 Talkback: A local input: no feed carries it, it stays
  live on playback.
- old-take: The take is 3 hours old.
What such a word means, and what to do: replay explain WORD.

NOT READY: 3 of 9 channels not to be relied on (2, 6, 9), 1 to look at (5), 3
good, 1 spare, 1 not judged.
"""

AT_120 = """\
NOT READY: 3 of 9 channels not to be relied on (2, 6, 9), 1 to look at (5), 3 good, 1 spare, 1 not judged.
Channels are matched by track number only; the sound itself was not compared.

Show  Saturday, Mill Yard barn dance
Take  audio, a soundcheck, 3 hours old, 7 tracks, 48 kHz, 24 bit, 10:00 long; levels judged from 1:30 to
      10:00.
      Other takes here: linecheck, friday (--take chooses).

TO DO

deck
BAD   deck 2  -10  38 -> 28  trim +10  ch 2 Snare top
      clipped: 14 runs at full scale between 2:31 and 8:02, the longest 0.8 ms.
      Gain down first, then trim up.
      Then record it again and check: no trim mends a clip.
BAD   deck 5                           ch 6 Vocal caller
      noise-only (likely): The preamp's own noise and nothing else, 84 dB under full scale.
      Do: Check microphone, cable, phantom power and mute switch.

riser
LOOK  riser 13  -6  24 -> 18  trim +7.5  ch 5 Bass
      hot: Plays up to -4.2 dBTP; with the show 4 dB louder it reaches -0.2.
      Tell the monitor desk first.
      Gain down first, then trim up.

The patch and the desk
LOOK  bus-over: Bus main reaches -0.6 dBTP at 2:31, 2.4 dB above its ceiling.
      Do: Lower channel 2 in it by 4 dB.

The recorder and its files
BAD   riser 14  ch 9 Fiddle
      no-track: The take has no track 30.
      Do: Arm track 30 on the recorder and record again.

CHANNELS
                                          floor active   loud sample   peak played    lone  after change
        ch name           socket   track   dBFS      %   LUFS   dBFS   dBTP   dBTP      at   trim     dB
good     1 Kick in        deck 1       1  -71.0     62  -31.2   -9.9   -9.9  -10.6          -11.9
BAD      2 Snare top      deck 2       2  -60.0     70  -19.5    0.0    0.6    0.4            0.6    -10
good     3 Overhead left  deck 3       3  -66.6     90  -33.0  -14.0  -13.2  -14.4          -13.2
good     4 Overhead right deck 4       4  -66.0     90  -32.5   -7.4   -7.0  -14.0    4:32   -7.0
LOOK     5 Bass           riser 13     5  -80.0     88  -20.0   -4.0   -4.0   -4.2           -2.5     -6
BAD      6 Vocal caller   deck 5       6  -97.5      0      -  -84.0  -83.5      -          -83.5
spare    7 Vocal spare    deck 6       7      -      -      -      -      -      -              -
?        8 Talkback       local 1         live on playback
BAD      9 Fiddle         riser 14        no track in this take
peak: the highest single peak; played: the peak that recurs, on which advice rests; lone: when a peak 6 dB or
more above the played one falls; after trim: the highest peak at the channel, in dBTP.
?: nothing to judge in this take.
LUFS: a mono track reads 3.01 LU below the same signal on both sides of a stereo pair.

PAIRS                                  pairing       LUFS     LRA    dBTP
3 + 4  Overhead left + Overhead right  stereo       -29.8     7.2    -7.0

BUSES       dBTP  ceiling  headroom       at  loudest in it
main        -0.6     -3.0      -2.4     2:31  2, 1

NOTES
- not-recorded, channel 8 Talkback: A local input: no feed carries it, it stays live on playback.
- old-take: The take is 3 hours old.
What such a word means, and what to do: replay explain WORD.

NOT READY: 3 of 9 channels not to be relied on (2, 6, 9), 1 to look at (5), 3 good, 1 spare, 1 not judged.
"""


def test_the_small_show_at_80_columns():
    assert text(report(), cells=80) == AT_80


def test_the_small_show_at_120_columns_has_more_figures():
    assert text(report(), cells=120) == AT_120


@pytest.mark.parametrize("cells", [60, 66, 80, 100, 119, 120, 200])
def test_no_line_is_wider_than_the_terminal(cells):
    long = replace(CHANNELS[1], name="Snare top, the deep one that is only used for the last two dances of the evening")
    wide = replace(CHANNELS[2], name="太鼓" * 40)
    shown = text(report(channels=(CHANNELS[0], long, wide, *CHANNELS[3:])), cells=cells)
    assert max(width(line) for line in shown.splitlines()) <= cells


def test_a_narrower_terminal_than_60_columns_gets_60():
    assert text(report(), cells=20) == text(report(), cells=60)


def test_columns_stay_in_line_under_wide_characters_and_combining_marks():
    names = {1: "Kick", 2: "太鼓", 3: "Ja\u0308rv", 4: "e\u0301" * 8}
    channels = tuple(replace(channel, name=names.get(channel.number, channel.name)) for channel in CHANNELS)
    lines = text(report(channels=channels, findings=()), cells=80).splitlines()
    rows = [line for line in lines if re.match(r"(BAD|LOOK|good|spare|\?) +[1-4] ", line)]
    assert len(rows) == 4
    assert {width(row[: row.index(" deck")]) for row in rows} == {width(rows[0][: rows[0].index(" deck")])}


@pytest.mark.parametrize("cells", [60, 80, 120])
@pytest.mark.parametrize("box", ["deck", "riser", "a box with a name that fills a line by itself"])
def test_a_long_name_of_a_box_never_hides_the_number_of_a_socket(cells, box):
    channels = tuple(replace(channel, socket=Socket(box, 30 + channel.number)) for channel in CHANNELS)
    lines = text(report(channels=channels, findings=()), cells=cells).splitlines()
    rows = [line for line in lines if re.match(r"(BAD|LOOK|good|spare|\?) +[1-9] ", line)]
    assert [re.search(r" (3\d) ", row + " ")[1] for row in rows] == [str(30 + channel.number) for channel in CHANNELS]


def test_boxes_whose_names_begin_alike_are_told_apart_where_room_is_short():
    made = report(findings=())
    boxes = tuple(Box(name=name, sockets=24) for name in ("the long stage left", "the long stage right"))
    views = tuple(
        replace(view, channel=replace(view.channel, socket=Socket(boxes[number % 2].name, 9 + number)))
        for number, view in enumerate(made.show.channels)
    )
    show = replace(made.show, channels=views, patch=replace(made.show.patch, boxes=boxes))
    places = re.findall(r"…(\w+) +(\d+) ", text(replace(made, show=show), cells=80))
    assert len(places) == len(views)
    assert [(word[0], int(number)) for word, number in places] == [("lr"[n % 2], 9 + n) for n in range(len(views))]


def test_colour_only_repeats_what_words_say():
    plain, coloured = text(report(), cells=80), text(report(), cells=80, colour=True)
    assert re.sub(r"\x1b\[[0-9;]*m", "", coloured) == plain
    assert "\x1b[1;31mBAD  \x1b[0m deck 2" in coloured
    assert "\x1b" not in plain


def test_a_ready_take_says_so_in_the_first_line_and_asks_for_nothing():
    shown = text(advised({}, findings=(), states={1: "good"}, channels=CHANNELS[:1]), cells=80)
    assert shown.splitlines()[0] == "READY: 1 good, of 1 channel."
    assert "TO DO" not in shown
    assert "NOTES" not in shown


HOSTILE = "=1+1\x1b[2J\u202egnp\n[red]bold[/red]<script>\x07\ud800"


def test_hostile_names_reach_the_terminal_as_plain_marks():
    channels = (replace(CHANNELS[0], name=HOSTILE, socket=Socket("deck", 1)), *CHANNELS[1:])
    finding = replace(CLIPPED, channels=(1,), message=f"About {HOSTILE}.", action=f"Mind {HOSTILE}.")
    shown = text(report(channels=channels, findings=(finding, LOCAL_INPUT), others=(HOSTILE,)), cells=120)
    assert not set(shown) & {"\x1b", "\x07", "\u202e", "\ud800", "\r", "\t"}
    assert "=1+1?[2J?gnp?[red]bold[/" in shown
    assert len([line for line in shown.splitlines() if "gnp" in line]) == 5  # other takes, head, two sentences, table


def test_every_finding_is_told_even_where_it_concerns_no_channel():
    extra = Finding(
        code="extra-track", severity="warning", confidence="certain", tracks=(31,), message="Signal.", action="Look."
    )
    strange = Finding(code="unheard-of", severity="fault", confidence="likely", message="Something odd.", action="Ask.")
    shown = text(report(findings=(*FINDINGS, extra, strange)), cells=80)
    for finding in (*FINDINGS, extra, strange):
        assert f" {finding.code}" in shown
        assert finding.message[:40] in shown
    assert "LOOK  track 31\n      extra-track: Signal.\n      Do: Look.\n" in shown
    assert "BAD   unheard-of (likely): Something odd.\n      Do: Ask.\n" in shown


def test_a_fault_of_the_take_alone_is_named_as_such():
    fault = Finding(code="track-clash", severity="fault", confidence="certain", tracks=(3,), message="x", action="y")
    shown = text(report(findings=(fault,), states=dict.fromkeys(STATES, "good")), cells=120)
    assert shown.splitlines()[0] == "NOT READY: 1 fault of the take itself, 9 good, of 9 channels."


def test_many_notes_of_one_code_are_counted():
    notes = tuple(replace(LOCAL_INPUT, channels=(number,), sockets=()) for number in range(1, 10))
    shown = text(report(findings=notes), cells=80)
    assert shown.count("A local input") == 3
    assert "- not-recorded, 6 more of the same: channels 4-9\n" in shown


def test_four_notes_of_one_code_are_all_shown_as_a_count_would_be_as_long():
    notes = tuple(replace(LOCAL_INPUT, channels=(number,), sockets=()) for number in range(1, 5))
    assert text(report(findings=notes), cells=80).count("A local input") == 4


def advised(advice: dict[int, Advice | None], **more):
    """The small show with other advice."""
    made = report(**more)
    views = tuple(replace(view, advice=advice.get(view.channel.number)) for view in made.show.channels)
    return replace(made, show=replace(made.show, channels=views))


def test_pairs_that_are_not_read_as_one_programme_have_no_line():
    made = report()
    alone = replace(made.show.pairs[0], pairing="spaced", integrated_lufs=None, true_peak_dbtp=None)
    assert "PAIRS" not in text(replace(made, show=replace(made.show, pairs=(alone,))), cells=80)


def test_a_note_that_begins_with_its_channels_does_not_say_them_twice():
    note = replace(LOCAL_INPUT, message="Channel 8 (talkback) is a local input.")
    assert "- not-recorded: Channel 8 (talkback) is a local input.\n" in text(report(findings=(note,)), cells=80)


def test_the_verdict_is_said_again_where_the_first_line_has_left_the_screen():
    long, short = text(report(), cells=80), text(advised({}, findings=(OLD_TAKE,), channels=CHANNELS[:1]), cells=80)
    first = "NOT READY: 3 of 9 channels"
    assert long.count(first) == 2
    assert long.splitlines()[-2].startswith(first)
    assert short.count("READY:") == 1


def test_a_finding_about_many_channels_names_them_by_number():
    lost = Finding(
        code="silent",
        severity="fault",
        confidence="certain",
        channels=(1, 2, 3, 4, 6),
        message="All zero.",
        action="Arm.",
    )
    shown = text(advised({}, findings=(lost,)), cells=80)
    assert "The recorder and its files\nBAD   channels 1-4, 6\n      silent: All zero.\n" in shown
