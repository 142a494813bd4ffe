"""The path: two strands of stages side by side, what each asks for, and where a player stands."""

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

from midifret.practice.kinds import Asked, RecallKind
from midifret.terms.place import Place


class Strand(StrEnum):
    """The two halves of the method."""

    ROWS = "rows"
    READING = "reading"


@dataclass(frozen=True, slots=True)
class StageGate:
    """What must hold on `days` separate practice days before the next stage begins.

    right: share right at the first try, 0 to 1. recall_s: median recall time at most; None asks for none.
    tempo_bpm: owned tempo at least, of the stage's own walk or reading; None asks for none.
    """

    right: float
    recall_s: float | None = None
    tempo_bpm: float | None = None
    days: int = 2


@dataclass(frozen=True, slots=True)
class Stage:
    """One step of a strand.

    name: as files and commands write it. title: for people. drills: names of drills, in the order to take.
    frets: (lowest, highest) of each stretch of the neck that it adds, none in reading. kind: from what its
    places are asked. position: where it is read; level: of the melodies read there; both None in rows.
    """

    strand: Strand
    name: str
    title: str
    drills: tuple[str, ...]
    gate: StageGate
    frets: tuple[tuple[int, int], ...] = ()
    kind: RecallKind = RecallKind.NAME
    position: int | None = None
    level: int | None = None

    def places(self, strings: int, last_fret: int) -> tuple[Place, ...]:
        """Its places on a neck, row after row, the lowest string first."""
        return tuple(
            Place(string, fret)
            for low, high in self.frets
            for fret in range(low, min(high, last_fret) + 1)
            for string in range(strings, 0, -1)
        )


@dataclass(frozen=True, slots=True)
class MethodPath:
    """The whole method. reading_after: the stage of rows that has to hold before reading begins."""

    rows: tuple[Stage, ...]
    reading: tuple[Stage, ...]
    reading_after: str

    def strand(self, strand: Strand) -> tuple[Stage, ...]:
        """The stages of a strand."""
        return self.rows if strand is Strand.ROWS else self.reading

    def stage(self, name: str) -> Stage | None:
        """The stage of that name, None where there is none."""
        return next((stage for stage in (*self.rows, *self.reading) if stage.name == name), None)

    def on_neck(self, strings: int, last_fret: int, last_position: int) -> "MethodPath":
        """Return the path without stages of which this neck has no place, and none of its positions.

        The whole path where nothing of its rows would be left.
        """
        rows = tuple(stage for stage in self.rows if stage.places(strings, last_fret))
        reading = tuple(s for s in self.reading if s.position is None or s.position <= last_position)
        return MethodPath(rows, reading, self.reading_after) if rows else self

    def asked(self, strings: int = 6, last_fret: int = 12) -> tuple[Asked, ...]:
        """Every place of the rows once, in the order of the path, each with the kind of its first stage."""
        found: dict[Place, Asked] = {}
        for stage in self.rows:
            for place in stage.places(strings, last_fret):
                found.setdefault(place, Asked(place, stage.kind))
        return tuple(found.values())


@dataclass(frozen=True, slots=True)
class StageDay:
    """What was shown of a stage on one practice day. None stands for what was not measured."""

    day: dt.date
    right: float
    recall_s: float | None = None
    tempo_bpm: float | None = None


@dataclass(frozen=True, slots=True)
class Standing:
    """Where a player stands. rows, reading: the stage at hand; reading None before it begins.

    held: names of stages whose gates were met. set_by_teacher: strands in which a teacher said where to be.
    fallen: stages whose gates were met and whose newest day no longer shows it: to go back to, for a while.
    chosen: strands in which the player chose where to be.
    """

    rows: Stage
    reading: Stage | None
    held: frozenset[str]
    set_by_teacher: frozenset[Strand] = frozenset()
    fallen: tuple[str, ...] = ()
    chosen: frozenset[Strand] = frozenset()


def day_meets(gate: StageGate, shown: StageDay) -> bool:
    """Whether one day shows what a gate asks for; what was not measured does not show it."""
    if shown.right < gate.right:
        return False
    if gate.recall_s is not None and (shown.recall_s is None or shown.recall_s > gate.recall_s):
        return False
    return gate.tempo_bpm is None or (shown.tempo_bpm is not None and shown.tempo_bpm >= gate.tempo_bpm)


def gate_met(gate: StageGate, days: Sequence[StageDay]) -> bool:
    """Whether a gate was met: on so many separate days, at any time. Of one day the best counts once."""
    return len({shown.day for shown in days if day_meets(gate, shown)}) >= gate.days


