"""The comparison of two recordings of one pass, as text for a terminal."""

from __future__ import annotations

from collections.abc import Sequence

from replay.compare.same_pass.model import EXACT, Answer, Loss, Pair, Relation
from replay.report.cells import wrap
from replay.report.ink import Ink
from replay.take.model import Take
from replay.text import clock, harmless, ranges
from replay.units import db

MOST_SHOWN = 20
_LACKS = {
    "silent": "digital silence",
    "held": "one value held",
    "ends": "the track has ended",
    "slip": "lost without a gap: all that follows is early",
    "tracks": "not there",
}


def first_line(answer: Answer) -> str:
    """The answer in one line."""
    pairs = answer.pairs
    common = time_words(answer.both_to - answer.both_from, answer.a.rate)
    same = [pair for pair in pairs if pair.same]
    all_same = len(same) == len(pairs) and bool(pairs)
    both = " wherever both have it" if answer.losses else ""
    if all_same and all(pair.relation.kind in ("identical", "silent") for pair in pairs):
        said = f"Identical to the sample{both}: {_tracks(len(pairs))} over {common}"
    elif all_same:
        said = f"The same{both} as far as {_formats(pairs)}: {_tracks(len(pairs))} over {common}"
    elif any(pair.relation.kind in EXACT for pair in pairs):
        parted = len(pairs) - len(same)
        said = f"They part on {parted} of {_tracks(len(pairs))} over {common}"
        exact = [pair for pair in pairs if pair.relation.kind in EXACT]
        if len(exact) == len(pairs):
            differing, compared = sum(pair.differing for pair in pairs), sum(pair.compared for pair in pairs)
            said += f"; {_share(differing, compared)} of the samples differ"
    else:
        similar = sum(pair.relation.kind == "similar" for pair in pairs)
        said = (
            f"No copies: {similar} of {_tracks(len(pairs))} hold the same sound, none the same samples, over {common}"
        )
    return f"{said}. {whole_words(answer)}"


def whole_words(answer: Answer) -> str:
    """Which recording lacks nothing that the other has."""
    whole = [side for side in "AB" if answer.is_whole(side)]
    if len(whole) == 2:
        return "Neither lacks anything that the other has."
    if len(whole) == 1:
        return f"{whole[0]} is whole, {'B' if whole[0] == 'A' else 'A'} is not."
    return "Neither is whole: each lacks something that the other has."


def text(answer: Answer, *, cells: int = 80, colour: bool = False) -> str:
    """The whole answer; no line is wider than `cells` (60 at the least)."""
    cells = max(cells, 60)
    ink = Ink(colour)
    top = [ink("strong", line) for line in wrap(first_line(answer), cells)]
    facts = [
        *(
            line
            for side, take, name in zip("AB", (answer.a, answer.b), _names(answer), strict=True)
            for line in wrap(f"{name}: {take_words(take)}", cells, first=f"{side}  ", rest="   ")
        ),
        *wrap(offset_words(answer), cells),
    ]
    sections = [top, facts]
    sections += [_lacks(answer, side, cells, ink) for side in "AB"]
    sections += [_differs(answer, cells, ink), _tracks_section(answer, cells, ink)]
    return "\n\n".join("\n".join(section) for section in sections if section) + "\n"


def take_words(take: Take) -> str:
    """A take's tracks and format."""
    bits = sorted({segment.file.bits for track in take.tracks for segment in track.segments})
    depth = "/".join(str(one) for one in bits)
    length = time_words(take.frames, take.rate)
    return f"{_tracks(len(take.tracks))}, {take.rate / 1000:g} kHz, {depth} bit, {length} long"


def _names(answer: Answer) -> tuple[str, str]:
    """Both folders, with as many of those above them as tell them apart."""
    one, other = answer.a.folder.parts, answer.b.folder.parts
    depth = next((n for n in range(1, 8) if one[-n:] != other[-n:]), 1)
    return harmless("/".join(one[-depth:])), harmless("/".join(other[-depth:]))


def offset_words(answer: Answer) -> str:
    """How the two lie to each other."""
    rate = answer.a.rate
    lag = answer.alignment.lag_at(answer.both_from)
    drift = answer.alignment.drift_ppm
    if lag == 0:
        said = "Both begin at the same frame"
    else:
        earlier, later = ("B", "A") if lag > 0 else ("A", "B")
        said = f"{later} begins {time_words(abs(lag), rate)} ({abs(lag)} frames) after {earlier}"
    if drift is None:
        return f"{said}. Times below are on the clock of A."
    per_hour = abs(drift) * 3.6e-3
    faster = "faster" if drift > 0 else "slower"
    return (
        f"{said}. They have two clocks: that of B runs {abs(drift):.1f} millionths {faster}, {per_hour:.3f} s an hour. "
        "So no samples can be equal; levels are compared. Times below are on the clock of A."
    )


def time_words(frames: int, rate: int) -> str:
    """A time or a length, to the millisecond.

    >>> time_words(48000 * 62 + 24, 48000)
    '1:02.000'
    """
    thousandths = frames * 1000 // rate
    return f"{clock(thousandths // 1000)}.{thousandths % 1000:03d}"


def length_words(frames: int, rate: int) -> str:
    """A short length: in frames, milliseconds or seconds, whatever reads best."""
    seconds = frames / rate
    if frames == 1:
        return "1 frame"
    if seconds < 0.01:
        return f"{frames} frames"
    return f"{seconds * 1000:.0f} ms" if seconds < 1 else f"{seconds:.1f} s"


