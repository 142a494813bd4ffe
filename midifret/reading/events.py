"""What is struck together: the prompts of a reading grouped by their onsets."""

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import dataclass, field
from fractions import Fraction

from midifret.reading.bars import bar_at, bars_of
from midifret.terms import Exercise, Place, Prompt
from midifret.terms.score import ScoreNote


@dataclass(frozen=True, slots=True)
class Wanted:
    """One note of an event. n: of its prompt. near: places one fret or one string beside the right ones."""

    n: int
    midi: int
    places: frozenset[Place]
    near: frozenset[Place] = field(repr=False)


@dataclass(frozen=True, slots=True)
class Event:
    """One note or chord; a grace note belongs to the note that it leans on.

    onset_quarter: from the start of the score, as a float. bar: index of its bar.
    begins_bar: it is the first of its bar.
    """

    notes: tuple[Wanted, ...]
    onset_quarter: float
    bar: int
    begins_bar: bool

    @property
    def first_n(self) -> int:
        """Number of its first prompt."""
        return self.notes[0].n


def events_of(exercise: Exercise) -> tuple[Event, ...]:
    """Return the events of a reading in their order. Raises ValueError for what is no reading."""
    score = exercise.score
    if score is None or len(score.notes) != len(exercise.prompts):
        raise ValueError(f"{exercise.name} is no reading")
    bars = bars_of(score)
    groups: list[list[Prompt]] = []
    onsets: list[Fraction] = []
    for note, prompt in zip(score.notes, exercise.prompts, strict=True):
        if not groups or note.onset_quarter != onsets[-1]:
            groups.append([])
            onsets.append(note.onset_quarter)
        groups[-1].append(prompt)
    events = []
    bar_before = -1
    for prompts, onset in zip(groups, onsets, strict=True):
        bar = bar_at(bars, onset)
        notes = tuple(_wanted(prompt) for prompt in prompts)
        events.append(Event(notes, float(onset), bar, bar != bar_before))
        bar_before = bar
    return tuple(events)


def reached(events: Sequence[Event], n: int) -> int:
    """Return the number of the last prompt that a reader has reached whose last note stood for prompt n.

    The rule of every reading, free or in tempo, live or recorded: a note or chord is reached if something
    was played for it or for a later one, or if the player skipped it. What is left out before that is missed;
    what comes after it is not reached, and is neither right nor a mistake. n: 0 where nothing was played.
    """
    if n < 1:
        return 0
    return events[event_at(events, n)].notes[-1].n


def event_at(events: Sequence[Event], n: int) -> int:
    """Return the index of the event that holds prompt n."""
    return bisect_right(events, n, key=_first_n) - 1


def sounds_in(exercise: Exercise, one: Place, other: Place) -> bool:
    """Whether two places may be struck together where the music of a reading is played rightly."""
    for event in events_of(exercise):
        first = {wanted.n for wanted in event.notes if one in wanted.places}
        second = {wanted.n for wanted in event.notes if other in wanted.places}
        if first and second and len(first | second) > 1:
            return True
    return False


def around(exercise: Exercise, n: int) -> range:
    """The numbers of the prompts of a reading that lie in the bar of prompt n, the one before and after."""
    score = exercise.score
    if score is None or not score.notes:
        return range(0)
    notes, bars = score.notes, bars_of(score)
    bar = bar_at(bars, notes[min(max(n, 1), len(notes)) - 1].onset_quarter)
    begin = bars[bar - 1].onset_quarter if bar > 0 else notes[0].onset_quarter
    after = bar + 2
    first = bisect_left(notes, begin, key=_onset)
    last = bisect_left(notes, bars[after].onset_quarter, key=_onset) if after < len(bars) else len(notes)
    return range(first + 1, last + 1)


def _onset(note: ScoreNote) -> Fraction:
    return note.onset_quarter


def _first_n(event: Event) -> int:
    return event.first_n


def _wanted(prompt: Prompt) -> Wanted:
    near = {
        Place(place.string + strings, place.fret + frets)
        for place in prompt.places
        for strings, frets in ((0, 1), (0, -1), (1, 0), (-1, 0))
    }
    places = frozenset(prompt.places)
    return Wanted(prompt.n, prompt.midi, places, frozenset(near - places))
