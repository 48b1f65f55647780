"""What confirms that channels lie on their tracks, in words: the sound, the ears, the names, or nothing."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

from replay.ear import ANSWERS, RIGHT, WRONG, Ear
from replay.report.phrases import sentence

if TYPE_CHECKING:
    from replay.desk.model import ChannelView
    from replay.findings.result import Report

UNCONFIRMED = "Channels are matched by track number only; the sound itself was not compared."
"""Said once with every verdict: a track may lie on the right number and still carry another source."""


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
