"""Humdrum kern before the library reads it: how long it is, and which spines share a staff."""

import re

from midifret.scores.faults import ScoreFault
from midifret.scores.limits import MOST_BARS, MOST_NOTES

_NOTE = re.compile("[A-Ga-gr]")


def check_length(text: str) -> None:
    """Raise ScoreFault for more notes or bars than are read, before anything is built of them."""
    notes = bars = 0
    for line in text.splitlines():
        if not line or line[0] in "*!":
            continue
        if line[0] == "=":
            bars += 1
        else:
            notes += sum(bool(_NOTE.search(token)) for token in line.split())
        if notes > MOST_NOTES:
            raise ScoreFault(f"the file holds more than {MOST_NOTES:,} notes and rests", "a shorter score")
        if bars > MOST_BARS:
            raise ScoreFault(f"the score has more than {MOST_BARS:,} bars")


def on_one_staff(text: str) -> bool:
    """Whether all spines of notes stand on one staff (the interpretation *staffN, from memory)."""
    kinds: list[str] = []
    for line in text.splitlines():
        if line.startswith("**"):
            kinds = line.split("\t")
        elif line.startswith("*") and "*staff" in line:
            staves = [w for k, w in zip(kinds, line.split("\t"), strict=False) if k == "**kern"]
            return len(staves) > 1 and len(set(staves)) == 1 and staves[0].startswith("*staff")
    return False
