"""The report as a page: one file to look at, print and pass on, that needs no network and no server.

What stands in it comes from the parts in `page/`; excerpts to hear are cut elsewhere and handed in.
"""

from __future__ import annotations

import base64
from pathlib import Path
from typing import TYPE_CHECKING, Any

from replay._version import VERSION
from replay.report import confirmed, phrases, verdict, whole
from replay.text import clock

if TYPE_CHECKING:
    from replay.findings.result import Report
    from replay.report.excerpt import Excerpts

OPTION = "--page"
METAVAR = "FILE"
HELP = "Also write a page to look at, hear and print to FILE.html: one file, no network needed."
FOLDER = False
STANDARD_OUTPUT = None
WITH_EXCERPTS = True
"""`write` also takes `excerpts`: what `replay.excerpts.cut` made."""


def write(report: Report, target: str, excerpts: Excerpts | None = None) -> None:
    """Write the page to a file. OutputError where that is impossible."""
    path = Path(target)
    whole.protect(report, path)
    whole.write({path: text(report, excerpts).encode("utf-8")})


def text(report: Report, excerpts: Excerpts | None = None) -> str:
    """The whole page. Imports jinja2."""
    from markupsafe import Markup

    from replay.report.excerpt import NONE
    from replay.report.page import ink

    excerpts = excerpts or NONE
    return (
        ink.environment()
        .get_template("page.html")
        .render(
            **_context(report, excerpts),
            policy=ink.policy(),
            style=Markup(ink.style()),
            script=Markup(ink.script()),
            data=Markup(ink.embedded(_data(report, excerpts))),
        )
    )


def _context(report: Report, excerpts: Excerpts) -> dict[str, Any]:
    from replay.report import sheet, work
    from replay.report.page import channels, drawing, spectrum, work_list

    rows = channels.rows(report)
    return {
        "version": VERSION,
        "title": report.show.patch.title,
        "report": report,
        "counts": verdict.counts(report),
        "verdict": verdict.verdict(report),
        "facts": f"{phrases.take_facts(report)}; {phrases.judged_part(report)}.",
        "unheard": any(channels.UNCONFIRMED in row.trouble for row in rows),
        "confirmation": confirmed.confirmation(report),
        "mono_loudness": phrases.MONO_LOUDNESS,
        "others": report.show.take.others,
        "rows": rows,
        "in_full": channels.IN_FULL,
        "marks": channels.MARKS,
        "ticks": [(tick, channels.place(float(tick))) for tick in channels.TICKS],
        "severity_state": channels.SEVERITY_STATE,
        "severity_word": channels.SEVERITY_WORD,
        "stops": work_list.work_list(report),
        "notes": work.notes(report),
        "about": lambda finding: phrases.about(finding, phrases.names_of(report)),
        "lead": phrases.lead,
        "boxes": [box.name for box in report.show.patch.boxes if any(row.box == box.name for row in rows)],
        "buses": [bus.bus.name for bus in report.show.buses],
        "troubles": sorted(
            {word for row in rows for word in row.trouble if word not in (*channels.WORDS, channels.UNCONFIRMED)}
        ),
        "way": drawing.drawing(report, rows),
        "legend": drawing.LEGEND,
        "spectra": {view.channel.number: spectrum.spectrum(report, view) for view in report.show.channels},
        "extra": [track for track in report.show.tracks if not track.channels],
        "bus_views": report.show.buses,
        "sheets": [(one, *work_list.foot(one)) for one in sheet.boxes(report)],
        "returns": sheet.returns(report),
        "excerpts": excerpts,
        "clock": clock,
        "level": phrases.level,
        "setting": phrases.setting,
        "change": phrases.change,
        "ranges": phrases.ranges,
    }


def _data(report: Report, excerpts: Excerpts) -> dict[str, Any]:
    """What the script needs: figures, short words of our own, and excerpts. Names stay in the markup."""
    from replay.report.page import strips, work_list

    show = report.show
    return {
        "take": work_list.fingerprint(report),
        "duration_s": round(show.take.duration_s, 3),
        "judged_s": [round(show.judged_from_s, 1), round(min(show.judged_to_s, show.take.duration_s), 1)],
        "strips": strips.strips(report),
        "channels": {
            str(view.channel.number): None if view.track is None else view.track.track.number for view in show.channels
        },
        "excerpts": {
            str(number): base64.b64encode(one.mp3).decode("ascii") for number, one in excerpts.by_channel.items()
        },
    }
