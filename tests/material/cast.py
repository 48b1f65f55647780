"""Who is in the band: the sources on the stage and the lines of the input list that pick them up.

Levels are common practice: peak sound pressure close to the source, sensitivities of microphones, levels of DI boxes.
Places are metres: x to the right from the drum stool, y towards the audience.
"""

from __future__ import annotations

from dataclasses import dataclass

DYNAMIC_DBV = -56.5
CONDENSER_DBV = -34.0
"""Microphone sensitivities in dBV at 94 dB SPL (1.5 and 20 mV/Pa)."""


@dataclass(frozen=True, kw_only=True)
class Source:
    """Something that plays. `play` says how: `hits`, `bass`, `comp`, `pad`, `lead`, `stereo`, `voice`, `speech`,
    `clicks` or `ltc`; `what` is the drum piece, the General MIDI program (from 0) or the voice. `spl` is the peak in
    dB SPL at `reach` metres, None where nothing sounds on the stage (DI, line, digital)."""

    name: str
    play: str
    what: str | int = ""
    low: int = 48
    pitch: int = 50
    at: tuple[float, float] = (0.0, 0.0)
    spl: float | None = None
    reach: float = 0.05


@dataclass(frozen=True, kw_only=True)
class Line:
    """A line of the input list. `order` is its place on the stage's list. `side` picks a side of a stereo source.
    `at` is the microphone's place where it is not at its source. `reject` is what it takes off other sources (dB)."""

    name: str
    order: int
    source: str
    kind: str
    input: str = "mic"
    use: str = "must"
    sens: float = DYNAMIC_DBV
    reject: float = 6.0
    at: tuple[float, float] | None = None
    side: int = 0
    flip: bool = False
    partner: str = ""
    pairing: str = ""
    phantom: str = "no"


def _di(name: str, play: str, what: int, low: int) -> Source:
    return Source(name=name, play=play, what=what, low=low)


SOURCES = {
    source.name: source
    for source in (
        Source(name="kick", play="hits", what="kick", at=(0.0, 0.5), spl=134),
        Source(name="snare", play="hits", what="snare", at=(-0.3, 0.3), spl=132),
        Source(name="hat", play="hits", what="hat", at=(-0.6, 0.4), spl=116, reach=0.1),
        Source(name="tom1", play="hits", what="tom1", at=(-0.1, 0.6), spl=130),
        Source(name="tom2", play="hits", what="tom2", at=(0.25, 0.6), spl=130),
        Source(name="tom3", play="hits", what="tom3", at=(0.6, 0.2), spl=130),
        Source(name="crash", play="hits", what="crash", at=(-0.6, 0.8), spl=120, reach=0.3),
        Source(name="ride", play="hits", what="ride", at=(0.7, 0.6), spl=112, reach=0.3),
        Source(name="tambourine", play="hits", what="tambourine", at=(-3.0, 1.0), spl=112, reach=0.15),
        Source(name="bongo", play="hits", what="bongo high", at=(-3.4, 1.2), spl=120),
        Source(name="cajon", play="hits", what="cajon", at=(-3.6, 0.8), spl=122),
        _di("bass", "bass", 33, 28),
        Source(name="guitar 1", play="comp", what=27, low=52, at=(2.2, 0.2), spl=114),
        Source(name="guitar 2", play="comp", what=30, low=45, at=(3.2, 0.3), spl=118),
        _di("acoustic", "comp", 25, 50),
        _di("keys", "stereo", 4, 55),
        _di("strings", "pad", 48, 60),
        _di("organ", "pad", 18, 55),
        _di("banjo", "lead", 105, 60),
        _di("accordion", "comp", 21, 57),
        Source(name="trumpet", play="lead", what=56, low=62, at=(-2.0, 1.8), spl=124, reach=0.15),
        Source(name="trombone", play="lead", what=57, low=46, at=(-2.7, 1.8), spl=120, reach=0.15),
        Source(name="sax", play="lead", what=65, low=55, at=(-1.3, 1.8), spl=118, reach=0.15),
        Source(name="tenor", play="lead", what=66, low=48, at=(-1.3, 2.3), spl=118, reach=0.15),
        Source(name="clarinet", play="lead", what=71, low=58, at=(-2.0, 2.4), spl=108, reach=0.15),
        Source(name="flute", play="lead", what=73, low=67, at=(-2.7, 2.4), spl=104, reach=0.1),
        Source(name="fiddle", play="lead", what=40, low=60, at=(1.5, 1.6), spl=104, reach=0.1),
        Source(name="cello", play="pad", what=42, low=40, at=(2.2, 1.8), spl=104, reach=0.1),
        Source(name="vibes", play="lead", what=11, low=60, at=(3.2, 1.5), spl=108, reach=0.2),
        Source(name="lead voice", play="voice", what="en-us+f3", pitch=60, at=(0.0, 3.0), spl=122),
        Source(name="voice 2", play="voice", what="en-gb+m3", pitch=45, at=(2.0, 2.8), spl=118),
        Source(name="voice 3", play="voice", what="en-us+f2", pitch=65, at=(-1.8, 2.9), spl=118),
        Source(name="voice 4", play="voice", what="en-gb+m7", pitch=40, at=(3.3, 2.6), spl=116),
        Source(name="caller", play="speech", what="en-gb+m1", pitch=40, at=(1.0, 3.2), spl=114),
        Source(name="director", play="speech", what="en-us+m5", pitch=50, at=(0.0, 14.0), spl=104),
        Source(name="choir 1", play="pad", what=52, low=60, at=(4.2, 1.0), spl=98, reach=0.5),
        Source(name="choir 2", play="pad", what=53, low=55, at=(5.0, 1.0), spl=98, reach=0.5),
        _di("playback", "stereo", 48, 52),
        _di("click", "clicks", 0, 0),
        _di("ltc", "ltc", 0, 0),
        _di("piano", "stereo", 0, 48),
        _di("mandolin", "comp", 25, 64),
        _di("pads", "stereo", 89, 52),
        Source(name="nobody", play=""),
    )
}


