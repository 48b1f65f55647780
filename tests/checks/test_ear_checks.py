"""What was answered by ear: told where it says something, quiet where it does not."""

from __future__ import annotations

import csv
import io
from dataclasses import replace

import pytest

from replay.checks import (
    find_all,
    name_mismatch,
    return_mismatch,
    shifted,
    stale_confirmation,
    swapped,
    unlikely_source,
    unread_confirmation,
    wrong_by_ear,
)
from replay.desk.model import Show
from replay.ear import Answer, Ear, Stale
from replay.errors import Problem, at
from replay.findings.settle import settle
from replay.findings.verdict import report
from replay.mapped import by_ear
from replay.mapping.model import ChannelMapping, MappingResult, Misplacement
from replay.patch.model import Slot
from replay.report import as_corrected
from tests.checks.factory import Session

WHEN = "2026-06-20T17:30:00+02:00"
OURS = (stale_confirmation, unread_confirmation, wrong_by_ear)


def answer(channel: int, said: str, what: str = "", date: str = WHEN, track: int | None = None) -> Answer:
    return Answer(channel=channel, name="x", answer=said, is_really=what, date=date, track=track or channel)


def ear(*answers: Answer, **more) -> Ear:
    return Ear(answers={one.channel: one for one in answers}, **more)


def heard(show: Show, *numbers: int) -> Show:
    """The show with some channels confirmed by their sound."""
    found = ChannelMapping("heard", "likely", ("it sounds like a voice",))
    views = tuple(replace(view, mapping=found) if view.channel.number in numbers else view for view in show.channels)
    return replace(show, channels=views)


def show_of(said: Ear, session: Session | None = None, *sounding: int, **mapping) -> Show:
    show = replace((session or Session()).show(), mapping=MappingResult(judged=True, **mapping))
    return by_ear(heard(show, *sounding), said)


def exchange(a: int, b: int, **gains) -> Misplacement:
    found = {kind.replace("_", " "): value for kind, value in (gains or {"sound": 8.0}).items()}
    return Misplacement("exchange", (a, b), {a: b, b: a}, 0, found, 6.0, "line check" in found)


@pytest.mark.parametrize("module", OURS, ids=[module.CODE for module in OURS])
@pytest.mark.parametrize(
    "said",
    [ear(), ear(answer(2, "right"), answer(7, "right")), ear(answer(2, "unsure"))],
    ids=["nothing", "right", "unsure"],
)
def test_quiet(module, said):
    assert list(module.check(show_of(said))) == []


class TestWrongByEar:
    @pytest.mark.parametrize(
        ("what", "told"),
        [
            ("7", "it is 7 Vocal."),
            ("a trumpet\x1b", 'it is "a trumpet?".'),
            ("", "it is something else."),
            ("44", "it is channel 44, which the patch does not have."),
        ],
    )
    def test_says_what_it_is_and_when(self, what, told):
        (finding,) = wrong_by_ear.check(show_of(ear(answer(2, "wrong", what))))
        assert (finding.severity, finding.confidence, finding.channels) == ("fault", "certain", (2,))
        assert finding.message == f"By ear you said (2026-06-20 17:30) that it is wrong: {told}"
        assert "riser 2" in finding.action

    def test_such_a_channel_is_not_good(self):
        show = show_of(ear(answer(2, "wrong", "7")), None, 2)
        answered = report(show, find_all(show))
        assert answered.states[2] == "bad"
        assert answered.verdict == "not-ready"

    def test_a_spare_is_a_warning(self):
        (finding,) = wrong_by_ear.check(show_of(ear(answer(8, "wrong", "a horn"))))
        assert finding.severity == "warning"

    def test_the_sound_that_says_otherwise_is_told(self):
        (finding,) = wrong_by_ear.check(show_of(ear(answer(7, "wrong", "2")), None, 7))
        assert finding.severity == "fault"
        assert finding.message.endswith("The sound says otherwise of 7 Vocal: it sounds like a voice.")

    def test_the_other_one_that_was_called_right_is_told(self):
        (finding,) = wrong_by_ear.check(show_of(ear(answer(2, "wrong", "7"), answer(7, "right"))))
        assert "But of 7 Vocal you said that it is right: one of the two is a slip, or " in finding.message

    def test_a_crossed_return_explains_it_and_is_told_once(self):
        session = Session()
        session.channels[2]["playback"] = Slot("main", 7)
        show = show_of(ear(answer(2, "wrong", "7", track=7)), session)
        (finding,) = settle([*return_mismatch.check(show), *wrong_by_ear.check(show)])
        assert finding.code == "wrong-by-ear"
        assert "It comes back from slot 7, not from the slot that it is recorded on." in finding.message
        assert finding.action.startswith("Set its return to slot 2, ")
        assert finding.swallowed == ("return-mismatch",)


