"""Single sounds from installed packages: hits of sampled drum kits and words of a speech synthesiser.

Everything is float32 mono at the rate asked for; the hardest hit of a piece peaks at 1.
"""

from __future__ import annotations

import subprocess
import tempfile
from fractions import Fraction
from functools import cache
from pathlib import Path

import numpy as np

from tests.material import midi
from tests.need import need, need_package, need_path

KITS = Path("/usr/share/hydrogen/data/drumkits")

PEARL_HITS = ("Softest", "Soft", "Med", "Hard", "Hardest")

# Files of each piece from the softest to the hardest hit, as (folder, pattern) with the hit's label put into `{}`.
_BY_NUMBER = tuple(str(hit) for hit in range(5))
_BY_PAIR = tuple(f"{hit:02d}" for hit in range(1, 9))
KIT_PIECES: dict[str, dict[str, tuple[str, tuple[str, ...]]]] = {
    "forzee": {
        "kick": ("ForzeeStereo/Kick-{}.wav", _BY_NUMBER),
        "snare": ("ForzeeStereo/Snare-{}.wav", _BY_NUMBER),
        "hat": ("ForzeeStereo/HiHatClosed-{}.wav", _BY_NUMBER),
        "tom1": ("ForzeeStereo/TomHigh-{}.wav", _BY_NUMBER),
        "tom2": ("ForzeeStereo/TomMid-{}.wav", _BY_NUMBER),
        "tom3": ("ForzeeStereo/TomLow-{}.wav", _BY_NUMBER),
        "crash": ("ForzeeStereo/Crash18-{}.wav", _BY_NUMBER),
        "ride": ("ForzeeStereo/RideBow-{}.wav", _BY_NUMBER),
        "tambourine": ("ForzeeStereo/Tambourine-{}.wav", _BY_NUMBER),
    },
    "pearl": {
        "kick": ("The Black Pearl 1.0/PearlKick-{}.wav", PEARL_HITS),
        "snare": ("The Black Pearl 1.0/PearlSnare-{}.wav", PEARL_HITS),
        "hat": ("The Black Pearl 1.0/SabianHatClosed-{}.wav", PEARL_HITS),
        "tom1": ("The Black Pearl 1.0/PearlTom1-{}.wav", PEARL_HITS),
        "tom2": ("The Black Pearl 1.0/PearlTom2-{}.wav", PEARL_HITS),
        "tom3": ("The Black Pearl 1.0/PearlTomFloor-{}.wav", PEARL_HITS),
        "crash": ("The Black Pearl 1.0/SabianCrash-{}.wav", PEARL_HITS),
        "ride": ("The Black Pearl 1.0/PaisteRide-{}.wav", PEARL_HITS),
        "tambourine": ("Gimme A Hand 1.0/Tambourine-{}.wav", PEARL_HITS),
    },
    "pacific": {
        "kick": ("BJA_Pacific/BD_{}.aiff", _BY_PAIR),
        "snare": ("BJA_Pacific/SN_{}.aiff", _BY_PAIR),
        "hat": ("BJA_Pacific/HH_{}.aiff", _BY_PAIR),
        "tom1": ("BJA_Pacific/TM2_{}.aiff", _BY_PAIR[3:]),
        "tom2": ("BJA_Pacific/TM_{}.aiff", _BY_PAIR[3:]),
        "tom3": ("BJA_Pacific/TM_{}.aiff", _BY_PAIR[:4]),
        "crash": ("The Black Pearl 1.0/ZildjianSplash-{}.wav", PEARL_HITS),
        "ride": ("BJA_Pacific/RD_{}.aiff", _BY_PAIR[:6]),
        "tambourine": ("Gimme A Hand 1.0/Maraca-{}.wav", PEARL_HITS),
    },
    "millo": {
        "kick": ("Millo_MultiLayered3/bd_{}.flac", _BY_PAIR),
        "snare": ("Millo_MultiLayered3/sd_{}.flac", _BY_PAIR),
        "hat": ("Millo_MultiLayered3/hh_{}.flac", _BY_PAIR),
        "tom1": ("Millo_MultiLayered3/t1_{}.flac", _BY_PAIR),
        "tom2": ("Millo_MultiLayered3/t2_{}.flac", _BY_PAIR),
        "tom3": ("Millo_MultiLayered3/ft_{}.flac", _BY_PAIR),
        "crash": ("Millo_MultiLayered3/cc_{}.flac", _BY_PAIR),
        "ride": ("Millo_MultiLayered3/rc_{}.flac", _BY_PAIR),
        "tambourine": ("Gimme A Hand 1.0/Tambourine-{}.wav", PEARL_HITS),
    },
    "layered": {
        "kick": ("Millo_MultiLayered2/bd_{}.flac", _BY_PAIR),
        "snare": ("Millo_MultiLayered2/jsnare_{}.flac", _BY_PAIR),
        "hat": ("Millo_MultiLayered2/hhclosed_{}.flac", _BY_PAIR),
        "tom1": ("Millo_MultiLayered2/tom_{}.flac", _BY_PAIR[2:]),
        "tom2": ("Millo_MultiLayered2/tom_{}.flac", _BY_PAIR[:2]),
        "tom3": ("Millo_MultiLayered2/floortom_{}.flac", _BY_PAIR),
        "crash": ("Millo_MultiLayered2/crash_{}.flac", _BY_PAIR),
        "ride": ("Millo_MultiLayered2/ride_{}.flac", _BY_PAIR),
        "tambourine": ("Gimme A Hand 1.0/Maraca-{}.wav", PEARL_HITS),
    },
    "colombo": {
        "kick": ("ColomboAcousticDrumkit/bassdrum-4mics-br-stereo-{}.flac", ("soft2", "soft4", "normal3")),
        "snare": ("ColomboAcousticDrumkit/snare-opaque-normal-mic-normal_{}.flac", ("shot2", "shot3")),
        "hat": ("ColomboAcousticDrumkit/hihat-closed-{}.flac", ("1", "4", "6")),
        "tom1": ("ColomboAcousticDrumkit/tom-hi-{}.flac", ("1",)),
        "tom2": ("ColomboAcousticDrumkit/tom-mid-{}.flac", ("1",)),
        "tom3": ("ColomboAcousticDrumkit/tom-low-{}.flac", ("1",)),
        "crash": ("ColomboAcousticDrumkit/crash16i__crash{}.flac", ("1",)),
        "ride": ("ColomboAcousticDrumkit/crash20i__ride{}.flac", ("4",)),
        "tambourine": ("Gimme A Hand 1.0/Tambourine-{}.wav", PEARL_HITS),
    },
    "early": {
        "kick": ("Millo-Drums_v.1/bd{}.flac", ("1",)),
        "snare": ("Millo-Drums_v.1/snare{}.flac", ("1", "3")),
        "hat": ("Millo-Drums_v.1/{}.flac", ("closehihat3", "pedalhihat")),
        "tom1": ("Millo-Drums_v.1/tom1_{}.flac", ("1",)),
        "tom2": ("Millo-Drums_v.1/tom1_{}.flac", ("a",)),
        "tom3": ("Millo-Drums_v.1/tom2_{}.flac", ("1",)),
        "crash": ("Millo-Drums_v.1/cra_{}.flac", ("Rock_a",)),
        "ride": ("Millo-Drums_v.1/ride{}.flac", ("1", "2")),
        "tambourine": ("Gimme A Hand 1.0/Tambourine-{}.wav", PEARL_HITS),
    },
    "hands": {
        "bongo high": ("Gimme A Hand 1.0/BongoHi-{}.wav", PEARL_HITS),
        "bongo low": ("Gimme A Hand 1.0/BongoLo-{}.wav", PEARL_HITS),
        "cajon": ("Gimme A Hand 1.0/CajonThumps-{}.wav", PEARL_HITS),
        "slap": ("Gimme A Hand 1.0/CajonSlaps-{}.wav", PEARL_HITS),
        "cowbell": ("Gimme A Hand 1.0/Cowbell-{}.wav", PEARL_HITS),
        "clap": ("Gimme A Hand 1.0/HandClap-{}.wav", PEARL_HITS),
    },
}

