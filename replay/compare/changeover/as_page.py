"""A changeover as a page to print: a sheet for each stage box in the order of work, and one for desk and recorder."""

from __future__ import annotations

from replay._version import VERSION
from replay.compare.changeover import as_text as words
from replay.compare.changeover.sockets import Changeover
from replay.compare.changeover.words import about_links, channel_words, track_words
from replay.text import ranges


def text(change: Changeover) -> str:
    """The whole page. Imports jinja2."""
    from markupsafe import Markup

    from replay.report.page import ink

    return (
        ink.environment()
        .get_template("changeover.html")
        .render(
            version=VERSION,
            policy=ink.policy(),
            style=Markup(ink.style()),
            change=change,
            first_line=words.first_line(change),
            names=words.from_to(change),
            heads=words.HEADS,
            row=words.row,
            behind=words.behind,
            step_name=words.STEP_WORDS,
            step_words=words.step_words,
            about_box=words.about_box,
            channel_words=channel_words,
            track_words=track_words,
            links=about_links(change),
            caution=words.CAUTION,
            ranges=ranges,
        )
    )
