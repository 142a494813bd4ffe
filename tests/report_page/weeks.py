"""Some weeks of an invented student: a book with rows that get faster, and mistakes of every kind."""

import datetime as dt
import math
import random
from pathlib import Path

from midifret.book.book import Book
from midifret.files import Home
from midifret.neck import Accidentals, Neck, Tuning, spell
from midifret.terms import Answer, CueKind, Judged, Note, Place, Prompt, SpelledPitch, Verdict
from midifret.terms.calibration import Recall
from midifret.terms.record import RunEnd, RunStart

ROWS = (0, 5, 7, 10)
NECK = Neck(Tuning("standard", "Standard", (64, 59, 55, 50, 45, 40)))  # facts.md, string 1 first
# What was played instead of string s, fret f: by the words of design.md on verdicts.
_INSTEAD = {
    Verdict.FRET_OFF: lambda p: Place(p.string, p.fret + 1),
    Verdict.STRING_OFF: lambda p: Place(p.string % 6 + 1, p.fret),
    Verdict.WRONG: lambda p: Place(p.string, p.fret + 3),
    Verdict.OCTAVE: lambda p: Place(p.string, p.fret + 12),
    Verdict.ELSEWHERE: lambda p: Place(min(p.string + 1, 6), p.fret + 5),
}


def weeks(
    home: Path,
    now_utc: dt.datetime,
    *,
    days: int = 40,
    player: str = "me",
    seed: int = 1,
    right: float = 0.85,
) -> None:
    """Fill the book of a home: each day but some, each row once in shuffled order, faster by exponentials.

    right: share of right answers; of the others every kind occurs.
    """
    lots = random.Random(seed)
    with Book.open(Home.of(home).book) as book:
        book.ensure_player(player, created_utc=now_utc - dt.timedelta(days=days + 1))
        for ago in range(days, 0, -1):
            if lots.random() < 0.2:
                continue
            at_utc = now_utc - dt.timedelta(days=ago)
            for row in ROWS:
                began_utc = at_utc + dt.timedelta(minutes=4 * ROWS.index(row))
                drill = f"row-{row}-shuffled"
                start = RunStart(player, drill, f"Row {row}", ago, "default", began_utc, "UTC", "")
                run = book.start_run(start)
                middle_s = 0.9 + 1.8 * math.exp(-(days - ago) / 10)
                places = [Place(string, row) for string in range(6, 0, -1)]
                lots.shuffle(places)
                answers = tuple(_answer(n, p, middle_s, right, lots) for n, p in enumerate(places, 1))
                book.put_answers(run, answers)
                end = RunEnd(False, lots.uniform(120, 260), None, 6)
                book.end_run(run, end, ended_utc=began_utc + dt.timedelta(minutes=4))


def _pitch(place: Place) -> SpelledPitch:
    return spell(NECK.midi(place), Accidentals.SHARPS)[0]


def _answer(n: int, place: Place, middle_s: float, right: float, lots: random.Random) -> Answer:
    cue = (CueKind.NAME, CueKind.STRING)
    prompt = Prompt(n, cue, Judged.PLACE, (place,), (NECK.midi(place),), _pitch(place))
    if lots.random() < right:
        time_s = middle_s * lots.lognormvariate(0, 0.25)
        note = Note(n, 5.0 * n + time_s, place.string, place.fret, NECK.midi(place), 90, place.string - 1)
        recall = Recall(time_s, 0.02, 0.03, frozenset())
        return Answer(prompt, Verdict.RIGHT, 5.0 * n, note.onset_s, time_s + 0.4, recall, note)
    verdict = lots.choice([*_INSTEAD, Verdict.MISSED])
    if verdict is Verdict.MISSED:
        return Answer(prompt, verdict, 5.0 * n)
    played = _INSTEAD[verdict](place)
    note = Note(n, 5.0 * n + 2, played.string, played.fret, NECK.midi(played), 90, played.string - 1)
    return Answer(prompt, verdict, 5.0 * n, note.onset_s, 2.0, played=note)
