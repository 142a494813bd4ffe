"""The path of the method and a teacher's assignment, read from files."""

import datetime as dt
import difflib
from collections.abc import Collection, Sequence
from pathlib import Path
from typing import Annotated, Any

from pydantic import AfterValidator, BeforeValidator, Field, model_validator

from midifret.files import Document, FileModel, Home, check_model, read_document, refuse, shipped_folder
from midifret.files.fields import choice, shown
from midifret.practice.kinds import RecallKind
from midifret.practice.path import Assignment, MethodPath, Stage, StageGate, Strand, Task
from midifret.terms import BadInput, Problem

FILE_NAME = "path.yaml"
MOST_STAGES, MOST_DRILLS, MOST_TASKS = 60, 40, 40
_LAST_FRET = 24
_MOST_POSITION = 19
_MOST_LEVEL = 20
_SCORES = "a file in the folder `scores`, as `midifret scores` lists them"

Name = Annotated[str, Field(min_length=1, max_length=80)]
Bpm = Annotated[float, Field(ge=20, le=400)]


def _frets(value: Any) -> tuple[int, int]:
    text = str(value) if isinstance(value, int) and not isinstance(value, bool) else value
    ends = text.split("-") if isinstance(text, str) else []
    if not 1 <= len(ends) <= 2 or not all(end.strip().isdecimal() and len(end) < 4 for end in ends):
        raise refuse(f"{shown(value)} is no fret and no range of frets", "a fret or a range, for example 0-3")
    low, high = int(ends[0]), int(ends[-1])
    if low > high or high > _LAST_FRET:
        raise refuse(f"there are no frets {low} to {high}", f"0 to {_LAST_FRET}, the lower first")
    return low, high


def _date(value: Any) -> dt.date:
    try:
        return dt.date.fromisoformat(value)
    except (TypeError, ValueError):
        raise refuse(f"{shown(value)} is no date", "year-month-day, for example 2027-03-01") from None


Frets = Annotated[tuple[int, int], BeforeValidator(_frets)]
Date = Annotated[dt.date, BeforeValidator(_date)]


class GateFile(FileModel):
    """What has to be shown before the next stage."""

    right: Annotated[float, Field(ge=0.5, le=1)]
    recall_s: Annotated[float, Field(ge=0.3, le=30)] | None = None
    tempo_bpm: Bpm | None = None
    days: Annotated[int, Field(ge=1, le=30)] = 2


class _StageFile(FileModel):
    stage: Name
    title: Name
    gate: GateFile
    drills: Annotated[list[Name], Field(max_length=MOST_DRILLS)] = Field(default_factory=list)


class RowsFile(_StageFile):
    """One stage of the rows."""

    frets: Annotated[list[Frets], Field(min_length=1, max_length=25)]
    kind: Annotated[RecallKind, choice(RecallKind)] = RecallKind.NAME


class ReadingFile(_StageFile):
    """One stage of reading."""

    position: Annotated[int, Field(ge=1, le=_MOST_POSITION)]
    level: Annotated[int, Field(ge=1, le=_MOST_LEVEL)] = 1


class PathFile(FileModel):
    """Both strands."""

    reading_after: Name
    rows: Annotated[list[RowsFile], Field(min_length=1, max_length=MOST_STAGES)]
    reading: Annotated[list[ReadingFile], Field(max_length=MOST_STAGES)]


class TaskFile(FileModel):
    """One thing to practise."""

    drill: Name | None = None
    score: Name | None = None
    minutes: Annotated[float, Field(ge=1, le=120)] = 5
    tempo_bpm: Bpm | None = None
    position: Annotated[int, Field(ge=0, le=_MOST_POSITION)] | None = None

    @model_validator(mode="after")
    def _one(self) -> Any:
        if (self.drill is None) == (self.score is None):
            raise refuse("this names neither or both of drill and score", "drill or score, one of them")
        if self.drill is not None and self.position is not None:
            raise refuse("a drill has places of its own and takes no position", "position beside a score")
        return self


def _note(text: str) -> str:
    if any(ord(letter) < 32 and letter not in "\n\t" for letter in text):
        raise refuse("the note has characters that cannot be shown", "text")
    return text


class AssignmentFile(FileModel):
    """What a teacher sets."""

    until: Date
    tasks: Annotated[list[TaskFile], Field(max_length=MOST_TASKS)] = Field(default_factory=list)
    note: Annotated[str, Field(max_length=2000), AfterValidator(_note)] = ""
    rows: Name | None = None
    reading: Name | None = None


def load_path(home: Home, drills: Collection[str] | None = None) -> MethodPath:
    """Return the person's own path, or else the one that is shipped.

    drills: names that are known; None checks none. Raises BadInput for a faulty file.
    """
    own = home.root / FILE_NAME
    path: Path = own if own.is_file() else shipped_folder("config") / FILE_NAME
    found, problems = check_path(read_document(path), drills)
    if found is None:
        raise BadInput(f"the path in {path} has faults", problems=problems)
    return found