FONT_KITS = {
    "standard": 0, "fourth": 4, "room": 8, "power": 16, "loud": 17, "electronic": 24, "jazz": 32, "brush": 40,
}  # fmt: skip
"""Kits of the General MIDI sound font, by their programs."""
FONT_PIECES = {
    "kick": 36, "snare": 38, "hat": 42, "tom1": 48, "tom2": 45, "tom3": 41, "crash": 49, "ride": 51, "tambourine": 54,
}  # fmt: skip
FONT_VELOCITIES = (50, 70, 90, 110, 127)

LONGEST_HIT_S = 3.0
FADE_S = 0.05


def resample(samples: np.ndarray, old: int, new: int) -> np.ndarray:
    """Samples at another rate (polyphase, scipy's default window)."""
    if old == new:
        return samples
    from scipy.signal import resample_poly

    ratio = Fraction(new, old)
    return resample_poly(samples, ratio.numerator, ratio.denominator).astype(np.float32)


def read_mono(path: Path, rate: int) -> np.ndarray:
    """A sound file as mono (mean of its channels) at `rate`."""
    need_package("soundfile")
    import soundfile

    samples, old = soundfile.read(path, dtype="float32", always_2d=True)
    return resample(samples.mean(axis=1), old, rate)


@cache
def hits(kit: str, piece: str, rate: int) -> tuple[np.ndarray, ...]:
    """The hits of a piece from soft to hard, faded out after three seconds at most; skips where the kit is missing."""
    if kit in FONT_KITS:
        return _font_hits(FONT_KITS[kit], FONT_PIECES[piece], rate)
    need_path(KITS, "hydrogen-drumkits")
    pattern, labels = KIT_PIECES[kit][piece]
    out = []
    for label in labels:
        path = KITS / pattern.format(label)
        if not path.exists():
            continue
        out.append(_faded(read_mono(path, rate)[: round(LONGEST_HIT_S * rate)], rate))
    if not out:
        raise FileNotFoundError(KITS / pattern)
    # Some kits label their hits out of order: sorted here by what they are.
    out.sort(key=lambda samples: float(np.abs(samples).max()))
    loudest = np.abs(out[-1]).max()
    return tuple(samples / loudest for samples in out)


