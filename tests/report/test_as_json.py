"""The JSON contract: its schema, what does not exist is null, and nothing in it can harm whoever reads it."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from pathlib import Path

import pytest

import replay.report
from replay.desk.model import Levels
from replay.report import as_json
from tests.need import need_package
from tests.report.shows import CHANNELS, CLIPPED, NO_TRACK, report

SCHEMA = json.loads((Path(replay.report.__file__).parent / "schema.json").read_text(encoding="utf-8"))


def validator():
    need_package("jsonschema")
    import jsonschema

    jsonschema.Draft202012Validator.check_schema(SCHEMA)
    return jsonschema.Draft202012Validator(SCHEMA)


def channel(number: int, **more) -> dict:
    document = json.loads(as_json.text(report(**more)))
    return next(one for one in document["channels"] if one["channel"] == number)


def test_the_small_show_meets_the_schema():
    validator().validate(json.loads(as_json.text(report())))


def test_every_key_that_is_written_is_in_the_schema_and_required():
    """So that a key cannot be added without being described, nor vanish unnoticed."""
    document = as_json.document(report())
    described = SCHEMA["$defs"]
    pairs = [
        (document, SCHEMA),
        (document["take"], SCHEMA["properties"]["take"]),
        (document["channels"][0], described["channel"]),
        (document["channels"][1]["advice"], described["advice"]),
        (document["pairs"][0], described["pair"]),
        (document["buses"][0], described["bus"]),
        (document["findings"][0], described["finding"]),
    ]
    for written, schema in pairs:
        assert list(written) == schema["required"]
        assert set(written) == set(schema["properties"])
    assert list(document["counts"]) == SCHEMA["properties"]["counts"]["required"]
    for name in ("recorded", "input"):
        assert list(document["channels"][0][name]) == described["channel"]["properties"][name]["required"]


def test_a_wrong_value_does_not_meet_the_schema():
    document = as_json.document(report())
    document["verdict"] = "perhaps"
    assert not validator().is_valid(document)


def test_the_clipped_channel():
    assert channel(2) == {
        "channel": 2,
        "name": "Snare top",
        "kind": "snare",
        "use": "must",
        "state": "bad",
        "source": "track",
        "track": 2,
        "link": "main",
        "slot": 2,
        "return": {"link": "main", "slot": 2},
        "box": "deck",
        "socket": 2,
        "mapping": {"status": "unknown", "confidence": None, "evidence": [], "found_on_track": None},
        "confirmed": None,
        "recorded": {
            "sample_peak_dbfs": 0.0,
            "true_peak_dbtp": 0.63,
            "true_peak_s": 151.2,
            "played_peak_dbtp": 0.4,
            "lone_peak_s": None,
            "integrated_lufs": -19.5,
            "momentary_max_lufs": -10.0,
            "short_term_max_lufs": -14.1,
            "loudness_range_lu": 5.0,
            "rms_dbfs": -20.0,
            "crest_db": 20.6,
            "noise_floor_dbfs": -60.0,
            "dc_dbfs": -90.0,
            "active_percent": 70.0,
            "clip_runs": 14,
            "clip_runs_before": 0,
        },
        "input": {
            "trim_db": 0.0,
            "true_peak_dbtp": 0.63,
            "integrated_lufs": -19.5,
            "headroom_db": -0.63,
            "expected_peak_dbtp": None,
        },
        "advice": {
            "gain_db": -10.0,
            "was_gain_db": 38.0,
            "new_gain_db": 28.0,
            "pad": None,
            "trim_db": 10.0,
            "trim_left_db": 0.0,
            "order": "Gain down first, then trim up.",
            "ask": "",
            "at_source": False,
            "reason": "Clipped.",
            "notes": [],
        },
        "advice_waits": False,
    }


def test_the_finding_carries_its_places():
    document = json.loads(as_json.text(report()))
    assert document["findings"][0] == {
        "id": "clipped-ch2",
        "code": "clipped",
        "severity": "fault",
        "confidence": "certain",
        "channels": [2],
        "tracks": [2],
        "slots": [{"link": "main", "slot": 2}],
        "sockets": [{"box": "deck", "socket": 2}],
        "start_s": 151.2,
        "end_s": 482.0,
        "amount": 14.0,
        "unit": "runs",
        "message": "14 runs at full scale between 2:31 and 8:02, the longest 0.8 ms.",
        "action": "Turn down, record again and check.",
        "swallowed": [],
    }


def test_counts():
    assert as_json.document(report())["counts"] == {
        "channels": 9,
        "good": 3,
        "look": 1,
        "bad": 3,
        "spare": 1,
        "unjudged": 1,
        "unconfirmed": 0,
        "faults": 3,
        "warnings": 2,
        "notes": 2,
    }


def test_a_channel_without_a_track_has_its_keys_and_no_figures():
    shown = channel(8)
    assert shown["source"] == "live"
    assert shown["return"] is None
    assert shown["advice"] is None
    assert set(shown["recorded"].values()) == {None}
    assert shown["input"]["trim_db"] == 0.0
    assert shown["input"]["true_peak_dbtp"] is None


@pytest.mark.parametrize("nowhere", [-math.inf, math.inf, math.nan])
def test_what_does_not_exist_is_null_even_if_it_arrives_as_infinity(nowhere):
    made = report()
    views = tuple(
        replace(view, recorded=Levels(integrated_lufs=nowhere), headroom_db=nowhere) for view in made.show.channels
    )
    made = replace(
        made,
        show=replace(made.show, channels=views, limits={"x": nowhere}),
        findings=(replace(CLIPPED, amount=nowhere, start_s=nowhere),),
    )
    shown = as_json.text(made)
    assert not {"NaN", "Infinity", "-Infinity"} & set(shown.replace(",", " ").split())
    document = json.loads(shown, parse_constant=pytest.fail)
    assert document["channels"][0]["recorded"]["integrated_lufs"] is None
    assert document["findings"][0]["amount"] is None
    validator().validate(document)


def test_there_is_no_negative_zero():
    made = report(findings=(replace(NO_TRACK, amount=-0.00001),))
    assert '"amount": 0.0' in as_json.text(made)


def test_hostile_names_stay_valid_ascii_without_control_characters():
    hostile = 'Kick"\x1b[2J\u202e\ud800\n</script>'
    channels = (replace(CHANNELS[0], name=hostile), *CHANNELS[1:])
    shown = as_json.text(report(channels=channels, findings=(replace(CLIPPED, message=hostile, key=hostile),)))
    assert shown.isascii()
    document = json.loads(shown)
    assert document["channels"][0]["name"] == 'Kick"?[2J???</script>'
    assert document["findings"][0]["message"] == 'Kick"?[2J???</script>'
    assert document["findings"][0]["id"] == 'clipped-ch2-Kick"?[2J???</script>'


def test_writing_to_a_file_gives_the_same_text(tmp_path):
    as_json.write(report(), str(tmp_path / "report.json"))
    assert (tmp_path / "report.json").read_text(encoding="utf-8") == as_json.text(report())


def test_a_dash_writes_to_standard_output(capsys):
    as_json.write(report(), "-")
    assert capsys.readouterr().out == as_json.text(report())


def said_by_ear(number: int, said: str, what: str = "") -> dict:
    """The small show with one channel answered by ear; its object in the document."""
    from replay.ear import Answer, Ear

    one = Answer(channel=number, name="x", answer=said, is_really=what, date="2026-06-20T17:30:00+02:00")
    made = report()
    made = replace(made, show=replace(made.show, ear=Ear(answers={number: one})))
    document = as_json.document(made)
    validator().validate(document)
    return document["channels"][number - 1]["confirmed"]


def test_what_was_answered_by_ear():
    date = "2026-06-20T17:30:00+02:00"
    assert said_by_ear(2, "right") == {"answer": "right", "what_it_is": "", "is_channel": None, "date": date}
    assert said_by_ear(2, "wrong", "5") == {"answer": "wrong", "what_it_is": "5", "is_channel": 5, "date": date}
    assert said_by_ear(2, "wrong", "a\x1b drum")["what_it_is"] == "a? drum"
