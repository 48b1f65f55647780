"""The page: what stands in it, that nothing in it can run or load, how it is drawn, and how large it gets."""

from __future__ import annotations

import base64
import hashlib
import json
import re
from dataclasses import replace
from html.parser import HTMLParser

import numpy as np
import pytest

from replay.errors import OutputError
from replay.report import as_page
from replay.report.page import channels, drawing, ink, spectrum, strips, work_list
from tests.report import pages, shows


@pytest.fixture(scope="module")
def page() -> str:
    return as_page.text(pages.small())


class Elements(HTMLParser):
    """Every element with its attributes, and the text of scripts and styles."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.found: list[tuple[str, dict[str, str | None]]] = []
        self.inside: list[tuple[str, str]] = []
        self._open = ""
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        self.found.append((tag, dict(attrs)))
        self._open = tag if tag in ("script", "style") else ""

    def handle_endtag(self, tag):
        self._open = ""

    def handle_data(self, data):
        if self._open:
            self.inside.append((self._open, data))


def policy_of(elements: Elements) -> str:
    found = [a["content"] for tag, a in elements.found if tag == "meta" and "http-equiv" in a]
    assert len(found) == 1
    return found[0] or ""


def sha256(text: str) -> str:
    return base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()


def test_the_policy_names_the_one_script_and_the_one_style_by_what_they_are(page):
    elements = Elements(page)
    style = "".join(data for tag, data in elements.inside if tag == "style")
    script = [data for tag, data in elements.inside if tag == "script"][-1]
    assert policy_of(elements) == (
        f"default-src 'none'; script-src 'sha256-{sha256(script)}'; style-src 'sha256-{sha256(style)}'; "
        "media-src blob:; img-src data:; base-uri 'none'; form-action 'none'"
    )


@pytest.mark.parametrize("make", [pages.small, pages.hostile])
def test_nothing_in_it_runs_or_loads_but_what_is_ours(make):
    elements = Elements(as_page.text(make()))
    assert [tag for tag, _ in elements.found if tag in ("script", "img", "iframe", "object", "embed", "base")] == [
        "script",
        "script",
    ]
    for tag, attributes in elements.found:
        assert not [name for name in attributes if name.startswith("on") or name in ("style", "srcdoc")], (
            tag,
            attributes,
        )
        for name in ("src", "href", "xlink:href", "action"):
            assert re.fullmatch(r"#[\w-]+|data:,", attributes.get(name) or "#x"), (tag, attributes)


def test_a_hostile_name_stands_there_as_text():
    text = as_page.text(pages.hostile())
    assert "&lt;script&gt;window.hit=1&lt;/script&gt;" in text
    assert "<script>window.hit" not in text
    assert "<img" not in text


def test_direction_marks_and_control_characters_are_made_harmless():
    marked = replace(shows.CHANNELS[0], name="Kick\u202e\x1b[31m")
    text = as_page.text(pages.with_histories(shows.report(channels=(marked, *shows.CHANNELS[1:]))))
    assert "Kick??[31m" in text
    assert "\u202e" not in text
    assert "\x1b" not in text


def test_data_cannot_close_its_element():
    assert ink.embedded({"a": "</script><!--&"}) == '{"a":"\\u003c/script\\u003e\\u003c!--\\u0026"}'


def test_the_first_words_are_the_verdict_and_the_take(page):
    text = re.sub(r"<[^>]+>", " ", page[page.index("<header") : page.index("</header")])
    words = " ".join(text.split())
    assert "NOT READY" in words
    assert "3 of 9 channels not to be relied on (2, 6, 9), 1 to look at (5)" in words
    assert (
        "audio, a soundcheck, 3 hours old, 7 tracks, 48 kHz, 24 bit, 10:00 long; levels judged from 1:30 to 10:00."
        in words
    )


def test_every_channel_has_a_row_a_strip_a_card_and_a_way(page):
    for number in range(1, 10):
        assert page.count(f'id="ch-{number}"') == 1
        for kind in ("way", "strip", "card"):
            assert len(re.findall(rf'class="{kind}[^"]*"[^>]* data-ch="{number}"', page)) == 1, (kind, number)
        assert page.count(f'<tr data-ch="{number}"') == 1


def test_every_job_has_a_tick_box_of_its_own(page):
    keys = re.findall(r'data-task="(\w+)"', page)
    # deck 2, deck 5, riser 13; bus main; track 30.
    assert len(keys) == 5
    assert len(set(keys)) == 5


def test_a_job_keeps_its_key_until_something_else_is_asked(page):
    again = as_page.text(pages.small())
    assert re.findall(r'data-task="(\w+)"', again) == re.findall(r'data-task="(\w+)"', page)
    report = pages.small()
    advice = replace(report.show.channels[1].advice, gain_db=-12.0)
    views = tuple(replace(view, advice=advice) if view.channel.number == 2 else view for view in report.show.channels)
    other = as_page.text(replace(report, show=replace(report.show, channels=views)))
    before, after = (re.findall(r'data-task="(\w+)"', text) for text in (page, other))
    assert sum(a != b for a, b in zip(before, after, strict=True)) == 1


def test_another_take_has_another_fingerprint():
    report = pages.small()
    assert work_list.fingerprint(report) == work_list.fingerprint(pages.small())
    assert re.fullmatch("[0-9a-f]{16}", work_list.fingerprint(report))
    track = report.show.take.tracks[0]
    longer = replace(track.segments[0].file, size=track.segments[0].file.size + 3)
    changed = replace(track, segments=(replace(track.segments[0], file=longer),))
    take = replace(report.show.take, tracks=(changed, *report.show.take.tracks[1:]))
    assert work_list.fingerprint(replace(report, show=replace(report.show, take=take))) != work_list.fingerprint(report)


@pytest.mark.parametrize(
    ("level", "place"), [(-60, 0.0), (-90, 0.0), (0, 90.91), (6, 100.0), (12, 100.0), (-27, 50.0), (None, None)]
)
def test_levels_lie_on_a_scale_from_minus_60_to_6(level, place):
    assert channels.place(level) == place


def test_the_target_zone_is_3_db_around_the_played_peak_that_needs_no_change():
    report = pages.small()
    view = replace(report.show.channels[0], expected_peak_dbtp=-6.6)  # played -10.6, rise 4: the target is -10
    show = replace(report.show, channels=(view, *report.show.channels[1:]))
    row = channels.rows(replace(report, show=show))[0]
    assert row.bar.zone == (channels.place(-13.0), channels.place(-7.0))


def test_a_way_in_words():
    rows = {row.number: row for row in channels.rows(pages.exchanged())}
    assert rows[1].way == "deck 1 → slot 1 → track 1 → channel 1"
    assert rows[3].way == "deck 3 → slot 3 → comes back from slot 4 → track 4 → channel 3"
    assert rows[8].way == "local 1 → not recorded → stays live → channel 8"
    assert rows[9].way == "riser 14 → slot 30 → no track 30 in this take → channel 9"


def test_what_is_wrong_stands_out_in_the_drawing_by_line_mark_and_word():
    report = pages.exchanged()
    made = drawing.drawing(report, channels.rows(report))
    ways = {way.row.number: way for way in made.ways}
    assert [(n, ways[n].kind) for n in (1, 3, 8, 9)] == [
        (1, "plain"),
        (3, "exchanged"),
        (8, "unrecorded"),
        (9, "broken"),
    ]
    assert [ways[n].trouble for n in (1, 2, 3, 8, 9)] == ["", "clipped", "exchanged", "not recorded", "no track"]
    assert [[sign.text for sign in ways[n].signs] for n in (1, 3, 8, 9)] == [[], ["⇄"], ["○"], ["✕"]]
    assert {line.kind for line in ways[1].lines} == {"plain"}
    # A broken way ends at a track that is drawn as missing.
    assert "30" in [stop.text for stop in made.stops if stop.kind == "missing"]


def test_every_line_begins_and_ends_at_a_stop_or_a_channel():
    report = pages.exchanged()
    made = drawing.drawing(report, channels.rows(report))
    ends = {(stop.x, stop.y) for stop in made.stops} | {(drawing.CHANNEL, way.y) for way in made.ways}
    for way in made.ways:
        for line in way.lines:
            assert (line.x1, line.y1) in ends, way.row.number
            assert (line.x2, line.y2) in ends, way.row.number
    assert max(y for _, y in ends) < made.height


def test_strips_hold_peaks_and_levels_in_the_steps_that_the_script_reads():
    made = strips.strips(pages.small())
    assert made["step_s"] == 0.1
    strip = made["tracks"]["1"]
    assert strip["columns"] == 6000
    high, low, rms, _ = pages.rows_of(strip)
    # 0.5 is -6.02 dBFS: (63.5 - 6.02) * 2 = 115 steps above 128; -0.25 is -12.04 dBFS: 103 below.
    assert (high[0], low[0]) == (128 + 115, 128 - 103)
    # Mean square 0.25 * 48 / 4800 = -26.02 dB, as AES17 -23.01 dBFS: 1 + (100 - 23.01) * 2.4 = 185.8.
    assert rms[0] == 186


def test_a_long_take_is_cut_to_7200_columns_and_keeps_its_highest_peak():
    report = pages.small()
    one = report.show.tracks[0]
    columns = pages.histories(72001)
    columns["high"][50_000] = 1.0
    long = replace(one, measurement=pages.measured(1, columns))
    made = strips.strips(replace(report, show=replace(report.show, tracks=(long,))))
    assert made["step_s"] == 1.1  # 72001 hops need columns of eleven
    high = pages.rows_of(made["tracks"]["1"])[0]
    assert len(high) == 6546
    assert int(high.argmax()) == 50_000 // 11
    assert high.max() == 255


def test_clips_gaps_and_findings_are_marked_on_the_strip():
    report = pages.small()
    one = report.show.tracks[1]
    segment = replace(one.track.segments[0], start=shows.RATE * 60)
    late = replace(one, track=replace(one.track, segments=(segment,)))
    click = replace(shows.HOT, code="click", channels=(), tracks=(2,), start_s=70.0, end_s=71.5)
    changed = replace(report, show=replace(report.show, tracks=(late,)), findings=(*report.findings, click))
    strip = strips.strips(changed)["tracks"]["2"]
    assert strip["clips"] == [151.2]
    assert strip["gaps"] == [[0.0, 60.0]]
    assert strip["marks"] == [[70.0, 71.5, "click", "warning"]]


def test_songs_are_joined_over_short_rests():
    assert strips.joined(np.array([[0, 20], [25, 40], [60, 80]])) == [(0.0, 40.0), (60.0, 80.0)]


def test_the_spectrum_is_the_octave_that_sounds_and_none_where_bands_are_missing():
    report = pages.small()
    made = spectrum.spectrum(report, report.show.channels[0])
    assert made is not None
    # Band 3 of a 48 kHz take lies between 187.5 and 375 Hz, 20 dB above the others.
    assert made.words == "Most energy between 188 and 375 Hz."
    heights = [band.height for band in made.bands]
    assert max(heights) == heights[3]
    assert made.usual == (spectrum.place(40), spectrum.place(6000))
    columns = {name: column for name, column in pages.histories(6000).items() if not name.startswith("band")}
    view = report.show.channels[0]
    bare = replace(view, track=replace(view.track, measurement=pages.measured(1, columns)))
    assert spectrum.spectrum(report, bare) is None


def test_excerpts_travel_in_the_data_and_are_offered_in_their_card():
    heard = pages.excerpts()
    text = as_page.text(pages.small(), heard)
    assert base64.b64decode(json.loads(pages.data_of(text))["excerpts"]["2"]) == heard.by_channel[2].mp3
    assert re.findall(r'data-hear="(\d+)"', text) == ["2"]


def test_without_excerpts_that_is_said(page):
    assert "Made without excerpts to hear." in page
    assert json.loads(pages.data_of(page))["excerpts"] == {}


def test_the_data_holds_no_names():
    assert "window.hit" not in pages.data_of(as_page.text(pages.hostile(), pages.excerpts()))


def test_56_channels_by_two_hours_with_30_excerpts_stay_under_6_mb():
    report, heard = pages.large()
    assert len(as_page.text(report, heard).encode()) < 6_000_000


def test_a_sheet_says_who_must_be_told_and_who_comes_back(page):
    sheets = page[page.index('id="sheets"') :]
    riser = " ".join(re.sub(r"<[^>]+>", " ", sheets[sheets.index('aria-label="Sheet for box riser"') :]).split())
    assert "-6 24 → 18" in riser
    assert "Tell first 13: Tell the monitor desk first." in riser
    assert "Order of work 13: Gain down first, then trim up." in riser
    assert "Go to playback channels 1-7, 9. Bring them back to live before the show." in riser
    assert "Stay live 8." in riser


def test_it_is_never_written_into_a_take(tmp_path):
    report = pages.small()
    take = replace(report.show.take, folder=tmp_path)
    with pytest.raises(OutputError, match="lies inside the take, and nothing is ever written into a take"):
        as_page.write(replace(report, show=replace(report.show, take=take)), str(tmp_path / "report.html"))
    assert list(tmp_path.iterdir()) == []