def _lacks(answer: Answer, side: str, cells: int, ink: Ink) -> list[str]:
    losses = [loss for loss in answer.losses if loss.side == side]
    if not losses:
        return []
    lines = [ink("strong", f"{side} lacks")]
    for loss in losses[:MOST_SHOWN]:
        lines += wrap(loss_words(loss, answer), cells, first="  ", rest="    ")
    if len(losses) > MOST_SHOWN:
        lines.append(f"  and {len(losses) - MOST_SHOWN} more")
    return lines


def loss_words(loss: Loss, answer: Answer) -> str:
    """What a side lacks, where and how long."""
    rate = answer.a.rate
    if loss.start is None or loss.frames is None:
        other = "A" if loss.side == "B" else "B"
        several = "s" * (len(loss.tracks) > 1)
        return f"track{several} {ranges(loss.tracks)} of {other}"
    at, length = time_words(loss.start, rate), length_words(loss.frames, rate)
    if loss.kind == "slip":
        # What the ends of a gap in the sound itself leave open is not worth a word.
        unsure = f" (or up to {length_words(loss.unsure, rate)} before)" if loss.unsure > rate // 100 else ""
        return f"{at}  {length}{unsure}: {_LACKS[loss.kind]}"
    if loss.kind in ("head", "tail"):
        return f"the {'first' if loss.kind == 'head' else 'last'} {length} of {'A' if loss.side == 'B' else 'B'}"
    where = "all tracks" if len(loss.tracks) == len(answer.pairs) else _numbers(loss.tracks)
    return f"{at}  {length} on {where}: {_LACKS[loss.kind]}"


def _differs(answer: Answer, cells: int, ink: Ink) -> list[str]:
    """Stretches in which nobody can tell which side is right."""
    lines = []
    rate = answer.a.rate
    for pair in answer.pairs:
        unclear = [parting for parting in pair.partings if not parting.side]
        if not unclear or pair.relation.kind in ("other", "quiet"):
            continue
        shown = [f"{time_words(one.start, rate)} ({length_words(one.stop - one.start, rate)})" for one in unclear[:5]]
        more = len(unclear) - 5 + pair.parting_count - len(pair.partings)
        rest = f" and {more} more" if more > 0 else ""
        lines += wrap(f"{pair_words(pair)}: {', '.join(shown)}{rest}", cells, first="  ", rest="    ")
        if len(lines) > 2 * MOST_SHOWN:
            lines.append("  and more tracks")
            break
    return [ink("strong", "Other samples, and which are right cannot be told"), *lines] if lines else []


def _tracks_section(answer: Answer, cells: int, ink: Ink) -> list[str]:
    lines = []
    by_relation: dict[str, list[Pair]] = {}
    for pair in answer.pairs:
        words = relation_words(pair.relation)
        if pair.differing and pair.relation.kind not in ("other", "quiet"):
            words += ", but for what stands above"
        by_relation.setdefault(words, []).append(pair)
    for words, pairs in by_relation.items():
        lines += wrap(f"{words}: {_numbers([pair.a.number for pair in pairs])}", cells, first="  ", rest="    ")
    crossed = [pair for pair in answer.pairs if pair.a.number != pair.b.number]
    if crossed:
        said = ", ".join(f"{pair.a.number} is {pair.b.number}" for pair in crossed)
        lines += wrap(f"in another order (track of A is track of B): {said}", cells, first="  ", rest="    ")
    for side, only in (("A", answer.only_a), ("B", answer.only_b)):
        if only:
            lines += wrap(
                f"only in {side}: {_numbers([track.number for track in only])}", cells, first="  ", rest="    "
            )
    return [ink("strong", "Tracks"), *lines] if lines else []


def pair_words(pair: Pair) -> str:
    """A pair by its number, or both numbers where they differ."""
    if pair.a.number == pair.b.number:
        return f"track {pair.a.number}"
    return f"track {pair.a.number} of A, {pair.b.number} of B"


def relation_words(relation: Relation) -> str:
    """How two tracks are related, where they do not part."""
    turned = ", polarity turned" if relation.gain < 0 else ""
    if relation.kind in ("cut", "rounded", "dithered"):
        how = {"cut": "the rest cut off", "rounded": "rounded", "dithered": "rounded with dither"}[relation.kind]
        return f"{relation.coarser} is a copy of {relation.bits} bits, {how}"
    if relation.kind == "gain":
        level = f"B is {db(abs(relation.gain)):+.2f} dB" if abs(abs(relation.gain) - 1) > 1e-6 else "B is as loud"
        return f"{level}{turned}, otherwise the same to the last bit"
    if relation.kind == "similar":
        left = "" if relation.residual_db is None else f", {relation.residual_db:.0f} dB left over"
        return f"the same sound, not the same samples (B {db(abs(relation.gain)):+.1f} dB{turned}{left})"
    return {
        "identical": "identical samples",
        "silent": "digital silence in both",
        "quiet": "too quiet to tell",
        "other": "nothing in common",
    }[relation.kind]


def _formats(pairs: Sequence[Pair]) -> str:
    bits = sorted({pair.relation.bits for pair in pairs if pair.relation.bits is not None})
    kinds = {pair.relation.kind for pair in pairs}
    parts = [f"{' and '.join(str(one) for one in bits)} bits go"] if bits else []
    if "gain" in kinds:
        parts.append("a gain lets it be")
    return " and ".join(parts)


def _share(part: int, whole: int) -> str:
    """A share in words, never rounded to nothing or to all.

    >>> _share(1, 3), _share(1, 10**9)
    ('33 %', 'under 0.001 %')
    """
    percent = 100 * part / max(whole, 1)
    return "under 0.001 %" if percent < 0.001 else f"{percent:.2g} %"


def _numbers(numbers: Sequence[int]) -> str:
    return f"track{'s' * (len(numbers) > 1)} {ranges(list(numbers))}"


def _tracks(number: int) -> str:
    return f"{number} track{'' if number == 1 else 's'}"
