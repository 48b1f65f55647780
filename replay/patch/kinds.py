"""The kinds of source, what each implies, and how a channel's name tells its kind."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping

from replay.patch.model import Kind

MOST_RISE = 9.0
"""The largest rise of a player: a source of which nobody says the kind may be a singer."""


def _kind(name: str, rise: float) -> Kind:
    # Levels of what does not come from a player's hand are set at its source; raising ambience only raises the room.
    given = name in ("playback", "click", "timecode", "talkback", "ambience")
    most = MOST_RISE if name == "other" else None
    return Kind(name=name, rise=rise, judges_low=not given, may_raise=not given, most_rise=most)


KINDS: Mapping[str, Kind] = {
    kind.name: kind
    for kind in (
        _kind("kick", 4),
        _kind("snare", 4),
        _kind("tom", 4),
        _kind("hi-hat", 4),
        _kind("overhead", 4),
        _kind("percussion", 4),
        _kind("bass", 4),
        _kind("guitar", 4),
        _kind("acoustic", 8),
        _kind("keys", 8),
        _kind("strings", 8),
        _kind("brass", 9),
        _kind("woodwind", 8),
        _kind("vocal", 9),
        _kind("backing", 8),
        _kind("speech", 9),
        _kind("choir", 9),
        _kind("playback", 0),
        _kind("click", 0),
        _kind("timecode", 0),
        _kind("talkback", 0),
        _kind("ambience", 15),
        _kind("other", 4),
    )
}
"""Every kind by name. Rises in dB from soundcheck to show are common practice, no source; a patch may set them."""

_VOICE = ("vox", "voc", "vocs", "vocal", "vocals", "voice", "voices", "singer")
_BEHIND = ("bg", "bk", "bck", "back", "backing", "harm", "harmony", "gang", "group")

# Words and phrases of the trade, in the order in which they are tried: the first that stands in the name decides.
# So a word that says what a channel is for (talkback, room, vocal) comes before the instrument it stands beside,
# phrases come before their words, and words that are also people's names or initials come last.
_WORDS: tuple[tuple[str, str], ...] = (
    ("timecode", "ltc, smpte, timecode, time code"),
    ("click", "click, clk, clix, metronome, metro, click track"),
    ("talkback", "talkback, talk back, tb, t b, shout, comms, talk to band"),
    ("playback", "playback, play back, pb, tracks, trax, backing track, backing trk, stems"),
    ("ambience", "ambience, ambient, ambi, amb, room, audience, aud, crowd"),
    ("choir", "choir, chorus vox, sopranos, altos, tenors, basses"),
    ("speech", "speech, spoken, mc, host, presenter, compere, caller, announcer, narrator, lectern, podium, pulpit"),
    ("speech", "voice over, voiceover, vo, lapel, lav, lavalier, panel mic, interview, moderator, panelist, panellist"),
    ("backing", "bv, bvs, bvox, bgv, bgvs, bgvox, backing, backings, bkv"),
    ("backing", ", ".join(f"{behind} {voice}" for behind in _BEHIND for voice in _VOICE)),
    ("vocal", ", ".join(_VOICE) + ", vocalist, sing, lv, rap, rapper, lead sing, soloist"),
    ("kick", "bass drum, bassdrum, b drum, bd, kick, kicks, kik, kck, kk, kd, subkick"),
    ("overhead", "overhead, overheads, over head, over heads, oh, ohs, o h, ovh, ovhd"),
    ("percussion", "steel drum, steel drums, steel pan, steel pans, steelpan, drum machine, drum pad, hand drum"),
    ("snare", "snare, snares, snr, snrs, sn, sd, snare drum"),
    ("hi-hat", "hi hat, hihat, hi hats, hihats, high hat, hh, hhat, hat, hats"),
    ("overhead", "cymbal, cymbals, cym, cyms, ride, crash"),
    ("woodwind", "bass clarinet, bass clar, bass sax, bass flute, english horn, cor anglais, tin whistle, low whistle"),
    ("woodwind", "blues harp, mouth harp, bari sax, sax, saxes, saxophone, saxophones"),
    ("brass", "bass trombone, bass tbn, bass bone, bass trumpet"),
    ("keys", "acoustic piano, ac piano, e piano, el piano, electric piano, grand piano, baby grand"),
    ("guitar", "bass vi, pedal steel, lap steel"),
    ("bass", "double bass, upright bass, dbl bass, acoustic bass, bass, bs, bss, ebass, bgtr, b gtr, contrabass"),
    ("keys", "piano, pianos, pno, keys, key, kbd, kbds, kb, kys, keyb, keyboard, keyboards, synth, synths, syn, organ"),
    ("keys", "org, clav, clavinet, harpsichord, accordion, accordian, accord, melodeon, concertina, squeezebox"),
    ("keys", "harmonium, celeste, ep"),
    ("acoustic", "acoustic, acoust, acou, aco, ac gtr, ac guitar, ac, acgtr, acgt, agtr, a gtr, a guitar, ag, nylon"),
    ("acoustic", "12 string, twelve string, mandolin, mando, mand, mandola, bouzouki, bouz, banjo, bjo, ukulele, uke"),
    ("acoustic", "cittern, lute, oud, sitar, dulcimer, resonator"),
    ("guitar", "guitar, guitars, gtr, gtrs, gt, guit, egtr, elgtr, eg, lead gtr, rhythm gtr"),
    ("strings", "violin, violins, vln, vlns, vn, fiddle, fid, fdl, viola, violas, vla, cello, cellos, vc, vcl, vlc"),
    ("strings", "strings, strgs, string quartet, harp, hurdy gurdy"),
    ("brass", "trumpet, trumpets, tpt, tpts, trp, trpt, trombone, trombones, tbn, trb, bone, bones, horn, horns, hrn"),
    ("brass", "flugelhorn, flugel, flug, cornet, euphonium, euph, tuba, sousaphone, sousa, brass"),
    ("woodwind", "flute, flutes, flt, clarinet, clarinets, clar, oboe, bassoon, bsn, piccolo, picc, whistle, pipes"),
    ("woodwind", "bagpipes, ocarina, harmonica, woodwind, woodwinds, winds, ww, reeds, didgeridoo"),
    ("percussion", "perc, percs, percussion, conga, congas, bongo, bongos, timbale, timbales, cajon, djembe, shaker"),
    ("percussion", "tambourine, tamb, tambo, tabla, cowbell, triangle, timpani, timps, timp, glock, glockenspiel"),
    ("percussion", "xylophone, xylo, marimba, vibraphone, vibes, bodhran, bells, chimes, mallets, darbuka, surdo"),
    ("percussion", "washboard, spoons, claps, snaps, block, blocks, taiko, taikos"),
    ("tom", "rack tom, floor tom, toms, tom, rack, floor, flr"),
    ("percussion", "drum, drums, drs, drm, drms, kit"),
    ("playback", "dj, laptop, computer, usb, mp 3, cd, loop, loops, sfx, sampler, samples, video, walk in, music"),
    ("guitar", "amp, amps, rhythm"),
    ("ambience", "nave, hall"),
    ("timecode", "tc"),
)

_PHRASES: tuple[tuple[str, tuple[str, ...]], ...] = tuple(
    (kind, tuple(phrase.split())) for kind, phrases in _WORDS for phrase in phrases.split(", ")
)
_BESIDE_TOM = frozenset(("tom", "l", "r", "top", "btm", "bottom", "hi", "high", "mid", "lo", "low", "mic", "inch")) | {
    str(number) for number in range(100)
}
_VOCABULARY = frozenset(word for _, phrase in _PHRASES for word in phrase)
_BY_KIND = {kind: frozenset(word for other, phrase in _PHRASES if other == kind for word in phrase) for kind in KINDS}


def kind_from_name(name: str) -> str:
    """The kind of source that a channel's name tells, by whole words and the trade's abbreviations; "other" if none.

    >>> kind_from_name("Kick In"), kind_from_name("Bass vox"), kind_from_name("Spare")
    ('kick', 'vocal', 'other')
    """
    words = words_of(name)
    starts: dict[str, list[int]] = {}
    for i, word in enumerate(words):
        starts.setdefault(word, []).append(i)
    for kind, phrase in _PHRASES:
        if any(tuple(words[i : i + len(phrase)]) == phrase for i in starts.get(phrase[0], ())):
            # Tom is also a person: one with a family name is no drum.
            return "other" if phrase == ("tom",) and not _BESIDE_TOM.issuperset(words) else kind
    return "other"


def trade_words(kind: str) -> frozenset[str]:
    """Every word of the trade by which a name tells this kind."""
    return _BY_KIND.get(kind, frozenset())


def words_of(name: str, *, keep_sides: bool = False) -> list[str]:
    """The words of a name in small letters: split at anything that is no letter, and where a small one meets a large.

    Accents go (cajón), words of persons go (Tom's), and a side is taken off a word of the trade (OHL, KeysR); with
    `keep_sides` it follows as a word of its own.

    >>> words_of("OHL"), words_of("OHL", keep_sides=True)
    (['oh'], ['oh', 'l'])
    """
    plain = "".join(c for c in unicodedata.normalize("NFKD", name[:200]) if not unicodedata.combining(c))
    plain = re.sub(r"\b\w+['’]s\b", " ", plain)
    # Not in names such as McKay, which is no MC.
    plain = re.sub(r"(?<!\bMc)(?<!\bMac)(?<=[a-z])(?=[A-Z])", " ", plain)
    words = re.findall(r"[a-z]+|[0-9]+", plain.casefold())
    out = []
    for word in words:
        if _has_side(word):
            out += [word[:-1], word[-1]] if keep_sides else [word[:-1]]
        else:
            out.append(word)
    return out


def _has_side(word: str) -> bool:
    return len(word) > 2 and word[-1] in "lr" and word not in _VOCABULARY and word[:-1] in _VOCABULARY
