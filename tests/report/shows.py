"""Hand-made answers of `check` for the tests of the report formats: one small show, and the means to change it.

The figures are chosen, not measured: what a report prints can be told from this file alone.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from replay.desk.model import Advice, BusView, ChannelView, Clipping, ClipRun, Levels, PairView, Show, TrackView
from replay.findings.finding import Finding
from replay.findings.result import Report
from replay.patch.model import (
    Box,
    Bus,
    Channel,
    Feed,
    Kind,
    Link,
    Patch,
    Range,
    Send,
    Slot,
    Socket,
    TakeChoice,
)
from replay.patch.routes import Route, routes
from replay.take.model import Take, Track
from tests import parts

RATE = parts.RATE
FRAMES = 600 * RATE
RECORDED = 1_700_000_000.0
NOW = RECORDED + 3 * 3600 + 60
FOLDER = Path("/shows/mill-yard")

DECK = Box(name="deck", sockets=24, gain=Range(min=0, max=60, step=1), pad=20.0)
RISER = Box(name="riser", sockets=16, gain=Range(min=0, max=60, step=1), gains="monitors")
LOCAL = Box(name="local", sockets=8)

CHANNELS = (
    Channel(
        number=1,
        name="Kick in",
        kind="kick",
        socket=Socket("deck", 1),
        gain=30.0,
        trim=-2.0,
        sends=(Send(bus="main", level=-10.0),),
        line=2,
    ),
    Channel(number=2, name="Snare top", kind="snare", socket=Socket("deck", 2), gain=38.0, line=3),
    Channel(number=3, name="Overhead left", kind="overhead", socket=Socket("deck", 3), phantom="yes", pair=4, line=4),
    Channel(number=4, name="Overhead right", kind="overhead", socket=Socket("deck", 4), phantom="yes", pair=3, line=5),
    Channel(number=5, name="Bass", kind="bass", input="di", socket=Socket("riser", 13), gain=24.0, trim=1.5, line=6),
    Channel(number=6, name="Vocal caller", kind="vocal", socket=Socket("deck", 5), gain=44.0, line=7),
    Channel(number=7, name="Vocal spare", kind="vocal", use="may", socket=Socket("deck", 6), gain=40.0, line=8),
    Channel(number=8, name="Talkback", kind="talkback", use="may", socket=Socket("local", 1), line=9),
    Channel(number=9, name="Fiddle", kind="strings", socket=Socket("riser", 14), gain=20.0, line=10),
)

LEVELS = {
    1: (
        Levels(
            sample_peak_dbfs=-9.94,
            true_peak_dbtp=-9.9,
            true_peak_s=300.0,
            played_peak_dbtp=-10.6,
            integrated_lufs=-31.2,
            momentary_max_lufs=-22.0,
            short_term_max_lufs=-25.5,
            loudness_range_lu=6.0,
            rms_dbfs=-30.1,
            crest_db=20.2,
            noise_floor_dbfs=-71.0,
            dc_dbfs=-95.0,
            active_percent=62.4,
        )
    ),
    2: Levels(
        sample_peak_dbfs=0.0,
        true_peak_dbtp=0.63,
        true_peak_s=151.2,
        played_peak_dbtp=0.4,
        integrated_lufs=-19.5,
        momentary_max_lufs=-10.0,
        short_term_max_lufs=-14.1,
        loudness_range_lu=5.0,
        rms_dbfs=-20.0,
        crest_db=20.6,
        noise_floor_dbfs=-60.0,
        dc_dbfs=-90.0,
        active_percent=70.0,
    ),
    3: Levels(
        sample_peak_dbfs=-14.0,
        true_peak_dbtp=-13.2,
        true_peak_s=60.0,
        played_peak_dbtp=-14.4,
        integrated_lufs=-33.0,
        noise_floor_dbfs=-66.6,
        active_percent=90.0,
    ),
    4: Levels(
        sample_peak_dbfs=-7.4,
        true_peak_dbtp=-7.0,
        true_peak_s=3725.0,
        played_peak_dbtp=-14.0,
        lone_peak_s=272.4,
        integrated_lufs=-32.5,
        noise_floor_dbfs=-66.0,
        active_percent=90.0,
    ),
    5: Levels(
        sample_peak_dbfs=-4.02,
        true_peak_dbtp=-4.0,
        true_peak_s=200.0,
        played_peak_dbtp=-4.2,
        integrated_lufs=-20.0,
        noise_floor_dbfs=-80.0,
        active_percent=88.0,
    ),
    6: Levels(sample_peak_dbfs=-84.0, true_peak_dbtp=-83.5, noise_floor_dbfs=-97.5, active_percent=0.0),
    7: Levels(),
}

ADVICE = {
    2: Advice(
        gain_db=-10.0,
        was_db=38.0,
        new_gain_db=28.0,
        trim_db=10.0,
        order="Gain down first, then trim up.",
        reason="Clipped.",
    ),
    5: Advice(
        gain_db=-6.0,
        was_db=24.0,
        new_gain_db=18.0,
        trim_db=7.5,
        order="Gain down first, then trim up.",
        ask="Tell the monitor desk first.",
        reason="Plays up to -4.2 dBTP now; 4 dB more are expected in the show.",
    ),
}

CLIPPED = Finding(
    code="clipped",
    severity="fault",
    confidence="certain",
    channels=(2,),
    tracks=(2,),
    slots=(Slot("main", 2),),
    sockets=(Socket("deck", 2),),
    start_s=151.2,
    end_s=482.0,
    amount=14.0,
    unit="runs",
    message="14 runs at full scale between 2:31 and 8:02, the longest 0.8 ms.",
    action="Turn down, record again and check.",
)
DEAD = Finding(
    code="noise-only",
    severity="fault",
    confidence="likely",
    channels=(6,),
    tracks=(6,),
    slots=(Slot("main", 6),),
    sockets=(Socket("deck", 5),),
    message="The preamp's own noise and nothing else, 84 dB under full scale.",
    action="Check microphone, cable, phantom power and mute switch.",
)
HOT = Finding(
    code="hot",
    severity="warning",
    confidence="certain",
    channels=(5,),
    tracks=(5,),
    sockets=(Socket("riser", 13),),
    amount=-0.2,
    unit="dBTP",
    message="Plays up to -4.2 dBTP; with the show 4 dB louder it reaches -0.2.",
    action="Turn down by 6 dB.",
)
NO_TRACK = Finding(
    code="no-track",
    severity="fault",
    confidence="certain",
    channels=(9,),
    slots=(Slot("main", 30),),
    sockets=(Socket("riser", 14),),
    message="The take has no track 30.",
    action="Arm track 30 on the recorder and record again.",
)
BUS_OVER = Finding(
    code="bus-over",
    severity="warning",
    confidence="certain",
    amount=2.4,
    unit="dB",
    key="main",
    start_s=151.0,
    message="Bus main reaches -0.6 dBTP at 2:31, 2.4 dB above its ceiling.",
    action="Lower channel 2 in it by 4 dB.",
)
LOCAL_INPUT = Finding(
    code="not-recorded",
    severity="note",
    confidence="certain",
    channels=(8,),
    sockets=(Socket("local", 1),),
    message="A local input: no feed carries it, it stays live on playback.",
    action="Nothing, if that is meant.",
)
OLD_TAKE = Finding(
    code="old-take",
    severity="note",
    confidence="certain",
    message="The take is 3 hours old.",
    action="Nothing.",
)
FINDINGS = (CLIPPED, DEAD, NO_TRACK, HOT, BUS_OVER, LOCAL_INPUT, OLD_TAKE)

STATES = {1: "good", 2: "bad", 3: "good", 4: "good", 5: "look", 6: "bad", 7: "spare", 8: "unjudged", 9: "bad"}


def track(number: int, name: str = "", *, bits: int = 24, is_float: bool = False) -> Track:
    """A mono WAV as long as the take."""
    path = FOLDER / "audio" / f"Track {number:02d}.wav"
    file = parts.file(path, FRAMES, bits=bits, is_float=is_float, names=(name,), numbers=(number,), modified=RECORDED)
    return parts.track(number, file, name)


def patch(channels: tuple[Channel, ...] = CHANNELS) -> Patch:
    """Two stage boxes on a link of 32 slots, and local inputs that nothing records."""
    return parts.patch(
        FOLDER,
        channels,
        title="Saturday, Mill Yard barn dance",
        take=TakeChoice(folder="audio"),
        kinds={"kick": Kind(name="kick", rise=4.0)},
        boxes=(DECK, RISER, LOCAL),
        links=(Link(name="main", slots=32, first_track=1),),
        feeds=(
            Feed(box="deck", link="main", sources=tuple(range(1, 25)), slots=tuple(range(1, 25))),
            Feed(box="riser", link="main", sources=tuple(range(9, 17)), slots=tuple(range(25, 33))),
        ),
        buses=(Bus(name="main"),),
    )


def view(channel: Channel, way: Route) -> ChannelView:
    """A channel with the levels chosen above; its trim is added to what is recorded."""
    number = channel.number
    slot = way.slots[0] if way.slots else None
    levels = LEVELS.get(number)
    if levels is None:
        status = "no-track" if slot else "live"
        return ChannelView(
            channel=channel,
            status=status,
            slot=slot,
            playback=slot,
            track=None,
            recorded=None,
            input=None,
            headroom_db=None,
            expected_peak_dbtp=None,
            advice=None,
        )
    after = None if levels.true_peak_dbtp is None else levels.true_peak_dbtp + channel.trim
    runs = (ClipRun(start_s=151.2, length=38, length_ms=0.8, positive=True),) if number == 2 else ()
    tracked = TrackView(
        track=track(number, channel.name),
        slot=slot,
        channels=(number,),
        measurement=parts.measurement(number, FRAMES * 10 // RATE),
        whole=levels,
        recorded=levels,
        clipping=Clipping(runs=runs, count=14 if runs else 0, longest_ms=0.8 if runs else 0.0),
        all_zero=number == 7,
        active_s=0.0,
    )
    return ChannelView(
        channel=channel,
        status="track",
        slot=slot,
        playback=slot,
        track=tracked,
        recorded=levels,
        input=replace(levels, true_peak_dbtp=after),
        headroom_db=None if after is None else -after,
        expected_peak_dbtp=None,
        advice=ADVICE.get(number),
    )


def report(
    *,
    channels: tuple[Channel, ...] = CHANNELS,
    findings: tuple[Finding, ...] = FINDINGS,
    states: dict[int, str] | None = None,
    others: tuple[str, ...] = ("linecheck", "friday"),
) -> Report:
    """The small show's answer, or one with other channels, findings or states."""
    chosen = patch(channels)
    ways = routes(chosen)
    views = tuple(view(channel, ways.of(channel.number)) for channel in channels)
    tracks = tuple(one.track for one in views if one.track is not None)
    take = Take(
        folder=FOLDER / "audio",
        rate=RATE,
        frames=FRAMES,
        tracks=tuple(one.track for one in tracks),
        troubles=(),
        recorded=RECORDED,
        others=others,
    )
    show = Show(
        patch=chosen,
        routes=ways,
        take=take,
        channels=views,
        tracks=tracks,
        pairs=(
            PairView(
                left=3,
                right=4,
                pairing="stereo",
                integrated_lufs=-29.75,
                momentary_max_lufs=-20.0,
                short_term_max_lufs=-24.0,
                loudness_range_lu=7.2,
                true_peak_dbtp=-7.0,
            ),
        ),
        buses=(
            BusView(
                bus=chosen.buses[0],
                channels=(1, 2),
                true_peak_dbtp=-0.6,
                true_peak_s=151.0,
                headroom_db=-2.4,
                loudest=(2, 1),
            ),
        ),
        judged_from_s=90.0,
        judged_to_s=600.0,
        now=NOW,
        limits={"clipped.runs": 3.0},
    )
    verdict = "not-ready" if any(finding.severity == "fault" for finding in findings) else "ready"
    return Report(show=show, findings=findings, states=STATES if states is None else states, verdict=verdict)


def in_folder(folder: Path, made: Report | None = None) -> Report:
    """A show (the small one) with its files in `folder`, the take in its folder `audio`."""
    made = made or report()
    take = replace(made.show.take, folder=folder / "audio")
    patch = replace(made.show.patch, path=folder / "patch.toml", inputs_path=folder / "inputs.csv", folder=folder)
    (folder / "audio").mkdir()
    (folder / "patch.toml").write_text("mine")
    (folder / "inputs.csv").write_text("mine")
    return replace(made, show=replace(made.show, take=take, patch=patch))
