"""Which answers hold: those about this very take, on channels that have the name and the track that they had."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from replay.confirm import answers as kept
from replay.confirm.fingerprint import Fingerprint, fingerprint, name_of
from replay.ear import CHANGED, GONE, MOVED, NOTHING_SAID, RENAMED, Answer, Ear, Stale
from replay.patch.model import Patch, Slot
from replay.patch.routes import Routes
from replay.take.model import Take

Now = Mapping[int, tuple[str, int | None]]
"""By channel number: its name, and the number of the track that feeds it (None: none does)."""


def ear_of(patch: Patch, ways: Routes, take: Take) -> Ear:
    """What was answered about this take. Reads the show's list of answers and, where there are any, pieces of the take;
    raises nothing: what is wrong with the list stands in the answer."""
    answers, problems = kept.look(patch.folder)
    if not answers:
        return Ear(problems=problems) if problems else NOTHING_SAID
    return holding(answers, fingerprint(take), name_of(take), channels_now(patch, ways, take), problems)


def channels_now(patch: Patch, ways: Routes, take: Take) -> dict[int, tuple[str, int | None]]:
    """The channels as the patch has them."""
    found = {}
    for channel in patch.channels:
        slot = ways.of(channel.number).playback
        track = take.track(ways.track_of(slot)) if isinstance(slot, Slot) else None
        found[channel.number] = (channel.name, None if track is None else track.number)
    return found


def holding(answers: Iterable[Answer], stamp: Fingerprint, name: str, now: Now, problems: Iterable = ()) -> Ear:
    """Sort answers: those about this take hold or are stale; those about another one are none of its business.

    An answer is about this take where it has its fingerprint; where it only has its name, the take has changed since.
    """
    hold: dict[int, Answer] = {}
    stale: dict[int, Stale] = {}
    for answer in answers:
        number = answer.channel
        if answer.fingerprint != stamp.take and answer.take != name:
            continue
        title, track = now.get(number, ("", None))
        heard = answer.track if answer.track is not None else track
        same = heard is not None and stamp.tracks.get(heard) == answer.track_fingerprint
        if number not in now:
            stale[number] = Stale(answer, GONE, same)
        elif answer.fingerprint != stamp.take:
            stale[number] = Stale(answer, CHANGED, same)
        elif heard != track:
            stale[number] = Stale(answer, MOVED, same)
        elif answer.name != title.strip():
            stale[number] = Stale(answer, RENAMED, same)
        else:
            hold[number] = answer
    left = tuple(one for number, one in sorted(stale.items()) if number not in hold)
    return Ear(answers=dict(sorted(hold.items())), stale=left, problems=tuple(problems))
