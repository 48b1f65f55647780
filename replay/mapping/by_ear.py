"""What the engineer's ears add to what the sound says of the patch: exchanges, support and doubt. Pure.

The ears' answers are never weighed against odds: whoever listened to this very take and said so is believed, and where
the sound says otherwise, both are told.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from replay.ear import RIGHT, WRONG, Answer, rings
from replay.mapping.model import MappingResult, Misplacement

Answers = Mapping[int, Answer]


@dataclass(frozen=True)
class Voices:
    """What was said by ear of a misplacement's channels: those that agree with it, and those that deny it. `denied` is
    whether that is enough to doubt all of it: one channel of an exchange is, for the others cannot have moved without
    it; of a row of channels, half."""

    agree: tuple[int, ...] = ()
    deny: tuple[int, ...] = ()
    denied: bool = False


def voices(one: Misplacement, answers: Answers, tracks: Mapping[int, int]) -> Voices:
    """Who agrees and who denies. `tracks`: channel number -> the track that feeds it.

    'Wrong' without a channel agrees: it is not what the patch says. 'Unsure' says nothing.
    """
    agree: list[int] = []
    deny: list[int] = []
    for number in one.channels:
        answer = answers.get(number)
        if answer is None or answer.answer not in (RIGHT, WRONG):
            continue
        other = answer.is_channel
        fits = answer.answer == WRONG and (other is None or one.sources.get(other, -1) == tracks.get(number))
        (agree if fits else deny).append(number)
    enough = 1 if one.shape in ("exchange", "pairs", "cycle") else (len(one.channels) + 1) // 2
    return Voices(tuple(agree), tuple(deny), len(deny) >= enough)


def with_ears(result: MappingResult, answers: Answers, tracks: Mapping[int, int]) -> MappingResult:
    """The result with the exchanges that only the ears tell. `tracks` holds channels that come back from their own
    slots: of others, a crossed return tells why they are wrong, and no plug is in the wrong place."""
    told = list(result.misplaced)
    for ring in rings(answers):
        if any(number not in tracks for number in ring):
            continue
        sources = {other: tracks[number] for number, other in zip(ring, [*ring[1:], ring[0]], strict=True)}
        if any(all(one.sources.get(number, -1) == track for number, track in sources.items()) for one in told):
            continue
        shape = "exchange" if len(ring) == 2 else "cycle"
        ordered = {number: sources[number] for number in sorted(ring)}
        told.append(Misplacement(shape, tuple(ordered), ordered, 0, {}, None, True))
    return replace(result, misplaced=tuple(told))


def corrections(result: MappingResult, answers: Answers, tracks: Mapping[int, int]) -> dict[int, int | None]:
    """By channel the track on which its source was heard, where that is not its own. What the ears deny is left as
    patched: of sound and ears that disagree, the ears are the engineer's own."""
    return {
        number: track
        for one in result.misplaced
        if not voices(one, answers, tracks).denied
        for number, track in one.sources.items()
    }