def check_path(
    document: Document, drills: Collection[str] | None = None
) -> tuple[MethodPath | None, tuple[Problem, ...]]:
    """Check a path: what it says, or None and every problem. drills: as for `load_path`."""
    found, problems = check_model(document, PathFile)
    if found is None:
        return None, problems
    faults = [
        *_twice(document, found),
        *(
            fault
            for strand, stages in (("rows", found.rows), ("reading", found.reading))
            for number, stage in enumerate(stages)
            for n, name in enumerate(stage.drills)
            if (fault := _unknown(document, (strand, number, "drills", n), "drill", name, drills))
        ),
    ]
    names = [stage.stage for stage in found.rows]
    if fault := _unknown(document, ("reading_after",), "stage of rows", found.reading_after, names):
        faults.append(fault)
    if faults:
        return None, tuple(sorted(faults, key=lambda p: (p.line or 0, p.column or 0)))
    rows = tuple(_stage(Strand.ROWS, s, frets=tuple(s.frets), kind=s.kind) for s in found.rows)
    reading = tuple(
        _stage(Strand.READING, s, kind=RecallKind.STAFF, position=s.position, level=s.level)
        for s in found.reading
    )
    return MethodPath(rows, reading, found.reading_after), ()


def load_assignment(
    file: Path,
    path: MethodPath,
    drills: Collection[str] | None = None,
    scores: Collection[str] | None = None,
) -> Assignment:
    """Return what a teacher sets in a file. Raises BadInput where it has faults; see `check_assignment`."""
    found, problems = check_assignment(read_document(file), path, drills, scores)
    if found is None:
        raise BadInput(f"the assignment in {file} has faults", problems=problems)
    return found


def check_assignment(
    document: Document,
    path: MethodPath,
    drills: Collection[str] | None = None,
    scores: Collection[str] | None = None,
) -> tuple[Assignment | None, tuple[Problem, ...]]:
    """Check an assignment: what it says, or None and every problem.

    drills, scores: names that are known, of scores the files in the player's own folder; None checks none.
    """
    found, problems = check_model(document, AssignmentFile)
    if found is None:
        return None, problems
    faults = [
        fault
        for n, task in enumerate(found.tasks)
        if task.drill and (fault := _unknown(document, ("tasks", n, "drill"), "drill", task.drill, drills))
    ]
    faults += [
        fault
        for n, task in enumerate(found.tasks)
        if task.score
        and (fault := _unknown(document, ("tasks", n, "score"), "score", task.score, scores, _SCORES))
    ]
    stages: list[tuple[Strand, str]] = []
    for strand, name in ((Strand.ROWS, found.rows), (Strand.READING, found.reading)):
        if name is None:
            continue
        names = [stage.name for stage in path.strand(strand)]
        if fault := _unknown(document, (strand.value,), f"stage of {strand}", name, names):
            faults.append(fault)
        stages.append((strand, name))
    if faults:
        return None, tuple(sorted(faults, key=lambda p: (p.line or 0, p.column or 0)))
    tasks = tuple(Task(t.drill, t.score, t.minutes, t.tempo_bpm, t.position) for t in found.tasks)
    return Assignment(found.until, tasks, found.note, tuple(stages)), ()


def _stage(strand: Strand, stage: _StageFile, **more: Any) -> Stage:
    gate = stage.gate
    return Stage(
        strand,
        stage.stage,
        stage.title,
        tuple(stage.drills),
        StageGate(gate.right, gate.recall_s, gate.tempo_bpm, gate.days),
        **more,
    )


def _twice(document: Document, found: PathFile) -> list[Problem]:
    """Every stage whose name stands before."""
    seen: set[str] = set()
    faults = []
    strands: Sequence[tuple[str, Sequence[_StageFile]]] = (("rows", found.rows), ("reading", found.reading))
    for strand, stages in strands:
        for number, stage in enumerate(stages):
            if stage.stage in seen:
                message = f'the stage "{stage.stage}" is there twice'
                faults.append(document.problem((strand, number, "stage"), message, "another name"))
            seen.add(stage.stage)
    return faults


def _unknown(
    document: Document,
    where: tuple[str | int, ...],
    what: str,
    name: str,
    known: Collection[str] | None,
    many: str = "a name that `midifret drills` lists",
) -> Problem | None:
    """The problem with a name that is not known, with the nearest one; None where it is."""
    if known is None or name in known:
        return None
    near = difflib.get_close_matches(name, list(known), n=1, cutoff=0.5)
    hint = f'; did you mean "{near[0]}"?' if near else ""
    few = ", ".join(known) if 0 < len(known) <= 12 else many
    return document.problem(where, f'there is no {what} "{name}"{hint}', few)
