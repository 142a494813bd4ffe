"""Note names: English, German and fixed-do, with sharps, flats or both."""

import re
from enum import StrEnum
from functools import cache

from midifret.terms import SpelledPitch


class Language(StrEnum):
    """The naming that a player grew up with."""

    ENGLISH = "english"
    GERMAN = "german"
    FIXED_DO = "fixed-do"


class Accidentals(StrEnum):
    """How the notes between the naturals are named where the music does not say."""

    SHARPS = "sharps"
    FLATS = "flats"
    BOTH = "both"


_SHARP_SPELLING = tuple(zip("CCDDEFFGGAAB", (0, 1, 0, 1, 0, 0, 1, 0, 1, 0, 1, 0), strict=True))
_FLAT_SPELLING = tuple(zip("CDDEEFGGAABB", (0, -1, 0, -1, 0, 0, -1, 0, -1, 0, -1, 0), strict=True))

# Fixed-do syllables as in French and Spanish schools, German names with H for B natural and B for B flat,
# and the irregular Es and As [common practice, no source; checked against music21 in tests/outside].
_SYLLABLES = {"C": "do", "D": "re", "E": "mi", "F": "fa", "G": "sol", "A": "la", "B": "si"}
_OTHER_SYLLABLES = {"ut": "C", "ré": "D", "so": "G", "ti": "B"}
_NAME_AND_OCTAVE = re.compile(r"(\D+?)(-?\d)?\Z")
_SIGNS = {"": 0, "♮": 0, "#": 1, "♯": 1, "##": 2, "x": 2, "𝄪": 2, "♯♯": 2, "b": -1, "♭": -1, "bb": -2}
_SIGNS |= {"𝄫": -2, "♭♭": -2}
_ALTERS = range(-2, 3)
NAME_EXAMPLES = {
    Language.ENGLISH: "a letter a to g, then # or b, for example F# or Bb",
    Language.GERMAN: "a letter a to h, then is or es, for example Fis, Es or B",
    Language.FIXED_DO: "do re mi fa sol la si, then # or b, for example fa# or sib",
}


def spell(midi: int, accidentals: Accidentals = Accidentals.SHARPS) -> tuple[SpelledPitch, ...]:
    """Spell a sounding pitch: one spelling for a natural, one or (BOTH) two for a note in between."""
    octave = midi // 12 - 1
    sharp = SpelledPitch(*_SHARP_SPELLING[midi % 12], octave)
    flat = SpelledPitch(*_FLAT_SPELLING[midi % 12], octave)
    if accidentals is Accidentals.FLATS:
        return (flat,)
    if accidentals is Accidentals.SHARPS or sharp == flat:
        return (sharp,)
    return (sharp, flat)


def pitch_name(pitch: SpelledPitch, language: Language = Language.ENGLISH, *, signs: bool = True) -> str:
    """Name a pitch without its octave, as players are shown it.

    signs: use the true sharp and flat signs; otherwise # and b (German names need neither).
    """
    if language is Language.GERMAN:
        return _german_name(pitch)
    stem = pitch.step if language is Language.ENGLISH else _SYLLABLES[pitch.step]
    sharp, flat = ("♯", "♭") if signs else ("#", "b")
    return stem + sharp * pitch.alter + flat * -pitch.alter


def _german_name(pitch: SpelledPitch) -> str:
    if pitch.step == "B":
        return {-2: "Heses", -1: "B", 0: "H", 1: "His", 2: "Hisis"}[pitch.alter]
    if pitch.alter < 0 and pitch.step in "EA":
        return pitch.step + "s" + "es" * (-pitch.alter - 1)
    return pitch.step + "is" * pitch.alter + "es" * -pitch.alter


def parse_name(text: str, language: Language = Language.ENGLISH) -> tuple[str, int, int | None]:
    """Read a note name in one language: (step, alter, octave or None), the step always in English.

    Octaves are sounding ones, E4 the open first string. Raises ValueError, saying what is allowed.
    """
    match = _NAME_AND_OCTAVE.match(text.strip())
    spelling = _known_names(language).get(match[1].lower()) if match else None
    if match is None or spelling is None:
        raise ValueError(f"{text!r} is not a note name; write {NAME_EXAMPLES[language]}")
    return *spelling, (int(match[2]) if match[2] else None)


@cache
def typed_names(language: Language) -> tuple[str, ...]:
    """Every name that a player may type for a note, in lower case, with at most one sharp or flat."""
    names = _known_names(language).items()
    return tuple(
        sorted(name for name, (_, alter) in names if abs(alter) <= 1 and name.isascii() and name[-1] != "x")
    )


@cache
def _known_names(language: Language) -> dict[str, tuple[str, int]]:
    """Every accepted name of a language, in lower case, with its step and alteration."""
    names = {
        pitch_name(SpelledPitch(step, alter, 4), language, signs=signs).lower(): (step, alter)
        for step in "CDEFGAB"
        for alter in _ALTERS
        for signs in (True, False)
    }
    stems = {step.lower(): step for step in "CDEFGAB"} | {"h": "B"}
    if language is Language.ENGLISH:
        del stems["h"]
    elif language is Language.FIXED_DO:
        stems = {syllable: step for step, syllable in _SYLLABLES.items()} | _OTHER_SYLLABLES
    for stem, step in stems.items():
        for sign, alter in _SIGNS.items():
            names.setdefault(stem + sign, (step, alter))
    return names