class TestExchanges:
    def test_two_that_are_each_other_are_a_swap_and_nothing_else(self):
        show = show_of(ear(answer(2, "wrong", "7"), answer(7, "wrong", "2", date="2026-06-20T17:31:00+02:00")))
        assert list(wrong_by_ear.check(show)) == []
        (finding,) = swapped.check(show)
        assert (finding.severity, finding.confidence, finding.channels) == ("fault", "certain", (2, 7))
        assert finding.message == (
            "Exchanged: the source of 2 Snare on track 7 and 7 Vocal on track 2; "
            "you said so by ear on 2026-06-20 17:31."
        )
        assert (finding.amount, finding.unit) == (None, "")

    def test_three_in_a_ring(self):
        show = show_of(ear(answer(2, "wrong", "5"), answer(5, "wrong", "7"), answer(7, "wrong", "2")))
        (finding,) = swapped.check(show)
        # What is heard on 2 is 5, so 5's source is on track 2; and so on round.
        assert finding.message.startswith(
            "Exchanged in a ring: the source of 2 Snare on track 7, 5 Bass on track 2 and 7 Vocal on track 5; you said"
        )

    def test_ears_and_sound_that_agree_are_told_once_and_make_it_a_fault(self):
        said = ear(answer(2, "wrong", "7"), answer(7, "wrong", "2"))
        show = show_of(said, misplaced=(exchange(2, 7),))
        (finding,) = [*swapped.check(show), *wrong_by_ear.check(show)]
        assert (finding.severity, finding.confidence) == ("fault", "certain")
        assert finding.message.endswith("; the sound and your ears (on 2026-06-20 17:30) agree.")

    def test_ears_that_only_say_wrong_support_it(self):
        show = show_of(ear(answer(2, "wrong")), misplaced=(exchange(2, 7),))
        (finding,) = [*swapped.check(show), *wrong_by_ear.check(show)]
        assert (finding.code, finding.severity) == ("swapped", "fault")

    def test_ears_that_call_a_channel_right_make_it_a_warning_and_both_are_told(self):
        case = exchange(2, 7, line_check=9.0)
        show = show_of(ear(answer(2, "right")), misplaced=(case,))
        (finding,) = swapped.check(show)
        assert (finding.severity, finding.confidence) == ("warning", "likely")
        assert finding.message.endswith(
            "the line check says so. By ear you said (2026-06-20 17:30) of 2 Snare that it is right."
        )

    def test_one_that_is_called_right_does_not_undo_a_row_of_them(self):
        case = Misplacement(
            "shift", (2, 5, 6, 7), {2: 5, 5: 6, 6: 7, 7: None}, 1, {"sound": 8.0, "line check": 9.0}, 9.0, True
        )
        (finding,) = shifted.check(show_of(ear(answer(5, "right")), misplaced=(case,)))
        assert finding.severity == "fault"
        assert finding.message.endswith("of 5 Bass that it is right.")
        assert corrected(show_of(ear(answer(5, "right")), misplaced=(case,)))["2"]["socket"] == "5"
        half = ear(answer(5, "right"), answer(6, "right"))
        (finding,) = shifted.check(show_of(half, misplaced=(case,)))
        assert finding.severity == "warning"
        assert corrected(show_of(half, misplaced=(case,)))["2"]["socket"] == "2"

    def test_ears_that_say_another_channel_are_told_beside_the_sound(self):
        show = show_of(ear(answer(2, "wrong", "5")), misplaced=(exchange(2, 7),))
        (one,), (other,) = swapped.check(show), wrong_by_ear.check(show)
        assert one.severity == "warning"
        assert one.message.endswith("By ear you said (2026-06-20 17:30) of 2 Snare that it is 5 Bass.")
        assert other.severity == "fault"

    def test_what_to_do_does_not_ask_to_listen_again(self):
        show = show_of(ear(answer(2, "wrong", "7"), answer(7, "wrong", "2")))
        (finding,) = swapped.check(show)
        assert finding.action == (
            "Exchange the plugs at riser 2 and riser 7, or correct the input list; then confirm them again."
        )

    def test_that_both_sides_of_a_pair_sound_alike_says_nothing_against_it(self):
        show = show_of(ear(answer(3, "wrong", "4"), answer(4, "wrong", "3")), None, 3, 4)
        (finding,) = swapped.check(show)
        assert finding.message.endswith("; you said so by ear on 2026-06-20 17:30.")

    def test_sound_that_says_otherwise_of_an_exchange_by_ear_is_told(self):
        show = show_of(ear(answer(2, "wrong", "7"), answer(7, "wrong", "2")), None, 7)
        (finding,) = swapped.check(show)
        assert finding.severity == "fault"
        assert finding.message.endswith("The sound says otherwise of 7 Vocal: it sounds like a voice.")


