"""Books of players who practised by name on some days, for the commands that plan."""

import datetime as dt
import random
from collections.abc import Iterable, Sequence
from pathlib import Path

from midifret.book.book import Book
from midifret.practice import RecallKind
from midifret.terms import Answer, CueKind, Judged, Note, Place, Prompt, SpelledPitch, Verdict
from midifret.terms.calibration import Recall
from midifret.terms.record import RunEnd, RunStart

OPEN_POSITION = tuple(Place(string, fret) for fret in range(4) for string in range(6, 0, -1))
PITCH = SpelledPitch("C", 0, 4)  # which one is asked does not matter here
CUES = {RecallKind.NAME: (CueKind.NAME, CueKind.STRING), RecallKind.STAFF: (CueKind.STAFF,)}


def practise(
    home: Path,
    started_utc: dt.datetime,
    places: Iterable[Place],
    *,
    player: str = "me",
    right: float = 1.0,
    recall_s: float = 0.8,
    kind: RecallKind = RecallKind.NAME,
    drill: str = "row-5-shuffled",
    tempo_bpm: float | None = None,
    minutes: float = 10.0,
    gate_met: bool | None = None,
    seed: int = 1,
) -> int:
    """Put a run into the book of a home: each place once, so many right, each in about so long."""
    lots = random.Random(seed)
    with Book.open(home / "book.sqlite") as book:
        book.ensure_player(player, created_utc=started_utc)
        run = book.start_run(
            RunStart(player, drill, "Drill", 0, "default", started_utc, "UTC", "a.mid", tempo_bpm=tempo_bpm)
        )
        answers = [
            _answer(n, place, kind, lots, right=right, recall_s=recall_s)
            for n, place in enumerate(places, start=1)
        ]
        book.put_answers(run, tuple(answers))
        end = RunEnd(False, minutes * 60, gate_met)
        book.end_run(run, end, ended_utc=started_utc + dt.timedelta(minutes=minutes))
    return run


def practise_days(
    home: Path, now_utc: dt.datetime, days_ago: Sequence[int], places: Sequence[Place], **more: object
) -> None:
    """Practise them on each of these days, twice: some hours lie between."""
    for ago in days_ago:
        for hours in (2, 1):
            at_utc = now_utc - dt.timedelta(days=ago, hours=hours)
            practise(home, at_utc, places, **more)  # type: ignore[arg-type]


def _answer(
    n: int, place: Place, kind: RecallKind, lots: random.Random, *, right: float, recall_s: float
) -> Answer:
    prompt = Prompt(n, CUES[kind], Judged.PLACE, (place,), (60,), PITCH)
    is_right = lots.random() < right
    time_s = recall_s * lots.uniform(0.9, 1.1)
    fret = place.fret if is_right else place.fret + 1
    note = Note(n, 4.0 * n + time_s, place.string, fret, 60, 90, place.string - 1)
    verdict = Verdict.RIGHT if is_right else Verdict.FRET_OFF
    recall = Recall(time_s, 0.01, 0.02, frozenset()) if is_right else None
    return Answer(prompt, verdict, 4.0 * n, note.onset_s, time_s, recall, note)
