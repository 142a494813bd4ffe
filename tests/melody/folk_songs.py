"""Folk songs of music21's corpus, and the figures by which melodies are compared with them."""

import re
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cache
from itertools import pairwise
from statistics import median

from music21 import converter, corpus

from midifret.terms.score import Score

Line = tuple[tuple[int, int], ...]  # (MIDI number, number of its letter on the staff) of each note
STEPS = "CDEFGAB"
SONGS_A_FILE = 4


@cache
def folk_songs() -> tuple[Line, ...]:
    """Every nth song of the Essen collection (31 files in music21 10.5.1), read by music21."""
    found = []
    for path in sorted(corpus.getComposer("essenFolksong")):
        tunes = re.split(r"(?m)^(?=X:)", path.read_text(encoding="utf-8", errors="replace"))[1:]
        for tune in tunes[:: max(1, len(tunes) // SONGS_A_FILE)][:SONGS_A_FILE]:
            score = converter.parseData(tune, format="abc")
            notes = [note for note in score.flatten().notes if note.isNote]
            if len(notes) >= 8:
                found.append(tuple((note.pitch.midi, note.pitch.diatonicNoteNum) for note in notes))
    return tuple(found)


def line_of(score: Score) -> Line:
    return tuple((n.midi, 7 * n.pitch.octave + STEPS.index(n.pitch.step)) for n in score.notes)


@dataclass(frozen=True)
class Figures:
    """shares: of intervals by the number that musicians give them, 6 for a sixth and more. turned: share of
    fourths and larger leaps after which the line turns back.
    """

    intervals: int
    shares: dict[int, float]
    range_semitones: float
    turned: float
    turned_by_step: float

    def distance(self, other: "Figures") -> float:
        """Total variation distance of the intervals, 0 to 1."""
        return sum(abs(self.shares.get(n, 0) - other.shares.get(n, 0)) for n in range(1, 7)) / 2


def figures(lines: Iterable[Sequence[tuple[int, int]]]) -> Figures:
    counts: Counter[int] = Counter()
    ranges, leaps, turned, by_step = [], 0, 0, 0
    for line in lines:
        midis = [midi for midi, _ in line]
        ranges.append(max(midis) - min(midis))
        moves = [b - a for (_, a), (_, b) in pairwise(line)]
        counts.update(min(abs(move) + 1, 6) for move in moves)
        for move, following in pairwise(moves):
            if abs(move) >= 3:
                leaps += 1
                turned += move * following < 0
                by_step += move * following < 0 and abs(following) == 1
    total = counts.total()
    shares = {number: count / total for number, count in counts.items()}
    return Figures(total, shares, median(ranges), turned / max(1, leaps), by_step / max(1, leaps))
