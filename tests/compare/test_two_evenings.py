"""The same songs on two evenings: what was planted is found, and nothing else is claimed."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path

import jsonschema
import numpy as np
import pytest

import replay.compare
from replay.cli import run
from replay.compare.model import Comparison
from replay.compare.put_together import compare
from replay.compare.sides import both
from replay.findings.finding import Finding
from tests.compare.evenings import Evening, evening, first, high_pass, low_pass
from tests.conftest import Shelf
from tests.material.cast import SOURCES
from tests.material.recording import Recording
from tests.material.show import write_show

INPUTS = 24

Show = Callable[[str], Path]


def some_play_louder(seed: int) -> Mapping[str, float]:
    """Every player by himself louder or softer, 2 dB as a rule (normal distribution)."""
    rng = np.random.default_rng(seed)
    return {name: float(rng.normal(0, 2)) for name, source in SOURCES.items() if source.play not in ("", "ltc")}


DRUMS = ("kick", "snare", "hat", "tom1", "tom2", "tom3", "crash", "ride")
HOT_DB = 14.0

EVENINGS = {
    "friday": Evening(hands=11),
    "saturday": Evening(hands=12, loud=some_play_louder(1)),
    "three changes": Evening(
        hands=13,
        loud=some_play_louder(2),
        loss={"Vox Lead": 6.0, "Trombone": 20.0},
        filters={"BV Left": low_pass(2000)},
    ),
    "loud drums": Evening(hands=14, loud=dict.fromkeys(DRUMS, 6.0)),
    "softer singer": Evening(hands=15, loud={"lead voice": -8.0}),
    "thin and turned": Evening(hands=16, filters={"Snare Top": high_pass(900)}),
    "too hot": Evening(hands=11, turned={"Vox Lead": HOT_DB}),
    "turned down": Evening(hands=18),
}


@pytest.fixture(scope="module")
def base(shelf: Shelf) -> Recording:
    return shelf.get("the first evening", lambda _: first(INPUTS))


@pytest.fixture(scope="module")
def show(shelf: Shelf, base: Recording) -> Show:
    def made(name: str) -> Path:
        return shelf.get(f"evening, {name}", lambda folder: _write(folder / name.replace(" ", "-"), base, name))

    return made


def _write(folder: Path, base: Recording, name: str) -> Path:
    recording = evening(base, EVENINGS[name])
    if name == "too hot":
        number = recording.named("Vox Lead").number
        recording.change(number, gain=(recording.named("Vox Lead").gain or 0) + round(HOT_DB))
    if name == "thin and turned":
        # The patch says 10 dB less, and nobody turned it.
        number = recording.named("Guitar 1").number
        recording.change(number, gain=(recording.named("Guitar 1").gain or 0) - 10)
        recording.track(recording.named("OH R").number)[:] *= -1
    return write_show(folder, recording)


def answer(a: Path, b: Path) -> Comparison:
    return compare(*both(str(a), str(b), fresh=False, kept=None, progress=lambda share, doing: None))


def told(comparison: Comparison) -> dict[tuple[str, str], bool]:
    """What is told: (word, channel's name) -> whether it is for the worse."""
    names = {one.number: one.after.channel.name for one in comparison.channels}
    return {(one.code, names[number]): one.worse for one in comparison.told for number in one.channels}


def weighty(comparison: Comparison) -> list[tuple[str, Finding]]:
    return [(one.fate, one.finding) for one in comparison.findings if one.weighs]


def test_of_other_hands_nothing_is_claimed(show):
    comparison = answer(show("friday"), show("saturday"))
    assert told(comparison) == {}
    assert weighty(comparison) == []
    assert comparison.verdict == "not-worse"


@pytest.mark.parametrize(("a", "b"), [("friday", "three changes"), ("saturday", "three changes")])
def test_three_real_changes_are_found_and_nothing_else(show, a, b):
    comparison = answer(show(a), show(b))
    found = told(comparison)
    assert {key for key, worse in found.items() if worse} == {
        ("quieter", "Vox Lead"),
        ("quieter", "Trombone"),
        ("duller", "BV Left"),
    }
    assert [key for key, worse in found.items() if not worse] == []
    assert weighty(comparison) == []
    by_name = {one.after.channel.name: one for one in comparison.channels}
    for name, loss in (("Vox Lead", -6.0), ("Trombone", -20.0)):
        moved = by_name[name].moved
        assert moved is not None
        assert moved.bleed is not None
        assert moved.bleed.change_db == pytest.approx(loss, abs=1.5)
    trombone = next(one for one in comparison.told if one.channels == (by_name["Trombone"].number,))
    assert "As a pad of 20 dB left in would." in trombone.message
    assert trombone.confidence == "likely"
    singer = next(one for one in comparison.told if one.channels == (by_name["Vox Lead"].number,))
    assert "A lost leg of a balanced line costs about 6 dB." in singer.message
    dull = next(one for one in comparison.told if one.code == "duller")
    assert dull.message.startswith("Above 3 kHz")


def test_the_other_way_round_nothing_is_worse(show):
    comparison = answer(show("three changes"), show("friday"))
    assert comparison.verdict == "not-worse"
    assert told(comparison) == {
        ("louder", "Vox Lead"): False,
        ("louder", "Trombone"): False,
        ("brighter", "BV Left"): False,
    }


def test_drums_that_all_play_louder_are_the_band(show):
    comparison = answer(show("friday"), show("loud drums"))
    found = told(comparison)
    assert {code for code, _ in found} == {"band"}
    assert {name for _, name in found} >= {"Kick", "Snare Top", "Hi-hat", "OH L", "OH R"}
    assert not {name for _, name in found} & {"Vox Lead", "Bass DI", "Guitar 1", "Trombone"}
    assert comparison.verdict == "not-worse"


def test_a_singer_who_sings_softer_is_no_fault(show):
    comparison = answer(show("friday"), show("softer singer"))
    assert told(comparison) == {("source", "Vox Lead"): False}
    assert comparison.verdict == "not-worse"
    assert comparison.told[0].confidence == "possible"
    assert "it hears the others as before" in comparison.told[0].message


def test_thin_sound_a_turned_polarity_and_a_gain_that_was_not_turned(show):
    comparison = answer(show("friday"), show("thin and turned"))
    found = told(comparison)
    assert found[("thinner", "Snare Top")] is True
    assert found[("not-turned", "Guitar 1")] is False
    guitar = next(one for one in comparison.told if one.code == "not-turned")
    assert guitar.message.startswith("The patch says gain ")
    assert {name for code, name in found if code not in ("polarity",)} == {"Snare Top", "Guitar 1"}


def test_gain_turned_as_advised_is_fixed(show, base):
    before = show("too hot")
    after = show("turned down")
    comparison = answer(before, after)
    number = base.named("Vox Lead").number
    assert [(fate, one.code, one.channels) for fate, one in weighty(comparison)] == [("fixed", "clipped", (number,))]
    fixed = next(one for one in comparison.findings if one.weighs)
    gain = base.named("Vox Lead").gain
    assert fixed.how == f"gain {gain + 14} -> {gain}"
    assert told(comparison) == {}
    assert comparison.verdict == "not-worse"
    back = answer(after, before)
    assert [(fate, one.code) for fate, one in weighty(back)] == [("new", "clipped")]
    assert back.verdict == "worse"


def test_advice_that_only_the_level_shows_was_followed_is_told_with_what_to_write(show, base, tmp_path):
    # One patch, which nobody changed: the take was recorded again with the preamp turned by what A advised.
    before = show("too hot")
    advice = answer(before, show("turned down")).channels
    singer = next(one for one in advice if one.after.channel.name == "Vox Lead")
    assert singer.before.advice is not None
    turned = evening(base, Evening(hands=19, turned={"Vox Lead": HOT_DB + singer.before.advice.gain_db}))
    gain = (base.named("Vox Lead").gain or 0) + round(HOT_DB)
    turned.change(base.named("Vox Lead").number, gain=gain)
    after = write_show(tmp_path / "again", turned)
    comparison = answer(before, after)
    fixed = [one for one in comparison.findings if one.fate == "fixed" and one.weighs]
    assert [one.finding.code for one in fixed] == ["clipped"]
    new = singer.before.advice.new_gain_db
    assert fixed[0].how.endswith(f"as was advised (the patch still says {gain}: write {new:g})")
    assert comparison.verdict == "not-worse"
    assert "Vox Lead" not in {name for _, name in told(comparison)}


def test_the_command_prints_writes_and_ends_with_one(show, tmp_path, capsys):
    a, b = str(show("friday")), str(show("three changes"))
    out, page = tmp_path / "out.json", tmp_path / "out.html"
    assert run(["compare", a, b, "--json", str(out), "--page", str(page)]) == 1
    printed = capsys.readouterr().out
    assert printed.startswith("WORSE: 3 of 24 channels (")
    assert "3 changes for the worse." in printed.splitlines()[0]
    document = json.loads(out.read_text(encoding="utf-8"))
    schema = json.loads((Path(replay.compare.__file__).parent / "schema.json").read_text(encoding="utf-8"))
    jsonschema.Draft202012Validator(schema).validate(document)
    assert document["format"] == "replay-compare"
    assert document["verdict"] == "worse"
    assert sorted(one["code"] for one in document["changes"]) == ["duller", "quieter", "quieter"]
    assert page.read_text(encoding="utf-8").startswith("<!doctype html>")
    assert run(["compare", a, b, "--quiet"]) == 1
    assert capsys.readouterr().out == printed.splitlines()[0] + "\n"
    assert run(["compare", a, str(show("saturday")), "--quiet"]) == 0
    assert capsys.readouterr().out == "NOTHING WORSE in 24 channels.\n"


def test_kept_takes_are_compared_without_reading_a_sample(show, monkeypatch):
    a, b = show("friday"), show("three changes")
    answer(a, b)
    monkeypatch.setattr("replay.take.stream.Reader.__init__", lambda *_: pytest.fail("samples were read"))
    assert answer(a, b).verdict == "worse"


def test_two_takes_of_one_show_share_its_patch(show, tmp_path, base):
    whole = tmp_path / "show"
    write_show(whole, evening(base, EVENINGS["friday"]).part(list(range(1, 9)), stop_s=35.0))
    (whole / "audio").rename(whole / "one")
    other = write_show(tmp_path / "other", evening(base, EVENINGS["saturday"]).part(list(range(1, 9)), stop_s=35.0))
    (whole / "audio").mkdir()
    (whole / "one").rename(whole / "audio" / "one")
    (other / "audio").rename(whole / "audio" / "two")
    comparison = answer(whole / "audio" / "one", whole / "audio" / "two")
    assert comparison.one_patch
    assert (comparison.a.name, comparison.b.name) == ("one", "two")
    assert comparison.verdict == "not-worse"
    # A file of a take means its take... and the show itself means its newest.
    file = sorted((whole / "audio" / "one").iterdir())[0]
    assert (
        both(str(file.parent), str(whole), fresh=False, kept=None, progress=lambda share, doing: None)[1].name == "two"
    )


def test_channels_that_moved_are_followed_by_name(show, base, tmp_path):
    recording = evening(base, EVENINGS["saturday"])
    one, other = recording.named("Trumpet").number, recording.named("Kick").number
    rows = [recording.index(number) for number in (one, other)]
    recording.tracks[rows] = recording.tracks[rows[::-1]]
    a, b = recording.inputs[rows[0]], recording.inputs[rows[1]]
    recording.inputs[rows[0]] = replace(b, number=a.number, box=a.box, socket=a.socket)
    recording.inputs[rows[1]] = replace(a, number=b.number, box=b.box, socket=b.socket)
    comparison = answer(show("friday"), write_show(tmp_path / "moved", recording))
    found = told(comparison)
    assert found == {("replugged", "Trumpet"): False, ("replugged", "Kick"): False}
    assert weighty(comparison) == []
    trumpet = next(each for each in comparison.channels if each.after.channel.name == "Trumpet")
    assert (trumpet.before.channel.number, trumpet.number) == (one, other)
