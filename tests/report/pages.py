"""Shows to make pages from: the small hand-made show with histories behind its figures, and a hostile one."""

from __future__ import annotations

import base64
import io
import re
from dataclasses import replace
from pathlib import Path

import numpy as np

from replay.desk.model import TrackView
from replay.ear import Answer, Ear
from replay.findings.result import Report
from replay.mapping.model import ChannelMapping, MappingResult
from replay.meters.model import Measurement
from replay.patch.model import Channel, Slot
from replay.report.excerpt import Excerpt, Excerpts
from tests import parts
from tests.report import shows

HOSTILE = "<script>window.hit=1</script>\"'><img src=x onerror=window.hit=1>"
"""As a name. Were any of it taken for markup, the page would run it."""


def histories(hops: int, loud: float = 0.5) -> dict[str, np.ndarray]:
    """A track that plays every other ten seconds: sample peaks at `loud`, mean square a hundredth of that."""
    plays = (np.arange(hops) // 100) % 2 == 0
    level = np.where(plays, loud, loud / 1000)
    energy = level**2 * 48.0
    return {
        "high": level,
        "low": -level / 2,
        "energy": energy,
        "k_energy": energy,
        "k_energy_10ms": np.repeat(energy / 10, 10),
        "not_a_number": np.zeros(hops),
        **{f"band_{band}": energy if band == 3 else energy / 100 for band in range(11)},
    }


def measured(number: int, columns: dict[str, np.ndarray], rate: int = shows.RATE) -> Measurement:
    """A measurement of whole hops with these histories; KeyError for others."""
    return parts.measurement(number, len(columns["energy"]), columns, rate=rate)


def with_histories(report: Report, hops: int = 6000) -> Report:
    """The same answer, with histories in every track."""
    tracks: dict[int, TrackView] = {
        one.track.number: replace(one, measurement=measured(one.track.number, histories(hops)))
        for one in report.show.tracks
    }
    channels = tuple(
        replace(view, track=tracks[view.track.track.number]) if view.track is not None else view
        for view in report.show.channels
    )
    show = replace(report.show, tracks=tuple(tracks.values()), channels=channels)
    return replace(report, show=show)


def small() -> Report:
    """The small show with histories."""
    return with_histories(shows.report())


def hostile() -> Report:
    """The small show with hostile names wherever a name can come from outside."""
    channels = tuple(
        replace(channel, name=f"{channel.number}{HOSTILE}", mic=HOSTILE, note=HOSTILE) for channel in shows.CHANNELS
    )
    finding = replace(shows.CLIPPED, message=f"14 runs. {HOSTILE}", action=HOSTILE)
    made = with_histories(shows.report(channels=channels, findings=(finding, *shows.FINDINGS[1:])))
    return replace(made, show=replace(made.show, patch=replace(made.show.patch, title=HOSTILE)))


def exchanged() -> Report:
    """The small show with channel 3 coming back from slot 4."""
    channels = list(shows.CHANNELS)
    channels[2] = replace(channels[2], playback=Slot("main", 4))
    return with_histories(shows.report(channels=tuple(channels)))


def answered() -> Report:
    """The small show, its mapping judged and three channels answered by ear: 1 right, 5 wrong, 3 unsure."""
    said = (
        Answer(channel=1, name="Kick in", answer="right", date="2026-06-20T17:30:00+02:00"),
        Answer(channel=3, name="Overhead left", answer="unsure", date="2026-06-20T17:31:00+02:00"),
        Answer(channel=5, name="Bass", answer="wrong", is_really=HOSTILE, date="2026-06-20T17:32:00+02:00"),
    )
    made = small()
    heard = ChannelMapping("heard", "likely", ("it sounds like a snare",))
    views = tuple(
        replace(view, mapping=heard) if view.channel.number in (2, 5) else view for view in made.show.channels
    )
    ear = Ear(answers={one.channel: one for one in said})
    return replace(made, show=replace(made.show, channels=views, ear=ear, mapping=MappingResult(judged=True)))


def large(channels: int = 56, hours: float = 2) -> tuple[Report, Excerpts]:
    """A long show whose histories do not repeat, and thirty excerpts of 30 KB."""
    chosen = tuple(
        Channel(number=n, name=f"Channel {n}", kind="vocal", socket=shows.CHANNELS[0].socket, line=n + 1)
        for n in range(1, channels + 1)
    )
    levels = dict.fromkeys(range(1, channels + 1), shows.LEVELS[1])
    before, shows.LEVELS = shows.LEVELS, levels  # the hand-made levels go by number
    try:
        made = shows.report(channels=chosen, findings=(), states=dict.fromkeys(levels, "good"))
    finally:
        shows.LEVELS = before
    hops = int(hours * 36000)
    random = np.random.default_rng(1)
    tracks = []
    for one in made.show.tracks:
        columns = histories(hops)
        for name in ("high", "low", "energy", "k_energy"):
            columns[name] = columns[name] * random.uniform(0.01, 1, hops)
        tracks.append(replace(one, measurement=measured(one.track.number, columns)))
    views = tuple(replace(view, track=tracks[at]) for at, view in enumerate(made.show.channels))
    show = replace(made.show, channels=views, tracks=tuple(tracks), judged_to_s=hours * 3600)
    show = replace(show, take=replace(show.take, frames=hops * shows.RATE // 10))
    excerpts = {
        n: Excerpt(channel=n, mp3=random.bytes(30_000), start_s=1.0, length_s=3.6, gain_db=-4.0, why="loud")
        for n in range(1, 31)
    }
    return replace(made, show=show), Excerpts(by_channel=excerpts)


def tone() -> bytes:
    """Two seconds of a quiet sine as MP3. Imports soundfile."""
    import soundfile

    out = io.BytesIO()
    sine = 0.1 * np.sin(2 * np.pi * 440 * np.arange(2 * 48000) / 48000)
    soundfile.write(out, sine, 48000, format="MP3", subtype="MPEG_LAYER_III")
    return out.getvalue()


def excerpts() -> Excerpts:
    """One excerpt, of channel 2."""
    one = Excerpt(channel=2, mp3=tone(), start_s=150.0, length_s=2.0, gain_db=-19.4, why="clipped")
    return Excerpts(by_channel={2: one})


def data_of(page: str) -> str:
    """The JSON text in a page."""
    found = re.search(r'<script type="application/json" id="data">(.*?)</script>', page, re.S)
    assert found
    return found.group(1)


def rows_of(strip: dict) -> list[np.ndarray]:
    """A strip's four rows of bytes: high, low, RMS, loudness."""
    columns = strip["columns"]
    values = np.frombuffer(base64.b64decode(strip["bytes"]), np.uint8)
    return [values[row * columns : (row + 1) * columns] for row in range(4)]


def write(folder: Path, report: Report, heard: Excerpts | None = None) -> Path:
    """A page in a file."""
    from replay.report import as_page

    path = folder / "report.html"
    as_page.write(report, str(path), heard)
    return path
