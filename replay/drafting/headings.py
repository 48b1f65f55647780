"""What a heading of an input list may mean, in English and, for the common ones, German, French and Spanish.

A heading may mean several things (`Input` over numbers is a channel, over names a source): each is a candidate with a
weight, and `columns` lets the cells below decide. Weights only order candidates: 10 for a word that means one thing,
down to 4 for one that is usually something else.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping
from functools import lru_cache

FIELDS = (
    *("channel", "name", "box", "socket", "track", "kind", "use", "input", "di", "mic", "gain", "pad", "phantom"),
    *("trim", "polarity", "stereo", "pair", "pairing", "note"),
)
"""What a column can mean. `socket` cells may hold their box too (`A 12`); `di` is a column of marks, `stereo` one that
says which sources are two."""

_MEANINGS: Mapping[str, tuple[tuple[str, float], ...]] = {
    "channel|channels|ch|chan|chn|ch no|ch nr|ch num|channel no|channel nr|channel num|channel number|desk ch|"
    "desk channel|console ch|console channel|foh ch|foh channel|mixer ch|mixer channel|mix ch|kanal|kan|kanal nr|"
    "kanalnummer|pultkanal|voie|no voie|n voie|numero voie|canal|no canal|n canal|numero canal|ch #|# ch|cha": (
        ("channel", 10),
    ),
    "foh|desk|console|pult|mixer|mischpult|surface|fader|desk in|desk input|console input": (
        ("channel", 8),
        ("socket", 5),
    ),
    "input|inputs|in|input no|input nr|input num|input number|input ch|input channel|in ch|eingang|eing|entree|"
    "entrada|in #|input #|entrees|entradas": (("channel", 7), ("socket", 6.5), ("input", 6), ("name", 6)),
    "#|no|nr|num|number|numero|n|lfd nr|pos nr|line|line no|line nr|pos": (("channel", 5), ("socket", 4)),
    "name|channel name|input name|ch name|source name|kanalname|nom|nombre|scribble|scribble strip": (("name", 10),),
    "source|sources|instrument|instruments|instrumento|quelle|signal|signalquelle|fuente|what|item|input source|"
    "instrument source|source instrument|instrument voice|sound source": (("name", 9), ("mic", 4)),
    "label|description|desc|bezeichnung|beschreibung|descripcion|designation|designacion|libelle|assignment|belegung": (
        ("name", 8),
        ("note", 5),
    ),
    "musician|player|performer|musiker|musicien|musico|who|artist": (("name", 4),),
    "box|stage box|stagebox|sb|stage rack|io rack|i o rack|snake|sub snake|subsnake|buehnenbox|boitier|"
    "boitier de scene|caja|caja de escenario|box name|rack|sub": (("box", 10), ("socket", 8)),
    "socket|box input|box in|box ch|box channel|box socket|stagebox in|stage box in|stagebox input|stage box input|"
    "stagebox ch|stage box ch|stagebox channel|stage box channel|stagebox no|stage box no|stagebox nr|stagebox socket|"
    "sb in|sb ch|sb input|snake ch|snake in|snake input|snake channel|snake no|stage in|stage input|stage input no|"
    "rack in|rack input|patch in|input patch|patch from|patched to|port|xlr|buchse|prise|toma|preamp no|socket no|"
    "socket nr|box no|box nr|multi ch|patch input|eingang stagebox|stagebox eingang|entree boitier|conector": (
        ("socket", 10),
    ),
    "patch|stage|multi|multicore|core|loom|patching|soft patch|physical|physical input|steckplatz|parche|"
    "patch stage|stage patch|multipaire|multipar": (("socket", 9), ("box", 5)),
    "track|tracks|rec|record|recorder|rec track|record track|rec ch|recorder track|recording track|multitrack|"
    "multitrack no|mtr|mt track|track no|track nr|spur|spur nr|piste|pista|rec slot|slot|aufnahme|aufnahmespur|"
    "rec no|trk": (("track", 10),),
    "group|groups|section|gruppe|sektion|groupe|grupo|seccion": (("kind", 5),),
    "kind|source kind|kategorie|category|categorie|categoria|family|instrument group": (("kind", 8),),
    "use|status|needed": (("use", 8),),
    "input type|type of input|signal type|mic line|mic or line|line mic|mic line di|type|typ|tipo": (
        ("input", 8),
        ("kind", 6),
        ("mic", 5),
    ),
    "di|d i|di box": (("di", 9), ("mic", 5)),
    "mic|mics|mic di|di mic|mic or di|microphone|microphone di|mikrofon|mikro|mikrofon di|mikro di|micro|micro di|"
    "microphone or di|microfono|microfono di|mic model|mic type|transducer|capteur|captation|pickup|mik|mic choice|"
    "preferred mic|mic pref|abnahme|micros|mic to use": (("mic", 10),),
    "gain|gains|preamp|preamp gain|pre gain|mic gain|head amp|ha|ha gain|gain db|input gain|analog gain|analogue gain|"
    "vorverstaerkung|vorverstarkung|ganancia|pre amp|preampli|gain in db": (("gain", 10),),
    "pad|pad db|pad 20|pad 10|pad 15|pad 12|20 db pad|20db pad|10 db pad|20 pad|att|attenuator|daempfung|dampfung|"
    "attenuateur|atenuador|20|20 db|20db": (("pad", 10),),
    "phantom|phantom power|48|48v|48 v|+48|+48v|+48 v|p48|ph|phant|phantomspeisung|phantom speisung|speisung|fantome|"
    "alim fantome|alimentation fantome|fantasma|alimentacion fantasma|phantom 48v|phantom +48v|phtm|pwr 48v": (
        ("phantom", 10),
    ),
    "trim|digital trim|dig trim|digital gain|trim db|dig gain": (("trim", 10),),
    "polarity|phase|pol|inv|invert|phase invert|polaritaet|polaritat|polarite|polaridad|phase rev|ø|phase ø|phi": (
        ("polarity", 10),
    ),
    "stereo|st|stereo link|linked|link|mono stereo|mono st|stereo mono|width|m s|mo st|format": (("stereo", 9),),
    "pair": (("pair", 10), ("stereo", 5)),
    "pairing": (("pairing", 10),),
    "note|notes|remark|remarks|comment|comments|info|bemerkung|bemerkungen|notiz|notizen|anmerkung|anmerkungen|"
    "kommentar|remarque|remarques|commentaire|commentaires|notas|nota|observaciones|observacion|notes comments|"
    "misc|details|other": (("note", 9),),
}

_BY_PHRASE: Mapping[str, tuple[tuple[str, float], ...]] = {
    phrase: meanings for phrases, meanings in _MEANINGS.items() for phrase in phrases.split("|")
}
_OTHERS = (
    "insert|inserts|stand|stands|stativ|pied|pie|boom|cable|kabel|hpf|lpf|eq|gate|comp|dynamics|dca|vca|mute group|"
    "colour|color|farbe|position|location|pos stage|monitor|monitors|mon|aux|send|sends|return|returns|retour|date|"
    "page|length|height|bus|assign|layer|bank|clip|windscreen|owner|rental|supplied by|output|outputs|pan"
)
_NO_SLIPS = frozenset(_OTHERS.split("|"))
"""Headings of columns that are not read; none of them is a slip of the finger for one that is."""

_LONGEST = max(len(phrase.split()) for phrase in _BY_PHRASE)
_TYPED = tuple(phrase for phrase in _BY_PHRASE if len(phrase) >= 5)

CONTAINED = 2.5
MISTYPED = 4.0
"""What a heading loses that only holds a known phrase, or is only nearly one."""

NEARLY = 80
"""Likeness in percent from which on a heading is a mistyped one (Levenshtein's, insertions and deletions only)."""


def folded(heading: str) -> str:
    """A heading in small letters, without accents and without signs that part words.

    >>> folded("Stagebox-Nr."), folded("+48 V"), folded("Entrée"), folded("Mic/DI")
    ('stagebox nr', '+48 v', 'entree', 'mic di')
    """
    plain = heading.casefold().replace("ß", "ss").replace("№", "no").replace("nº", "no").replace("n°", "no")
    plain = "".join(c for c in unicodedata.normalize("NFKD", plain) if not unicodedata.combining(c))
    words = re.findall(r"\+?[a-z0-9ø]+|#", plain)
    return " ".join(words)


@lru_cache(maxsize=4096)
def meanings(heading: str, *, mistyped: bool = False) -> tuple[tuple[str, float], ...]:
    """The fields that a heading may mean, each with its weight, the likeliest first; none for one that says nothing.

    `mistyped` also takes headings that are nearly a known one.

    >>> meanings("Ch."), meanings("Stand")
    ((('channel', 10),), ())
    """
    plain = folded(heading)
    if not plain or len(heading) > 60:
        return ()
    if plain in _BY_PHRASE:
        return _BY_PHRASE[plain]
    words = plain.split()
    if len(words) > 8:
        return ()
    for length in range(min(_LONGEST, len(words) - 1), 0, -1):
        for start in range(len(words) - length + 1):
            phrase = " ".join(words[start : start + length])
            # One letter or a bare number inside a heading says nothing.
            if phrase in _BY_PHRASE and len(phrase) > 1 and not phrase.isdigit():
                return tuple((field, weight - CONTAINED) for field, weight in _BY_PHRASE[phrase])
    if mistyped and len(plain) >= 4 and plain not in _NO_SLIPS:
        from rapidfuzz import fuzz, process

        near = process.extractOne(plain, _TYPED, scorer=fuzz.ratio, score_cutoff=NEARLY)
        if near is not None:
            return tuple((field, weight - MISTYPED) for field, weight in _BY_PHRASE[near[0]])
    return ()


def is_exact(heading: str) -> bool:
    """Whether a heading is a known one as it stands."""
    return folded(heading) in _BY_PHRASE
