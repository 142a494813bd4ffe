"""Words that lead away from one bar after the other: D.C. al Fine, dal Segno, To Coda."""

import re
from dataclasses import replace

from midifret.terms.score import Directions

# As printed in scores [common practice, no source].
_DA_CAPO = re.compile(r"\b(d\s*\.?\s*c\b|da\s*capo)", re.IGNORECASE)
_DAL_SEGNO = re.compile(r"\b(d\s*\.?\s*s\b|dal\s*segno|del\s*segno)", re.IGNORECASE)
_FINE = re.compile(r"\A\W*fine\W*\Z", re.IGNORECASE)
_CODA = re.compile(r"\A\W*(to\s+|alla\s+|al\s+)?coda\W*\Z", re.IGNORECASE)
_SEGNO = re.compile(r"\A\W*segno\W*\Z", re.IGNORECASE)
_MOST_LETTERS = 40


def with_words(directions: Directions, text: str) -> Directions:
    """Add to a bar what these words say, if they say where to go on."""
    words = " ".join(text.split())
    if not words or len(words) > _MOST_LETTERS:
        return directions
    if _DAL_SEGNO.search(words):
        return replace(directions, jump="ds")
    if _DA_CAPO.search(words):
        return replace(directions, jump="dc")
    if _FINE.match(words):
        return replace(directions, fine=True)
    if _CODA.match(words):
        return replace(directions, coda=True)
    if _SEGNO.match(words):
        return replace(directions, segno=True)
    return directions


def ending_numbers(text: str) -> tuple[int, ...]:
    """Read the numbers of an ending: "1", "1, 2", "1-3"; empty for none."""
    numbers: list[int] = []
    for first, last in re.findall(r"(\d{1,2})(?:\s*-\s*(\d{1,2}))?", text):
        numbers += range(int(first), int(last or first) + 1)
    return tuple(number for number in numbers if 1 <= number <= 16)