def _open(name: str, order: int, source: str, kind: str, at: tuple[float, float], partner: str) -> Line:
    """A condenser that stands off and hears several sources."""
    return Line(
        name=name,
        order=order,
        source=source,
        kind=kind,
        sens=CONDENSER_DBV,
        reject=0.0,
        at=at,
        partner=partner,
        pairing="spaced",
        phantom="yes",
    )


def _voice(name: str, order: int, source: str, kind: str) -> Line:
    return Line(name=name, order=order, source=source, kind=kind, reject=9.0)


def _box(name: str, order: int, source: str, kind: str, side: int = 0, partner: str = "", way: str = "di") -> Line:
    pairing = "stereo" if partner else ""
    return Line(
        name=name, order=order, source=source, kind=kind, input=way, side=side, partner=partner, pairing=pairing
    )


def _reed(name: str, order: int, source: str, kind: str) -> Line:
    return Line(name=name, order=order, source=source, kind=kind, sens=CONDENSER_DBV, phantom="yes")


# In the order in which a growing band takes them on: partners stand beside each other.
LINES = (
    Line(name="Kick", order=10, source="kick", kind="kick", reject=9.0),
    Line(name="Snare Top", order=20, source="snare", kind="snare", partner="Snare Bottom", pairing="one-source"),
    Line(
        name="Snare Bottom",
        order=21,
        source="snare",
        kind="snare",
        at=(-0.3, 0.22),
        flip=True,
        partner="Snare Top",
        pairing="one-source",
    ),
    Line(name="Hi-hat", order=30, source="hat", kind="hi-hat", sens=CONDENSER_DBV, phantom="yes"),
    _box("Bass DI", 70, "bass", "bass"),
    Line(name="Guitar 1", order=80, source="guitar 1", kind="guitar"),
    _voice("Vox Lead", 200, "lead voice", "vocal"),
    _open("OH L", 60, "crash", "overhead", (-0.7, -0.4), "OH R"),
    _open("OH R", 61, "ride", "overhead", (0.8, -0.4), "OH L"),
    _box("Keys L", 110, "keys", "keys", 0, "Keys R"),
    _box("Keys R", 111, "keys", "keys", 1, "Keys L"),
    Line(name="Tom 1", order=40, source="tom1", kind="tom"),
    Line(name="Floor Tom", order=42, source="tom3", kind="tom"),
    _voice("BV Left", 210, "voice 2", "backing"),
    _reed("Trumpet", 140, "trumpet", "brass"),
    _reed("Trombone", 141, "trombone", "brass"),
    _reed("Alto Sax", 150, "sax", "woodwind"),
    _box("Acoustic DI", 100, "acoustic", "acoustic"),
    _box("Playback L", 300, "playback", "playback", 0, "Playback R", "digital"),
    _box("Playback R", 301, "playback", "playback", 1, "Playback L", "digital"),
    Line(name="Click", order=310, source="click", kind="click", input="digital"),
    Line(name="Timecode", order=320, source="ltc", kind="timecode", input="line"),
    Line(name="Talkback", order=250, source="director", kind="talkback", use="may"),
    Line(name="Spare 1", order=260, source="nobody", kind="other", use="may"),
    _voice("Caller", 205, "caller", "speech"),
    _box("Strings", 120, "strings", "strings", way="line"),
    Line(name="Guitar 2", order=81, source="guitar 2", kind="guitar"),
    Line(name="Tom 2", order=41, source="tom2", kind="tom"),
    _voice("BV Right", 211, "voice 3", "backing"),
    _reed("Tambourine", 62, "tambourine", "percussion"),
    Line(name="Spare 2", order=261, source="nobody", kind="other", use="may"),
    _reed("Fiddle", 130, "fiddle", "strings"),
    _open("Amb L", 400, "crash", "ambience", (-3.0, 9.0), "Amb R"),
    _open("Amb R", 401, "ride", "ambience", (3.0, 9.0), "Amb L"),
    Line(name="Bongos", order=63, source="bongo", kind="percussion"),
    Line(name="Cajon", order=64, source="cajon", kind="percussion"),
    _reed("Tenor Sax", 151, "tenor", "woodwind"),
    _reed("Clarinet", 152, "clarinet", "woodwind"),
    _reed("Flute", 153, "flute", "woodwind"),
    _reed("Cello", 131, "cello", "strings"),
    _reed("Vibes", 160, "vibes", "percussion"),
    _box("Organ", 115, "organ", "keys", way="line"),
    _box("Accordion DI", 104, "accordion", "keys"),
    _box("Banjo DI", 105, "banjo", "acoustic"),
    _box("Mandolin DI", 106, "mandolin", "acoustic"),
    _box("Piano L", 112, "piano", "keys", 0, "Piano R", "line"),
    _box("Piano R", 113, "piano", "keys", 1, "Piano L", "line"),
    _box("Pads L", 117, "pads", "keys", 0, "Pads R", "line"),
    _box("Pads R", 118, "pads", "keys", 1, "Pads L", "line"),
    _voice("BV Far", 212, "voice 4", "backing"),
    _reed("Choir 1", 220, "choir 1", "choir"),
    _reed("Choir 2", 221, "choir 2", "choir"),
    Line(name="Spare 3", order=262, source="nobody", kind="other", use="may"),
    Line(name="Spare 4", order=263, source="nobody", kind="other", use="may"),
    Line(name="Spare 5", order=264, source="nobody", kind="other", use="may"),
    Line(name="Spare 6", order=265, source="nobody", kind="other", use="may"),
)

EXTRAS = ("talkback", "timecode", "click", "other")
"""Kinds that are no part of the music: talkback, timecode, click and spares."""


def lines(count: int, *, extras: bool = True) -> list[Line]:
    """`count` lines in stage order; a partner who would be left alone makes room for a spare. ValueError beyond."""
    pool = [line for line in LINES if extras or line.kind not in EXTRAS]
    if count > len(pool):
        raise ValueError(f"the band has {len(pool)} lines, not {count}")
    chosen = pool[:count]
    names = {line.name for line in chosen}
    if chosen[-1].partner and chosen[-1].partner not in names:
        later = next((line for line in pool[count:] if not line.partner), None)
        if later is None:
            raise ValueError(f"no band of {count} without half a pair")
        chosen[-1] = later
    return sorted(chosen, key=lambda line: line.order)
