"""The figures of a reading, bar by bar: what was right, what was extra, where the player hesitated."""

import statistics
from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass

from midifret.reading.alignment import Aligned, Kind
from midifret.reading.bars import bar_at, bars_of
from midifret.terms import Answer, Exercise, Verdict

# A note that took this many times as long as the player's own pace was waited for [ours]: twice as long may
# be an uneven hand, three times is a search.
HESITATION = 2.5
_FEWEST_FOR_PACE = 5
WORST_BARS = 3


@dataclass(frozen=True, slots=True)
class BarFigure:
    """One bar as it was read.

    index: in the order of playing, from 0. number: as printed, with `played` for a repeat. notes: how many
    prompts of it were answered or missed, of which right, missed; wrong: the others. extra: notes that stand
    for none, repeated ones too. hesitations: notes of a free reading that were waited for.
    """

    index: int
    number: str
    played: int
    notes: int
    right: int
    missed: int
    extra: int
    hesitations: int

    @property
    def wrong(self) -> int:
        """Notes played, and not right."""
        return self.notes - self.right - self.missed

    @property
    def faults(self) -> int:
        """All that was not as written; a hesitation is none."""
        return self.notes - self.right + self.extra

    @property
    def name(self) -> str:
        """For people: the number, and which time it was where it is repeated."""
        number = self.number or str(self.index + 1)
        return number if self.played == 1 else f"{number} (time {self.played})"


def bar_figures(
    exercise: Exercise, answers: Sequence[Answer], beside: Sequence[Aligned]
) -> tuple[BarFigure, ...]:
    """Return a figure for each bar that was reached, in the order of playing.

    An extra note counts in the bar of the last note before it that stood for one. Raises ValueError for what
    is no reading.
    """
    score = exercise.score
    if score is None:
        raise ValueError(f"{exercise.name} is no reading")
    bars = bars_of(score)
    bar_of = [bar_at(bars, note.onset_quarter) for note in score.notes]
    of_bar: dict[int, list[Answer]] = {}
    for answer in answers:
        of_bar.setdefault(bar_of[answer.n - 1], []).append(answer)
    extra: dict[int, int] = {}
    at = 0
    # What was played before a right note of a prompt is its answer already, in the answers' own count.
    tried = {id_ for answer in answers for id_ in _ids(answer)}
    for item in beside:
        if item.n:
            at = bar_of[item.n - 1]
        elif item.note.id not in tried or item.kind is Kind.REPEATED:
            extra[at] = extra.get(at, 0) + 1
    waited = _hesitations(exercise, answers)
    return tuple(
        BarFigure(
            index=bar,
            number=bars[bar].number,
            played=bars[bar].played,
            notes=len(found),
            right=sum(answer.right for answer in found),
            missed=sum(answer.verdict is Verdict.MISSED for answer in found),
            extra=extra.get(bar, 0),
            hesitations=sum(answer.n in waited for answer in found),
        )
        for bar, found in sorted(of_bar.items())
    )


def to_practise(figures: Sequence[BarFigure]) -> tuple[BarFigure, ...]:
    """Return the bars with most faults, the worst first; of equal ones those with more hesitations."""
    faulty = [figure for figure in figures if figure.faults or figure.hesitations]
    faulty.sort(key=lambda figure: (-figure.faults, -figure.hesitations, figure.index))
    return tuple(faulty[:WORST_BARS])


def _ids(answer: Answer) -> list[int]:
    notes = answer.corrections if answer.played is None else (answer.played, *answer.corrections)
    return [note.id for note in notes]


def _hesitations(exercise: Exercise, answers: Sequence[Answer]) -> frozenset[int]:
    """The prompts of a free reading that took much longer to come than the player's own pace."""
    score = exercise.score
    if score is None or exercise.tempo is not None:
        return frozenset()
    moments: dict[float, tuple[float, int]] = {}  # by onset: when it was first played, and its first prompt
    for answer in answers:
        if answer.answer_s is not None:
            onset = float(score.notes[answer.n - 1].onset_quarter)
            known = moments.get(onset)
            if known is None or answer.answer_s < known[0]:
                moments[onset] = (answer.answer_s, answer.n if known is None else min(answer.n, known[1]))
    onsets = sorted({float(note.onset_quarter) for note in score.notes})
    paces = {}
    for onset, (time_s, n) in moments.items():
        before = bisect_right(onsets, onset) - 2
        if before >= 0 and onsets[before] in moments:
            took_s = time_s - moments[onsets[before]][0]
            if took_s > 0:  # else it was played in another order
                paces[n] = took_s / (onset - onsets[before])
    if len(paces) < _FEWEST_FOR_PACE:
        return frozenset()
    own = statistics.median(paces.values())
    return frozenset(n for n, pace in paces.items() if pace > HESITATION * own)
