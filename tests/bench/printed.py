"""Scores with printed fingerings, and how much of what is printed a fingering reproduces."""

import json
import random
from collections import defaultdict
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

from midifret.fingering import Choices, Fingering, Kept, Weights, finger, neck_for
from midifret.fingering.events import timeline
from midifret.fingering.printed_json import score_from_json
from midifret.neck import Neck, Tuning
from midifret.terms import BadInput
from midifret.terms.score import NOTHING_PRINTED, Printed, Score

GUITAR = Neck(Tuning("standard", "Standard", (64, 59, 55, 50, 45, 40)))
UNSURE = ("harmonic", "check", "finger_ambiguous")  # what the notes of the sets say not to count


@dataclass(frozen=True, slots=True)
class Part:
    """One part. prints: what is printed and counts, None elsewhere, in the order of the score's notes.

    work: parts of one work have the same. marked: for each note whether a printed position or barre holds.
    """

    name: str
    work: str
    score: Score
    prints: tuple[Printed, ...]
    marked: tuple[bool, ...]


@dataclass(frozen=True, slots=True)
class Share:
    """So many right of so many."""

    right: int = 0
    of: int = 0

    def __add__(self, other: "Share") -> "Share":
        return Share(self.right + other.right, self.of + other.of)

    def __str__(self) -> str:
        return f"{self.right}/{self.of} {self.right / self.of:.1%}" if self.of else "-"


def parts_in(folder: Path) -> list[Part]:
    """Every part of a folder, with the prints that are not to be counted taken off."""
    found = []
    for path in sorted(folder.glob("*.json")):
        data = path.read_bytes()
        raw = json.loads(data)
        score = score_from_json(data, path.name)
        entries = sorted(raw["notes"], key=lambda note: (note["onset"], note["pitch"]))
        prints = tuple(
            NOTHING_PRINTED if any(entry.get(key) for key in UNSURE) else note.printed
            for entry, note in zip(entries, score.notes, strict=True)
        )
        notes = tuple(
            replace(note, printed=printed) for note, printed in zip(score.notes, prints, strict=True)
        )
        score = replace(score, notes=notes)
        work = f"{raw.get('composer')}: {raw.get('piece')}"
        found.append(Part(path.stem, work, score, prints, marked(score)))
    return found


def marked(score: Score) -> tuple[bool, ...]:
    """For each note whether it begins under a printed position or barre."""
    line = timeline(score, Choices().quarter_bpm)
    under = {index: event.mark is not None for event in line.events for index in event.new}
    return tuple(under.get(line.doubles.get(i, i), False) for i in range(len(score.notes)))


def lowest_fret(score: Score, neck: Neck) -> list[tuple[int | None, int | None]]:
    """The plain way: lowest fret, finger = fret, at most 4. String and finger of each note."""
    found: list[tuple[int | None, int | None]] = []
    for note in score.notes:
        places = neck.places(note.midi)
        place = min(places, key=lambda p: p.fret, default=None)
        found.append((place.string, min(4, place.fret)) if place is not None else (None, None))
    return found


def by_engine(part: Part, weights: Weights, *, positions: bool) -> list[tuple[int | None, int | None]]:
    """String and finger of each note, with the printed positions given or nothing."""
    choices = Choices(kept=frozenset({Kept.POSITIONS}) if positions else frozenset())
    try:
        found: Fingering = finger(part.score, neck_for(part.score, GUITAR), choices, weights)
    except (BadInput, ValueError) as error:
        print(f"{part.name}: {error}")
        return [(None, None)] * len(part.score.notes)
    return [(n.place.string if n.place else None, n.finger) for n in found.notes]


def agreement(
    part: Part, played: list[tuple[int | None, int | None]], *, under_marks: bool
) -> tuple[Share, Share]:
    """How many printed fingers and strings are reproduced, on all notes or those under a mark."""
    fingers, strings = Share(), Share()
    for printed, mark, (string, finger_) in zip(part.prints, part.marked, played, strict=True):
        if under_marks and not mark:
            continue
        if printed.finger is not None:
            fingers += Share(int(printed.finger == finger_), 1)
        if printed.string is not None:
            strings += Share(int(printed.string == string), 1)
    return fingers, strings


def total(shares: list[Share]) -> Share:
    """All of them together."""
    found = Share()
    for share in shares:
        found += share
    return found


def interval(by_work: dict[str, Share], *, draws: int = 10_000, seed: int = 1) -> tuple[float, float]:
    """The 95% interval of the share of all, by bootstrap over works (percentiles)."""
    chance = random.Random(seed)
    shares = [share for share in by_work.values() if share.of]
    if not shares:
        return 0.0, 0.0
    drawn = []
    for _ in range(draws):
        all_of = total(chance.choices(shares, k=len(shares)))
        drawn.append(all_of.right / all_of.of)
    drawn.sort()
    return drawn[int(draws * 0.025)], drawn[int(draws * 0.975)]


def table(
    parts: list[Part],
    way: Callable[[Part], list[tuple[int | None, int | None]]],
    *,
    under_marks: bool,
    each: bool,
) -> str:
    """A line for each part, if asked for, and the line of all with its interval over works."""
    lines = []
    fingers_by_work: dict[str, Share] = defaultdict(Share)
    strings: list[Share] = []
    for part in parts:
        fingers, on_strings = agreement(part, way(part), under_marks=under_marks)
        fingers_by_work[part.work] += fingers
        strings.append(on_strings)
        if each and fingers.of + on_strings.of:
            lines.append(f"  {part.name[:44]:<44}  fingers {fingers!s:<16}  strings {on_strings}")
    low, high = interval(fingers_by_work)
    everything = total(list(fingers_by_work.values()))
    works = sum(share.of > 0 for share in fingers_by_work.values())
    lines.append(
        f"  all, {works} works: fingers {everything} (95% over works {low:.1%} to {high:.1%}), "
        f"strings {total(strings)}"
    )
    return "\n".join(lines)
