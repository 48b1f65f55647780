"""Sentences and figures in words that every report format says alike: take, ages, levels, places."""

from __future__ import annotations

from typing import TYPE_CHECKING, Protocol

from replay.text import clock, harmless, ranges
from replay.units import LEAST_TOLD_DB

if TYPE_CHECKING:
    from replay.desk.model import ChannelView
    from replay.findings.finding import Finding
    from replay.findings.result import Report
    from replay.patch.model import Patch, Slot

MONO_LOUDNESS = "LUFS: a mono track reads 3.01 LU below the same signal on both sides of a stereo pair."

RECORD_AGAIN = "Then record it again and check: no trim mends a clip."

_OF = {"soundcheck": "a soundcheck", "line-check": "a line check", "show": "a show"}

_STATUS = {
    "no-track": "no track in this take",
    "not-recorded": "not recorded",
    "live": "live on playback",
    "unfed": "no socket",
}


def of_channels(count: int) -> str:
    """A number of channels in words.

    >>> of_channels(1), of_channels(48)
    ('1 channel', '48 channels')
    """
    return f"{count} channel{'' if count == 1 else 's'}"


def age(seconds: float) -> str:
    """How old a take is, in the largest unit that gives two or more (or 'just now'); months of 30 days.

    >>> age(30), age(400), age(3 * 3600), age(50 * 3600), age(-900)
    ('made just now', '6 minutes old', '3 hours old', '2 days old', 'dated in the future (check the clocks)')
    """
    if seconds < -300:
        return "dated in the future (check the clocks)"
    if seconds < 120:
        return "made just now"
    for unit, length in (("year", 365 * 86400), ("month", 30 * 86400), ("day", 86400), ("hour", 3600), ("minute", 60)):
        whole = int(seconds // length)
        if whole >= 2 or unit == "minute":
            return f"{whole} {unit}s old"
    raise AssertionError("minutes are always tried")


def rate(hertz: int) -> str:
    """A sample rate.

    >>> rate(48000), rate(44100)
    ('48 kHz', '44.1 kHz')
    """
    return f"{hertz / 1000:.6g} kHz"


def depth(report: Report) -> str:
    """The word lengths of the take's files, such as `24 bit` or `16 bit and 32-bit float`; "" without tracks."""
    kinds = {
        (segment.file.is_float, segment.file.bits) for track in report.show.take.tracks for segment in track.segments
    }
    return " and ".join(f"{bits}-bit float" if floating else f"{bits} bit" for floating, bits in sorted(kinds))


def take_facts(report: Report) -> str:
    """Which take: its name, what it is of, age, tracks, rate, depth, length."""
    show = report.show
    take = show.take
    tracks = len(take.tracks)
    facts = [
        f"{harmless(take.folder.name)}, {_OF[show.patch.take.of]}",
        age(show.now - take.recorded),
        f"{tracks} track{'' if tracks == 1 else 's'}",
        rate(take.rate),
        depth(report),
        f"{clock(take.duration_s)} long",
    ]
    return ", ".join(fact for fact in facts if fact)


def judged_part(report: Report) -> str:
    """On which part of the take levels are judged."""
    show = report.show
    if show.judged_from_s <= 0 and show.judged_to_s >= show.take.duration_s:
        return "levels judged on all of it"
    return f"levels judged from {clock(show.judged_from_s)} to {clock(show.judged_to_s)}"


def level(value: float | None) -> str:
    """A level with one decimal, "-" where it does not exist; below what converters know, no figure is given.

    >>> level(-3.2), level(-0.04), level(None), level(-216.4)
    ('-3.2', '0.0', '-', '<-140')
    """
    if value is None:
        return "-"
    return f"<{LEAST_TOLD_DB:g}" if value < LEAST_TOLD_DB else f"{_tidy(value):.1f}"


def level_in_words(value: float | None) -> str:
    """The same for a sentence.

    >>> level_in_words(-3.2), level_in_words(-216.4)
    ('-3.2', 'below -140')
    """
    return level(value).replace("<", "below ")


def change(value: float | None) -> str:
    """A change or a trim with its sign, "" where there is none.

    >>> change(-10.0), change(2.5), change(0.0), change(None)
    ('-10', '+2.5', '0', '')
    """
    if value is None:
        return ""
    value = _tidy(value)
    return "0" if value == 0 else f"{value:+g}"


def setting(value: float | None) -> str:
    """A gain as it is read off the preamp, "?" where the patch does not state it.

    >>> setting(38.0), setting(27.5), setting(None)
    ('38', '27.5', '?')
    """
    return "?" if value is None else f"{_tidy(value):g}"


def _tidy(value: float) -> float:
    """Rounded to a tenth, without a negative zero."""
    return round(value, 1) + 0.0


def why_no_level(view: ChannelView) -> str:
    """Why a channel has no figures, in two or three words; "" where the take has its track."""
    return _STATUS.get(view.status, "")


def slot_name(patch: Patch, slot: Slot) -> str:
    """A slot's number, with its link's name where the show has several."""
    return f"{harmless(slot.link)} {slot.number}" if len(patch.links) > 1 else str(slot.number)


def ended(words: str) -> str:
    """`words` with a full stop, unless they end already."""
    return words if words.endswith((".", "!", "?", ":")) else words + "."


def sentence(words: str) -> str:
    """`words` with a capital and a full stop.

    >>> sentence("gain down first, then trim up")
    'Gain down first, then trim up.'
    """
    return words[:1].upper() + ended(words[1:])


class Judged(Protocol):
    """What is told with a word and how sure that is: a finding, or a change between two takes."""

    @property
    def code(self) -> str: ...

    @property
    def confidence(self) -> str: ...


def lead(told: Judged) -> str:
    """Its word, and how sure it is where that is not certain: `hot (likely)`."""
    return told.code if told.confidence == "certain" else f"{told.code} ({told.confidence})"


def about(finding: Finding, names: dict[int, str]) -> str:
    """What a finding is about: its channels by number (one also by name), else its tracks; "" for the whole take."""
    if len(finding.channels) == 1:
        number = finding.channels[0]
        return f"channel {number} {harmless(names.get(number, ''))}".rstrip()
    if finding.channels:
        return f"channels {ranges(finding.channels)}"
    if finding.tracks:
        return f"track{'' if len(finding.tracks) == 1 else 's'} {ranges(finding.tracks)}"
    return ""


def names_of(report: Report) -> dict[int, str]:
    """Channel numbers and their names."""
    return {view.channel.number: view.channel.name for view in report.show.channels}