def _font_hits(program: int, pitch: int, rate: int) -> tuple[np.ndarray, ...]:
    """The hits of a piece of a sound font's kit, from soft to hard."""
    apart = LONGEST_HIT_S + 1.0
    notes = tuple((apart * place, LONGEST_HIT_S, pitch, velocity) for place, velocity in enumerate(FONT_VELOCITIES))
    played = midi.render(program, notes, rate, round(apart * len(notes) * rate), midi.PERCUSSION).mean(axis=0)
    starts = (round(apart * place * rate) for place in range(len(notes)))
    out = [_faded(played[start : start + round(LONGEST_HIT_S * rate)].copy(), rate) for start in starts]
    loudest = np.abs(out[-1]).max()
    return tuple(samples / loudest for samples in out)


def _faded(samples: np.ndarray, rate: int) -> np.ndarray:
    fade = min(round(FADE_S * rate), len(samples))
    samples[-fade:] *= np.linspace(1, 0, fade, dtype=np.float32)
    return samples


@cache
def say(text: str, voice: str, rate: int, *, words_a_minute: int = 150, pitch: int = 50) -> np.ndarray:
    """Words spoken by espeak-ng's `voice` (such as `en-us+f3`), normalised to a peak of 1."""
    need("espeak-ng")
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "words.wav"
        subprocess.run(
            ["espeak-ng", "-v", voice, "-s", str(words_a_minute), "-p", str(pitch), "-w", str(path), text],
            check=True,
            capture_output=True,
        )
        samples = read_mono(path, rate)
    return samples / np.abs(samples).max()
