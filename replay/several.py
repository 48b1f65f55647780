"""Many shows in one call, as on a festival's day: a line each, and one exit status for all."""

from __future__ import annotations

import sys
from collections.abc import Mapping, Sequence
from typing import Any

from replay.errors import ReplayError
from replay.report import verdict
from replay.terminal import Progress, complain, complain_of, fitted, say
from replay.text import harmless


def check_each(shows: Sequence[str], how: Mapping[str, Any]) -> int:
    """Check shows one after another; `how` is what `replay.simulate.check` takes beside the show.

    A show that cannot be answered is told on standard error, and the others are checked all the same. Returns the exit
    status: 2 where one could not be answered, else 1 where one has a fault, else 0.
    """
    import replay.simulate as simulate

    status = 0
    for show in shows:
        name = harmless(show, 200)
        try:
            with Progress() as progress:
                report = simulate.check(show, **how, progress=progress)
        except ReplayError as error:
            status = 2
            complain_of(error, name)
            continue
        except OSError as error:
            status = 2
            complain(f"{name}: {harmless(error.strerror or str(error), 1000)}")
            continue
        say(fitted(f"{name}: {verdict.verdict(report)}", sys.stdout) + "\n")
        if report.verdict != "ready":
            status = max(status, 1)
    return status