def corrected(show: Show) -> dict[str, dict[str, str]]:
    text = as_corrected.text(report(show, []))
    return {row["channel"]: row for row in csv.DictReader(io.StringIO(text))}


class TestCorrected:
    def test_an_exchange_by_ear_exchanges_sockets(self):
        rows = corrected(show_of(ear(answer(2, "wrong", "7"), answer(7, "wrong", "2"))))
        assert (rows["2"]["socket"], rows["7"]["socket"], rows["5"]["socket"]) == ("7", "2", "5")
        assert rows["2"]["note"] == "was riser 2, heard on track 7"

    def test_what_the_ears_deny_is_left_as_it_is(self):
        case = exchange(2, 7, line_check=9.0)
        assert corrected(show_of(ear(), misplaced=(case,)))["2"]["socket"] == "7"
        assert corrected(show_of(ear(answer(2, "right")), misplaced=(case,)))["2"]["socket"] == "2"

    def test_of_two_exchanges_the_ears_own_is_taken(self):
        said = ear(answer(2, "wrong", "5"), answer(5, "wrong", "2"))
        rows = corrected(show_of(said, misplaced=(exchange(2, 7),)))
        assert (rows["2"]["socket"], rows["5"]["socket"], rows["7"]["socket"]) == ("5", "2", "7")

    def test_returns_that_the_patch_crosses_are_put_right_and_plugs_left_alone(self):
        session = Session()
        session.channels[2]["playback"] = Slot("main", 7)
        session.channels[7]["playback"] = Slot("main", 2)
        show = show_of(ear(answer(2, "wrong", "7", track=7), answer(7, "wrong", "2", track=2)), session)
        assert list(swapped.check(show)) == []
        rows = corrected(show)
        assert (rows["2"]["socket"], rows["2"]["return"]) == ("2", "2")
        assert (rows["7"]["socket"], rows["7"]["return"]) == ("7", "7")
        assert rows["2"]["note"] == "returned from 7, another channel's by ear"