def standing(
    path: MethodPath,
    shown: Mapping[str, Sequence[StageDay]],
    *,
    teacher: Mapping[Strand, str] | None = None,
    placed: Mapping[Strand, str] | None = None,
    chosen: Mapping[Strand, str] | None = None,
) -> Standing:
    """Say where a player stands.

    shown: what was shown of each stage, by its name. placed: where a placement run put the player; the stages
    before it count as held. chosen: where the player wants to be, forwards or back: `still_chosen` says for
    how long. teacher: where a teacher says to be, which goes before everything else. Names that the path does
    not have (any more) say nothing.
    """
    by_gates = {
        stage.name for stage in (*path.rows, *path.reading) if gate_met(stage.gate, shown.get(stage.name, ()))
    }
    held = set(by_gates)
    for strand, name in (placed or {}).items():
        names = [stage.name for stage in path.strand(strand)]
        if name in names:
            held |= set(names[: names.index(name)])
    by_teacher = {strand: name for strand, name in (teacher or {}).items() if _in(path, strand, name)}
    by_player = {strand: name for strand, name in (chosen or {}).items() if _in(path, strand, name)}
    said = {**by_player, **by_teacher}
    rows = _at(path.rows, held, said.get(Strand.ROWS))
    reading = None
    if Strand.READING in said or path.reading_after in held:
        reading = _at(path.reading, held, said.get(Strand.READING)) if path.reading else None
    return Standing(
        rows,
        reading,
        frozenset(held),
        frozenset(by_teacher),
        _fallen(path, by_gates, shown),
        frozenset(by_player) - frozenset(by_teacher),
    )


def still_chosen(stage: Stage, days: Sequence[StageDay], since: dt.date) -> bool:
    """Whether a stage that was chosen on a day still holds: until its gate is met by what was shown since."""
    return not gate_met(stage.gate, [shown for shown in days if shown.day >= since])


def _in(path: MethodPath, strand: Strand, name: str) -> bool:
    return any(stage.name == name for stage in path.strand(strand))


def _at(stages: tuple[Stage, ...], held: set[str], said: str | None) -> Stage:
    """The stage said, or the first that does not hold; the last where all do."""
    if said is not None:
        return next(stage for stage in stages if stage.name == said)
    return next((stage for stage in stages if stage.name not in held), stages[-1])


def _fallen(path: MethodPath, held: set[str], shown: Mapping[str, Sequence[StageDay]]) -> tuple[str, ...]:
    found = []
    for stage in (*path.rows, *path.reading):
        days = shown.get(stage.name, ())
        if stage.name not in held or not days:
            continue
        newest = max(day.day for day in days)
        if not any(day_meets(stage.gate, day) for day in days if day.day == newest):
            found.append(stage.name)
    return tuple(found)


# A placement run asks so many places of each stage of rows, and ends with the first that does not hold
# [ours]: 6 at some 4 s are 24 s a stage, so that ten stages take 4 minutes.
PLACES_A_STAGE = 6


@dataclass(frozen=True, slots=True)
class PlacementAnswer:
    """One answer of a placement run. recall_s: None where it was wrong or missed."""

    stage: str
    right: bool
    recall_s: float | None


def placement_stage(path: MethodPath, answers: Sequence[PlacementAnswer]) -> tuple[Stage, bool]:
    """Return the stage of rows to ask next, or, with True, the one where the player is placed.

    A stage is passed with one answer of six wrong at most and, where its gate asks for a time, with the
    middle one of the right answers within it.
    """
    for stage in path.rows:
        of_stage = [answer for answer in answers if answer.stage == stage.name]
        wrong = sum(not answer.right for answer in of_stage)
        if wrong > 1:
            return stage, True
        if len(of_stage) < PLACES_A_STAGE:
            return stage, False
        times = sorted(a.recall_s for a in of_stage if a.right and a.recall_s is not None)
        limit = stage.gate.recall_s
        if limit is not None and (not times or times[len(times) // 2] > limit):
            return stage, True
    return path.rows[-1], True


@dataclass(frozen=True, slots=True)
class Task:
    """One thing that a teacher sets. drill or score: its name; the other None. minutes: for a day.

    tempo_bpm, position: None where the teacher leaves it open.
    """

    drill: str | None
    score: str | None
    minutes: float
    tempo_bpm: float | None = None
    position: int | None = None


@dataclass(frozen=True, slots=True)
class Assignment:
    """What a teacher sets until a date, that day included. stages: where to be on the path."""

    until: dt.date
    tasks: tuple[Task, ...]
    note: str = ""
    stages: tuple[tuple[Strand, str], ...] = ()

    def holds_on(self, day: dt.date) -> bool:
        """Whether it still holds on a practice day."""
        return day <= self.until
