"""What the report page is made of, and what follows from the figures for the next practice."""

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from midifret.show.time_values import TimeFigures
from midifret.show.words import place_words
from midifret.terms import Place, Verdict
from midifret.terms.calibration import Caveat, Missing
from midifret.terms.figures import PlaceFigure, Report
from midifret.timing import Trend
from midifret.timing.states import DEFAULT_THRESHOLDS, State, StateThresholds

MOST_STEPS = 5  # places named among the next steps [ours]
_RANK = {state: rank for rank, state in enumerate(State)}


@dataclass(frozen=True, slots=True)
class RowDay:
    """One day of a row. time_s: median of the right answers to cues. practice: cues of the row by then."""

    day: dt.date
    time_s: float
    answers: int
    practice: float


@dataclass(frozen=True, slots=True)
class RowTrend:
    """How the times of a row went, day by day. caveats: what the times have in them that was not measured."""

    fret: int
    days: tuple[RowDay, ...]
    trend: Trend | Missing
    caveats: frozenset[Caveat]


@dataclass(frozen=True, slots=True)
class ReadingShown:
    """A reading. right, notes: of those reached. lines: one SVG each, its notes marked; missing: why none.

    legend: SVG and words of each mark in them.
    """

    title: str
    day: dt.date
    right: int
    notes: int
    lines: tuple[str, ...] = ()
    missing: str = ""
    legend: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class Outlooks:
    """When rows will be automatic, in words. rows: of each stage its title and what can be said. about: on
    what it rests.
    """

    about: str
    rows: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Progress:
    """All that the page shows.

    report, times: of the time asked for; times is None where the book has nothing. since: its first practice
    day, None for all time. earlier: figures of the places before that day. names: of places, as the player
    has notes named. made: the day on which the page was made. steps: what is planned for today, lacks: what
    the next stages lack, one sentence each.
    left_handed: the nut is drawn at the right.
    thresholds: those that the states were found with. times_before_s, times_since_s: recall times of the
    newest right answers of places, before that day and from it on, with the same things in them. examples:
    of each kind of error one of the player's own, in words. rows: their trends. readings: the newest, the
    newest first. outlooks: None where nothing was forecast.
    """

    report: Report
    times: TimeFigures | None
    made: dt.date
    since: dt.date | None = None
    earlier: tuple[PlaceFigure, ...] = ()
    names: Mapping[Place, str] = field(default_factory=dict)
    steps: tuple[str, ...] = ()
    lacks: tuple[str, ...] = ()
    left_handed: bool = False
    thresholds: StateThresholds = DEFAULT_THRESHOLDS
    times_before_s: Mapping[Place, Sequence[float]] = field(default_factory=dict)
    times_since_s: Mapping[Place, Sequence[float]] = field(default_factory=dict)
    examples: Mapping[Verdict, str] = field(default_factory=dict)
    rows: tuple[RowTrend, ...] = ()
    readings: tuple[ReadingShown, ...] = ()
    outlooks: Outlooks | None = None

    def place_words(self, place: Place) -> str:
        """A place in words, with its note name where it is known."""
        name = self.names.get(place)
        return f"{place_words(place)} ({name})" if name else place_words(place)


def places_before(whole: tuple[PlaceFigure, ...], since: tuple[PlaceFigure, ...]) -> tuple[PlaceFigure, ...]:
    """Return the figures of the places before a day: those of all time less those since. Without medians."""
    taken = {figure.place: figure for figure in since}
    before = []
    for figure in whole:
        new = taken.get(figure.place)
        answers = figure.answers - (new.answers if new else 0)
        right = figure.right - (new.right if new else 0)
        if answers:
            before.append(PlaceFigure(figure.place, answers, right, None))
    return tuple(before)


def weakest(progress: Progress) -> tuple[str, ...]:
    """Return what to do about the places that are known least, the least known first."""
    if progress.times is None or not progress.times.states:
        return (
            "Play a drill that asks for places by name: until then nothing can be said of what is known.",
        )
    lowest: dict[Place, State] = {}
    for known in progress.times.states:
        old = lowest.get(known.place)
        if old is None or _RANK[known.state] < _RANK[old]:
            lowest[known.place] = known.state
    weak = sorted(
        ((state, place) for place, state in lowest.items() if _RANK[state] < _RANK[State.KNOWN]),
        key=lambda pair: (_RANK[pair[0]], pair[1].fret, pair[1].string),
    )
    if not weak:
        return ("Every place asked so far is known: ask for new ones, or a higher tempo.",)
    return tuple(
        f"{_DO[state].format(place=progress.place_words(place))}" for state, place in weak[:MOST_STEPS]
    )


_DO = {
    State.DARK: "Learn {place}: it is not shown to be known yet.",
    State.FOUND: "Play {place} more: it is found, but not surely.",
    State.SLOW: "Play {place} more: it comes, but late.",
}