class TestWhatEarsSettle:
    def test_a_confirmed_channel_is_not_called_unlikely(self):
        unlikely = {7: "a kick"}
        assert len(list(unlikely_source.check(show_of(ear(), unlikely=unlikely)))) == 1
        assert list(unlikely_source.check(show_of(ear(answer(7, "right")), unlikely=unlikely))) == []

    def test_old_labels_on_a_confirmed_channel_are_a_note(self):
        misnamed = ((7, 7, "2 Snare"),)
        (finding,) = name_mismatch.check(show_of(ear(), misnamed=misnamed))
        assert finding.severity == "warning"
        (finding,) = name_mismatch.check(show_of(ear(answer(7, "right")), misnamed=misnamed))
        assert finding.severity == "note"

    def test_an_exchange_that_only_names_tell_is_over_once_both_are_confirmed(self):
        case = exchange(2, 7, names=4.0)
        assert len(list(name_mismatch.check(show_of(ear(answer(2, "right")), by_names=(case,))))) == 1
        said = ear(answer(2, "right"), answer(7, "right"))
        assert list(name_mismatch.check(show_of(said, by_names=(case,)))) == []


class TestStale:
    def stale(self, *those: tuple[int, str, bool], track: int | None = None) -> Ear:
        return Ear(stale=tuple(Stale(answer(n, "right", track=track), why, same) for n, why, same in those))

    def one(self, said: Ear, session: Session | None = None):
        (finding,) = stale_confirmation.check(show_of(said, session))
        assert (finding.code, finding.severity, finding.confidence) == ("stale-confirmation", "note", "certain")
        return finding

    def test_all_of_it_is_one_note_that_says_what_changed_and_what_to_do(self):
        finding = self.one(self.stale((1, "changed", True), (2, "changed", False), (3, "changed", False)))
        assert finding.channels == (1, 2, 3)
        assert finding.message == (
            "3 answers by ear (channels 1-3, last on 2026-06-20 17:30) count no more: "
            "tracks 2-3 hold something else now."
        )
        assert finding.action == "Confirm them again: replay confirm asks about them only."

    def test_a_track_that_is_gone(self):
        session = Session()
        del session.tracks[7]
        finding = self.one(self.stale((7, "changed", False)), session)
        assert finding.message == (
            "1 answer by ear (channel 7, last on 2026-06-20 17:30) counts no more: the take has no track 7 any more."
        )

    def test_a_take_that_changed_elsewhere(self):
        finding = self.one(self.stale((7, "changed", True)))
        assert finding.message.endswith(
            "other tracks of the take have changed, come or gone, and theirs are as they were."
        )

    def test_an_answer_without_a_track(self):
        said = Ear(stale=(Stale(replace(answer(2, "right"), track=None), "changed", False),))
        assert self.one(said).message.endswith("counts no more: the take is not what it was.")

    def test_a_patch_that_changed(self):
        finding = self.one(self.stale((2, "moved", True), (5, "renamed", True), (7, "moved", True), (40, "gone", True)))
        assert finding.channels == (2, 5, 7)
        assert finding.message.endswith(
            "by the patch channels 2, 7 come from other tracks now, channel 5 has another name in the patch and the "
            "patch has no channel 40 any more."
        )

    def test_it_leaves_every_channel_as_good_as_it_was(self):
        show = show_of(self.stale((2, "changed", False)))
        before, after = report(show, []), report(show, stale_confirmation.check(show))
        assert before.states == after.states


class TestUnread:
    def test_places_are_told_in_one_note(self):
        problems = tuple(
            Problem(f"no answer: {n}", at("confirmed.csv", line=n, column=3), "one of right, wrong, unsure")
            for n in range(2, 9)
        )
        (finding,) = unread_confirmation.check(show_of(Ear(problems=problems)))
        assert (finding.severity, finding.confidence, finding.channels) == ("note", "certain", ())
        assert finding.message.startswith(
            "The list of answers by ear has 7 places that cannot be read and do not count: "
            "confirmed.csv, line 2, column 3: no answer: 2 (one of right, wrong, unsure); confirmed.csv, line 3"
        )
        assert finding.message.endswith("; and 2 more.")
