"""Which steps of gain count, and that the part that is judged goes by the same ones as what is told."""

from __future__ import annotations

import numpy as np
import pytest

from replay.desk.moves import preamp_moves
from replay.evidence.gain_moves import GainMove
from replay.patch.routes import routes
from replay.simulate import check
from tests.checks.factory import Session
from tests.checks.sick import healthy, noise, time
from tests.material.recording import Input, Recording
from tests.material.show import write_show


def moves_of(session: Session, *numbers: int, db: float = -6.0) -> dict[int, tuple[GainMove, ...]]:
    """What counts of one step each on these tracks, twenty seconds apart."""
    patch = session.patch()
    steps = {n: (GainMove(n, 20.0 * (place + 1), db, 0.0, 0.0),) for place, n in enumerate(numbers)}
    return preamp_moves(patch, routes(patch), steps, len(session.tracks), 3.0)


def test_a_step_of_a_microphones_preamp_counts():
    assert list(moves_of(Session(), 7)) == [7]


@pytest.mark.parametrize(
    "facts",
    [
        {"kind": "ambience"},
        {"kind": "playback"},
        {"kind": "click"},
        {"kind": "timecode"},
        {"input": "digital"},
        {"use": "off"},
    ],
)
def test_what_has_no_preamp_that_is_turned_does_not(facts):
    session = Session()
    session.channels[7].update(facts)
    assert list(moves_of(session, 1, 7)) == [1]


@pytest.mark.parametrize(
    ("loud_db", "counts"), [(-7.0, True), (-3.5, True), (-2.5, False), (0.0, False), (5.0, False), (None, False)]
)
def test_of_a_radio_a_step_counts_where_what_sounds_goes_with_it(loud_db, counts):
    session = Session()
    session.channels[7]["input"] = "rf"
    patch = session.patch()
    steps = {7: (GainMove(7, 20.0, -6.0, 19.0, 21.0, loud_db),)}
    assert bool(preamp_moves(patch, routes(patch), steps, len(session.tracks), 3.0)) is counts


def test_small_steps_and_tracks_of_no_channel_do_not_count():
    session = Session()
    assert moves_of(session, 7, db=2.9) == {}
    assert moves_of(session, 12) == {}
    assert moves_of(session, 99) == {}


def test_levels_are_judged_from_the_moves_that_are_told_and_from_no_other(tmp_path):
    applause = noise(-20) * np.where(time() % 12 < 6, 1.0, 0.2)
    stepped = healthy(2) * np.where(time() < 18, 1.0, 0.4)
    turned = healthy(4) * 0.5 * np.where(time() < 12.5, 1.0, 10 ** (-8 / 20))
    made = [(applause, "ambience", "mic"), (stepped, "playback", "line"), (stepped, "keys", "digital")]
    made += [(turned, "vocal", "mic"), (healthy(3), "vocal", "mic")]
    inputs = [
        Input(number=n, name=f"Channel {n}", source=f"s{n}", kind=kind, box="riser", socket=n, input=way, gain=30)
        for n, (_, kind, way) in enumerate(made, start=1)
    ]
    tracks = np.stack([np.clip(samples, -1, 1 - 2.0**-23).astype(np.float32) for samples, _, _ in made])
    report = check(write_show(tmp_path / "show", Recording(rate=48000, inputs=inputs, tracks=tracks)), keep=False)
    assert {4} <= set(report.show.gain_moves)
    assert report.show.gain_moves.keys() - {4}, "another track steps too, or this shows nothing"
    judged = {track.track.number: track.judged_from_s for track in report.show.tracks}
    assert judged[4] == pytest.approx(13.0, abs=0.7)
    assert [judged[number] for number in (1, 2, 3, 5)] == [None] * 4
