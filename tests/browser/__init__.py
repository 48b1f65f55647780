"""A real Chromium, driven from Python: for tests of the page and for the pictures in docs/."""

from __future__ import annotations

import json
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from tests.need import need, need_package

FLAGS = (
    "--headless=new",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--disable-default-apps",
    "--disable-extensions",
    "--disable-dev-shm-usage",
    "--hide-scrollbars",
    "--autoplay-policy=no-user-gesture-required",
    "--mute-audio",
)


class Browser:
    """One window. `driver` is selenium's."""

    def __init__(self, driver: Any) -> None:
        self.driver = driver

    def open(self, page: Path, fragment: str = "") -> None:
        """Open a file, and forget what was logged before. Another fragment of the same page is loaded anew too."""
        self.driver.get("about:blank")
        self.log("browser")
        self.log("performance")
        self.driver.get(page.resolve().as_uri() + fragment)

    def size(self, width: int, height: int, *, dark: bool = False, sharp: float = 1) -> None:
        """A screen of so many pixels, whatever the window allows."""
        self.cdp(
            "Emulation.setDeviceMetricsOverride",
            width=width,
            height=height,
            deviceScaleFactor=sharp,
            mobile=width < 500,
        )
        self.cdp(
            "Emulation.setEmulatedMedia",
            features=[{"name": "prefers-color-scheme", "value": "dark" if dark else "light"}],
        )

    def cdp(self, command: str, **values: Any) -> dict[str, Any]:
        return self.driver.execute_cdp_cmd(command, values)

    def run(self, script: str, *values: Any) -> Any:
        return self.driver.execute_script(script, *values)

    def find(self, selector: str) -> Any:
        return self.driver.find_element("css selector", selector)

    def all(self, selector: str) -> list[Any]:
        return self.driver.find_elements("css selector", selector)

    def click(self, selector: str) -> None:
        """Scroll an element to mid-page, so that no fixed bar covers it, then press it."""
        element = self.find(selector)
        self.run("arguments[0].scrollIntoView({block: 'center', behavior: 'instant'})", element)
        element.click()

    def log(self, kind: str) -> list[dict[str, Any]]:
        return self.driver.get_log(kind)

    def requests(self) -> list[str]:
        """What was asked for since `open`, the page itself included."""
        messages = [json.loads(entry["message"])["message"] for entry in self.log("performance")]
        return [
            message["params"]["request"]["url"]
            for message in messages
            if message["method"] == "Network.requestWillBeSent"
        ]

    def pdf(self, *, letter: bool = False) -> bytes:
        import base64

        width, height = (8.5, 11) if letter else (8.27, 11.69)
        made = self.cdp("Page.printToPDF", paperWidth=width, paperHeight=height, preferCSSPageSize=False)
        return base64.b64decode(made["data"])

    def picture(self, kind: str = "png") -> bytes:
        import base64

        asked = {"format": kind} if kind == "png" else {"format": kind, "quality": 82}
        return base64.b64decode(self.cdp("Page.captureScreenshot", **asked)["data"])


@contextmanager
def browser() -> Iterator[Browser]:
    """A window with an empty profile; skips the test where there is no Chromium."""
    need("chromium", "chromedriver")
    need_package("selenium")
    from selenium import webdriver
    from selenium.webdriver.chrome.options import Options
    from selenium.webdriver.chrome.service import Service

    profile = tempfile.mkdtemp(prefix="replay-chromium-")
    options = Options()
    options.binary_location = shutil.which("chromium") or ""
    for flag in (*FLAGS, f"--user-data-dir={profile}"):
        options.add_argument(flag)
    options.set_capability("goog:loggingPrefs", {"browser": "ALL", "performance": "ALL"})
    driver = webdriver.Chrome(options=options, service=Service(shutil.which("chromedriver")))
    try:
        yield Browser(driver)
    finally:
        driver.quit()
        shutil.rmtree(profile, ignore_errors=True)
