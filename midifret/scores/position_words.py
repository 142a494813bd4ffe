"""The words over a staff that name a position or a barre: CIII, C3, III, barre V, half C 5, 1/2 CV."""

import re

from midifret.terms.score import Barre

# How guitar editions write them [common practice, no source]: C for the Spanish ceja, B for barre; a fraction
# or "half", "mezza", "media", "demi" for one that covers fewer strings.
_ROMAN = {"I": 1, "V": 5, "X": 10}
_HALF = r"(?P<half>[½⅓⅔¼¾⅚⅙]|\d\s*/\s*\d|half|halb(?:er|es)?|mezz[ao]|medi[ao]|demi|m\.|1/2)"
_BARRE = r"(?P<barre>¢|c|b|barr[eé]|ceja|ceji?lla|bar|cap(?:otasto)?|barr[eé]\s*c)"
_POSITION = r"(?P<position>pos(?:\.|ition)?|posición|lage)"
_NUMBER = r"(?P<roman>[ivx]+)|(?P<arabic>\d{1,2})"
_WORDS = re.compile(
    rf"\A(?:{_HALF}\s*[-.]?\s*)?(?:{_BARRE}|{_POSITION})?"
    rf"\s*(?:{_HALF.replace('half>', 'half2>')})?\s*[.-]?\s*"
    rf"(?:fret\s*)?(?:{_NUMBER})\s*(?:(?:st|nd|rd|th|ª|a|\.)?\s*(?P<after>pos(?:\.|ition)?|posición|lage)?)?"
    r"[\s_.–—-]*\Z",
    re.IGNORECASE,
)
_HIGHEST = 24


def roman(text: str) -> int | None:
    """Read a Roman numeral from I to XXIV, IIII and VIIII too; None for none."""
    values = [_ROMAN.get(letter) for letter in text.upper()]
    if not values or None in values:
        return None
    numbers = [value for value in values if value is not None]
    total = sum(-n if n < max(numbers[i + 1 :], default=0) else n for i, n in enumerate(numbers))
    return total if 1 <= total <= _HIGHEST else None


def position_words(text: str) -> tuple[int, Barre | None] | None:
    """Read the words: (position, barre or None), or None where they are about something else.

    A bare Arabic number is none, and neither is a Roman numeral in small letters: both are used otherwise
    (fingers, chords, verses). A C with a line through it is a half barre.
    """
    words = " ".join(text.split())
    if not words or len(words) > 30 or not (match := _WORDS.match(words)):
        return None
    if match["roman"] and match["roman"] != match["roman"].upper():
        return None
    named = match["barre"] or match["position"] or match["after"]
    half = match["half"] or match["half2"]
    if (match["arabic"] and not named) or (half and (match["position"] or match["after"])):
        return None
    if (match["barre"] or "").lower() == "b" and match["arabic"]:
        return None  # B7 is a chord
    number = roman(match["roman"]) if match["roman"] else int(match["arabic"])
    if number is None or not 1 <= number <= _HIGHEST:
        return None
    if match["position"] or match["after"]:
        return number, None
    if half or match["barre"] == "¢":
        return number, Barre.PARTIAL
    return number, Barre.FULL if match["barre"] else None
