"""Makes the pictures of docs/page.md: `python -m tests.screenshots [SHOW]`.

SHOW is the demo's full show, written with `replay demo`; without it, four minutes of Mill Yard are made for it
(1.1 GB in the folder for temporary files, a few minutes of work).
"""

from __future__ import annotations

import sys
import tempfile
from dataclasses import replace
from pathlib import Path

from replay import excerpts
from replay.demo import write_demo
from replay.report import as_page
from replay.simulate import check
from tests.browser import Browser, browser

DOCS = Path(__file__).parent.parent / "docs"
WIDTH, HEIGHT = 1280, 1080


def main(show: Path | None) -> None:
    with tempfile.TemporaryDirectory() as place:
        folder = show or Path(place) / "mill-yard"
        if show is None:
            write_demo(folder, minutes=4)
        report = check(folder)
        # The demo's take is dated by its scenario; somebody looks at it three hours later.
        seen = replace(report, show=replace(report.show, now=report.show.take.recorded + 3 * 3600))
        page = Path(place) / "report.html"
        as_page.write(seen, str(page), excerpts.cut(report))
        with browser() as window:
            window.size(WIDTH, HEIGHT)
            window.open(page)
            _keep(window, "page-top.webp")
            window.size(WIDTH, HEIGHT, dark=True)
            window.open(page)
            window.run("document.getElementById('time').scrollIntoView()")
            window.driver.execute_async_script(
                "requestAnimationFrame(() => requestAnimationFrame(() => setTimeout(arguments[0], 300)))"
            )
            _keep(window, "page-time.webp")


def _keep(window: Browser, name: str) -> None:
    data = window.picture("webp")
    (DOCS / name).write_bytes(data)
    print(f"docs/{name}: {len(data)} bytes")


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else None)
