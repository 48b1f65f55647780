"""The kinds, and how names tell them."""

from __future__ import annotations

import pytest

from replay.patch.kinds import KINDS, kind_from_name

NAMES: dict[str, list[str]] = {
    "kick": ["Kick", "Kick In", "KickOut", "BD", "bass drum", "Bass Drum mic", "kik", "Sub Kick", "KD", "Kick sub"],
    "snare": ["Snare", "Sn top", "SNR BTM", "snr", "SD 1", "Snare Drum", "SnTop", "Snare/bottom"],
    "tom": ["Tom 1", "Rack Tom", "Floor", "FLR", "Toms", "Tom", "tom L", "Floor Tom 16", "Tom mic", "TOM HI"],
    "hi-hat": ["HH", "Hat", "hi hat", "Hi-Hat", "HiHat", "high hat", "hihats"],
    "overhead": ["OH", "OH L", "OHR", "Overhead", "O/H L", "ovhd", "Ride", "Crash 2", "Cymbals", "drum OH"],
    "percussion": ["Perc", "Congas", "Bongo L", "Cajón", "Bodhrán", "Tamb", "Shaker", "drums L", "steel drum", "Timps"],
    "bass": ["Bass", "Bs DI", "Bass gtr", "double bass", "Upright bass", "bass amp", "Acoustic Bass", "Synth bass"],
    "guitar": ["Gtr", "Lead Gtr", "E Gtr", "eGtr", "Guitar amp", "pedal steel", "Tom's guitar", "gtr2", "Amp L"],
    "acoustic": ["Ac gtr", "AcGtr", "Acoustic", "Banjo", "Mandolin", "Mando", "12 string gtr", "Uke", "Bouzouki"],
    "keys": ["Keys", "Kbd L", "KeysR", "Piano Hi", "Pno", "Organ", "Synth 1", "Accordion", "E Piano", "acoustic piano"],
    "strings": ["Fiddle", "Vln 1", "Violin", "Viola", "Cello", "Vc", "Strings L", "Harp", "String quartet"],
    "brass": ["Tpt", "Trumpet 2", "Tbn", "Trombone", "Horns", "Flugel", "Bass trombone", "Tuba"],
    "woodwind": ["Sax", "Sax mic", "Alto Sax", "Bass clarinet", "Flute", "Clar", "Tin whistle", "Bari Sax", "Oboe"],
    "vocal": [
        "Vox",
        "Ld Vox",
        "Lead Voc",
        "bass vox",
        "Tom vox",
        "Drum vox",
        "McKay vox",
        "Hall vox",
        "TC vox",
        "Keys vocal",
        "LV",
    ],
    "backing": ["BV", "BV2", "BVs", "Backing vox", "bg vox", "Backing Vocal 1", "Harmony vox", "Gtr BV", "BGV L"],
    "speech": ["MC", "Speech", "Caller", "Host", "Lectern", "MC vox", "Voice over", "Lapel 1", "Moderator"],
    "choir": ["Choir", "Choir L", "Choir vox", "Hall choir", "Sopranos", "basses"],
    "playback": ["Playback", "PB L", "Tracks", "Backing track", "Backing tracks L", "DJ L", "Laptop R", "MP3", "Stems"],
    "click": ["Click", "CLK", "Click track", "Metronome"],
    "timecode": ["LTC", "SMPTE", "TC", "Time code", "Timecode", "LTC L"],
    "talkback": ["TB", "Talkback", "T/B", "Drums TB", "talk back MD", "Shout"],
    "ambience": ["Amb L", "Room", "Drum room", "Audience", "AMB R", "Crowd", "Ambience", "Nave L", "Hall R"],
    "other": ["", "Spare", "Track 01", "Ch 7", "Input 12", "Hedge", "Tom Hedge", "Kickstarter", "Basset", "Tom's mic"],
}

TABLE = [(name, kind) for kind, names in NAMES.items() for name in names]


def test_the_table_is_long_enough_to_mean_something() -> None:
    assert len(TABLE) >= 80
    assert set(NAMES) == set(KINDS)


@pytest.mark.parametrize(("name", "kind"), TABLE)
def test_kind_from_name(name: str, kind: str) -> None:
    assert kind_from_name(name) == kind


@pytest.mark.parametrize("change", [str.upper, str.lower, lambda name: f"  {name} ", lambda name: f"3 - {name}"])
def test_case_numbers_and_space_change_nothing(change) -> None:
    for name, kind in (("Kick in", "kick"), ("ld vox", "vocal"), ("ac gtr", "acoustic"), ("bass drum", "kick")):
        assert kind_from_name(change(name)) == kind


def test_rises_are_those_of_common_practice() -> None:
    """Common practice, no source: as the documentation of the patch lists them."""
    by_rise: dict[float, set[str]] = {}
    for kind in KINDS.values():
        by_rise.setdefault(kind.rise, set()).add(kind.name)
    assert by_rise == {
        4: {"kick", "snare", "tom", "hi-hat", "overhead", "percussion", "bass", "guitar", "other"},
        8: {"acoustic", "keys", "strings", "woodwind", "backing"},
        9: {"vocal", "speech", "brass", "choir"},
        15: {"ambience"},
        0: {"playback", "click", "timecode", "talkback"},
    }


def test_raising_is_never_advised_for_what_no_player_plays() -> None:
    never = {"playback", "click", "timecode", "talkback", "ambience"}
    assert {kind.name for kind in KINDS.values() if not kind.may_raise} == never
    assert {kind.name for kind in KINDS.values() if not kind.judges_low} == never


def test_long_and_strange_names_end() -> None:
    assert kind_from_name("a" * 1_000_000) == "other"
    assert kind_from_name("\x00‮ \ud800 kick") == "kick"
