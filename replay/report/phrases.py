"""Sentences and figures in words that every report format says alike: verdict, take, ages, levels, places."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

from replay.ear import ANSWERS, RIGHT, WRONG, Ear
from replay.text import clock, harmless, ranges

if TYPE_CHECKING:
    from replay.checks.finding import Finding
    from replay.checks.result import Report
    from replay.desk.model import ChannelView
    from replay.patch.model import Patch, Slot

UNCONFIRMED = "Channels are matched by track number only; the sound itself was not compared."
"""Said once with every verdict: a track may lie on the right number and still carry another source."""

MONO_LOUDNESS = "LUFS: a mono track reads 3.01 LU below the same signal on both sides of a stereo pair."

RECORD_AGAIN = "Then record it again and check: no trim mends a clip."

_OF = {"soundcheck": "a soundcheck", "line-check": "a line check", "show": "a show"}

_STATUS = {
    "no-track": "no track in this take",
    "not-recorded": "not recorded",
    "live": "live on playback",
    "unfed": "no socket",
}


def counts(report: Report) -> dict[str, int]:
    """Channels by state and findings by severity."""
    states = Counter(report.states.values())
    severities = Counter(finding.severity for finding in report.findings)
    return {
        "channels": len(report.show.channels),
        **{state: states[state] for state in ("good", "look", "bad", "spare", "unjudged")},
        "unconfirmed": len(not_confirmed(report)),
        "faults": severities["fault"],
        "warnings": severities["warning"],
        "notes": severities["note"],
    }


def verdict(report: Report) -> str:
    """The first line: whether the take can be relied on, by channel."""
    number = counts(report)
    parts = []
    bad = [channel for channel, state in report.states.items() if state == "bad"]
    look = [channel for channel, state in report.states.items() if state == "look"]
    if bad:
        parts.append(f"{len(bad)} of {of_channels(number['channels'])} not to be relied on ({ranges(bad)})")
    elif report.verdict != "ready":
        several = number["faults"] != 1
        parts.append(f"{number['faults']} fault{'s' * several} of the take itself")
    if look:
        parts.append(f"{len(look)} to look at ({ranges(look)})")
    parts.append(f"{number['good']} good")
    if number["spare"]:
        parts.append(f"{number['spare']} spare")
    if number["unjudged"]:
        parts.append(f"{number['unjudged']} not judged")
    if not bad:
        parts[-1] += f", of {of_channels(number['channels'])}"
    unheard = not_confirmed(report)
    by = "by sound or by ear" if report.show.ear.answers else "by sound"
    rest = f"; {len(unheard)} not confirmed {by}" if unheard else ""
    return ("READY: " if report.verdict == "ready" else "NOT READY: ") + ", ".join(parts) + rest + "."


def not_confirmed(report: Report) -> list[int]:
    """Channels that must play and have a track of which neither sound nor ears say that it is theirs; none where that
    was not judged."""
    if not report.show.mapping.judged:
        return []
    return [
        view.channel.number
        for view in report.show.channels
        if view.channel.use == "must"
        and view.track is not None
        and not is_confirmed(view.mapping.status, report.show.ear.says(view.channel.number))
    ]


def is_confirmed(status: str, said: str) -> bool:
    """Whether a channel is confirmed, by its mapping's status and what was said of it by ear ("" for nothing). Of sound
    and ears that disagree, the ears count.

    >>> is_confirmed("unknown", "right"), is_confirmed("heard", "unsure"), is_confirmed("heard", "wrong")
    (True, True, False)
    """
    return said == RIGHT or (status == "heard" and said != WRONG)


def confirmation(report: Report) -> str:
    """How the channels were matched with tracks: by sound, by name, or by number only."""
    mapping = report.show.mapping
    if not mapping.judged:
        return UNCONFIRMED
    statuses = Counter(_counted_as(report, view) for view in report.show.channels if _is_counted(report, view))
    words = {"heard": "confirmed by sound", RIGHT: "by ear", "named": "by name only", "contradicted": "contradicted"}
    words |= {WRONG: "wrong by ear", "unknown": "could not be told"}
    parts = [f"{statuses[status]} {said}" for status, said in words.items() if statuses[status]]
    line = sentence(mapping.line_check) if mapping.line_check else ""
    told = f"Channels against tracks: {', '.join(parts) or 'nothing to compare'}. {line}"
    return " ".join(filter(None, [told.rstrip(), by_ear(report.show.ear)]))


def _is_counted(report: Report, view: ChannelView) -> bool:
    """Whether a channel is counted: it has a track and must play, as in the first line, or sound or ears say something
    of it (a spare that is rightly silent leaves nothing to be told)."""
    said = report.show.ear.says(view.channel.number) in (RIGHT, WRONG)
    return view.track is not None and (
        view.channel.use == "must" or said or view.mapping.status in ("heard", "contradicted")
    )


def _counted_as(report: Report, view: ChannelView) -> str:
    """The one word under which a channel is counted: what its ears say, unless the sound has confirmed it already."""
    said = report.show.ear.says(view.channel.number)
    if said == WRONG or (said == RIGHT and view.mapping.status != "heard"):
        return said
    return view.mapping.status


def by_ear(ear: Ear) -> str:
    """How many channels were answered by ear, and when last; "" where none was.

    >>> by_ear(Ear())
    ''
    """
    if not ear.answers:
        return ""
    said = Counter(answer.answer for answer in ear.answers.values())
    counts = ", ".join(f"{said[kind]} {kind}" for kind in ANSWERS if said[kind])
    last = max((answer.when for answer in ear.answers.values()), default="")
    return f"You answered by ear: {counts}{', last on ' + last if last else ''}."


HEARD = {"heard": "yes", "named": "name", "contradicted": "NO", "unknown": "-"}
"""What a channel's mapping is called in a column, where nothing was said by ear."""


def heard(status: str, said: str) -> str:
    """What confirms or contradicts a channel, for a column of five cells: its mapping's status, and what was said of it
    by ear ("" for nothing).

    >>> heard("named", ""), heard("named", "right"), heard("heard", "right"), heard("contradicted", "right")
    ('name', 'ear', 'both', 'ear?')
    >>> heard("heard", "wrong"), heard("unknown", "unsure")
    ('WRONG', '-')
    """
    if said == WRONG:
        return "WRONG"
    if said == RIGHT:
        return {"heard": "both", "contradicted": "ear?"}.get(status, "ear")
    return HEARD[status]


BY_EAR = (
    "ear: you confirmed it; both: the sound does too; WRONG: you said that it is not; ear?: you confirmed it, and the "
)
BY_EAR += "sound was heard elsewhere."


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
    """A level with one decimal, "-" where it does not exist.

    >>> level(-3.2), level(-0.04), level(None)
    ('-3.2', '0.0', '-')
    """
    return "-" if value is None else f"{_tidy(value):.1f}"


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


def lead(finding: Finding) -> str:
    """The word that `replay explain` takes, and how sure it is where that is not certain: `hot (likely)`."""
    return finding.code if finding.confidence == "certain" else f"{finding.code} ({finding.confidence})"


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
