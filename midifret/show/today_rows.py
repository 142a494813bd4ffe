"""Today's plan for people, and as a document: blocks with their reasons, what was lost, where one stands."""

import datetime as dt
import shlex
import textwrap
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Any

from midifret.neck import Accidentals, Language, Neck, pitch_name, spell
from midifret.practice import (
    Asked,
    Assignment,
    Block,
    BlockKind,
    DayPlan,
    RecallKind,
    Stage,
    Standing,
    Strand,
    Task,
)
from midifret.practice.set_work import TaskToday
from midifret.reading.build import position_words
from midifret.show.practice_words import Titles, block_title
from midifret.show.rows import BLANK, Row, Span, clean, ends, fit, row, width_of
from midifret.show.rows import Block as Rows
from midifret.show.words import CAUTION
from midifret.terms.practised import SessionKept

_INDENT = 10
_MOST_TOLD = 8  # places in one line [ours]
_LEAST_WIDTH = 40
# From so many minutes of playing on the usual caution stands below the plan: half an hour [ours].
_LONG_MINUTES = 30.0
_KINDS = {
    RecallKind.NAME: "",
    RecallKind.STAFF: "from the staff: ",
    RecallKind.NAMING: "to be named: ",
    RecallKind.INTERVAL: "by interval: ",
}


@dataclass(frozen=True, slots=True)
class Names:
    """How notes are named for a player, on which neck."""

    neck: Neck
    language: Language = Language.ENGLISH
    accidentals: Accidentals = Accidentals.SHARPS

    def of(self, asked: Asked) -> str:
        """The name of the note at a place."""
        pitch = spell(self.neck.midi(asked.place), self.accidentals)[0]
        return pitch_name(pitch, self.language)


@dataclass(frozen=True, slots=True)
class SetWork:
    """An assignment that holds. file: name of its file. today: its tasks, with what was played of them."""

    file: str
    content: Assignment
    today: tuple[TaskToday, ...] = ()


@dataclass(frozen=True, slots=True)
class TodayView:
    """All that is shown of a day.

    titles: of drills. command: by which a block alone is played, or "". unfinished: today's session so far.
    """

    player: str
    plan: DayPlan
    standing: Standing
    strands: Mapping[Strand, tuple[Stage, ...]]
    set_by: Mapping[Strand, str]
    assignments: tuple[SetWork, ...]
    remarks: tuple[str, ...]
    names: Names
    titles: Titles
    command: Callable[[Block], str]
    unfinished: SessionKept | None = None


def today_rows(view: TodayView, width: int) -> Rows:
    """The plan as rows of at most `width` cells."""
    width = max(width, _LEAST_WIDTH)
    plan = view.plan
    head = row(
        Span(f"{day_words(plan.day)}: {counted_minutes(plan.minutes)}", "strong"),
        f" for {clean(view.player)}",
    )
    parts: list[Rows] = [
        (fit(head, width),),
        _lost(plan, width),
        *(_assignment(view, one, width) for one in view.assignments),
        tuple(line for block in plan.blocks for line in _block(view, block, width)),
        _notes(view, width),
        stands_rows(view, width),
    ]
    lines: list[Row] = []
    for part in parts:
        if part:
            lines += [BLANK, *part] if lines else part
    return tuple(lines)


def counted_minutes(minutes: float) -> str:
    """Minutes in words, a half where there is one."""
    whole = round(minutes * 2) / 2
    if whole == 0.5:
        return "half a minute"
    return f"{whole:g} minute{'' if whole == 1 else 's'}"


def day_words(day: dt.date) -> str:
    """A day as it is written in a diary: Thursday 26 November."""
    return f"{day:%A} {day.day} {day:%B}"


def command_words(words: Sequence[str]) -> str:
    """A command of this program as it is typed."""
    return shlex.join(["midifret", *words])


def _lost(plan: DayPlan, width: int) -> Rows:
    return tuple(line for text in plan.lost.sentences for line in _wrapped(text, width))


def _assignment(view: TodayView, work: SetWork, width: int) -> Rows:
    content = work.content
    until = f"{content.until.day} {content.until:%B}"
    said = [f"{strand} at {name}" for strand, name in content.stages]
    head = f"From your teacher, until {until}" + (f"; {', '.join(said)}" if said else "")
    note = [line for text in content.note.splitlines() if text.strip() for line in _wrapped(text, width, 2)]
    tasks = [line for each in work.today for line in _wrapped(_task(view, each), width, 2)]
    return (row(Span(head, "strong")), *note, *tasks)


def _task(view: TodayView, today: TaskToday) -> str:
    """What is set for a day, and how far it is done."""
    task = today.task
    title = task.score if task.drill is None else view.titles(task.drill)
    played = (
        ", done for today"
        if today.is_done
        else f", {counted_minutes(today.played)} of it played today"
        if round(today.played * 2)
        else ""
    )
    return f"{clean(title or '')}{_how(task)}: {counted_minutes(task.minutes)} a day{played}"


def _block(view: TodayView, block: Block, width: int) -> Rows:
    minutes = row(Span(f"{block.minutes:4.3g} min  "))
    title = row(*minutes, Span(clean(block_title(block, view.titles)), "strong"), Span(_how(block)))
    if block.kind is BlockKind.BREAK:
        return (fit(row(*minutes, Span(block.why)), width),)
    command = view.command(block)
    beside = row(Span(command, "quiet"))
    lines: list[Row]
    if not command:
        lines = [fit(title, width)]
    elif width_of(title) + width_of(beside) + 2 <= width:
        lines = [ends(title, beside, width)]
    else:
        lines = [fit(title, width), row(" " * _INDENT, *beside)]
    lines += _wrapped(block.why, width, _INDENT)
    places = places_text(block.asked, view.names)
    if places:
        lines += [row(Span(line.text, "quiet")) for one in _wrapped(places, width, _INDENT) for line in one]
    return tuple(lines)


def _how(what: Block | Task) -> str:
    """Position and tempo, where a block or a task says them."""
    parts = []
    if what.tempo_bpm is not None:
        parts.append(f"at {what.tempo_bpm:g} beats a minute")
    if what.score is not None and what.position is not None:
        parts.append(f"in {position_words(what.position)}")
    return f", {', '.join(parts)}" if parts else ""


def places_text(asked: Sequence[Asked], names: Names) -> str:
    """Places in a student's words, row by row: `row 5: A on string 6, D on 5`. Empty without any."""
    shown = sorted(asked[:_MOST_TOLD], key=lambda each: (each.kind, each.place.fret, -each.place.string))
    parts: list[str] = []
    for (kind, fret), own in groupby(shown, key=lambda each: (each.kind, each.place.fret)):
        where = "open" if fret == 0 else f"row {fret}"
        told = ", ".join(
            f"{names.of(each)} on {'' if parts or n else 'string '}{each.place.string}"
            for n, each in enumerate(own)
        )
        parts.append(f"{_KINDS[kind]}{where}: {told}")
    left = len(asked) - len(shown)
    more = f"; and {left} more" if left else ""
    return f"{'; '.join(parts)}{more}" if parts else ""


def _notes(view: TodayView, width: int) -> Rows:
    texts = [text for text in (*view.remarks, *view.plan.remarks) if text not in view.plan.lost.sentences]
    if view.plan.minutes >= _LONG_MINUTES or view.plan.load.remarks:
        texts.append(CAUTION)
    return tuple(line for text in texts for line in _wrapped(text, width))


def stands_rows(view: TodayView, width: int) -> Rows:
    """Where the player stands on the two strands, in a line each, and what to do next."""
    lines: list[Row] = []
    for strand, stages in view.strands.items():
        lines += _wrapped(_stands(view, strand, stages), width)
    begin = "`midifret practice` plays all this, block by block."
    if view.unfinished is not None:
        begin = (
            f"A session of today is not finished, {counted_minutes(view.unfinished.minutes)} of it played: "
            "`midifret practice` goes on with it, `midifret practice --anew` plays this plan instead."
        )
    begin += " `midifret path` shows what a stage asks for."
    return (*lines, *_wrapped(begin, width))


def _stands(view: TodayView, strand: Strand, stages: tuple[Stage, ...]) -> str:
    stage = view.standing.rows if strand is Strand.ROWS else view.standing.reading
    label = "Rows" if strand is Strand.ROWS else "Reading"
    if stage is None:
        return f"{label}: not begun." if stages else f"{label}: the path has none."
    number = [each.name for each in stages].index(stage.name) + 1
    by = {
        "teacher": ", set by your teacher",
        "player": ", set by you",
        "placement": ", by your placement run",
    }
    who = by.get(view.set_by.get(strand, ""), "")
    return f"{label}, stage {number} of {len(stages)}{who}: {stage.title}."


def _wrapped(text: str, width: int, indent: int = 0) -> list[Row]:
    margin = " " * indent
    lines = textwrap.wrap(
        clean(text), max(width, _LEAST_WIDTH), initial_indent=margin, subsequent_indent=margin,
        break_on_hyphens=False,
    )  # fmt: skip
    return [row(line) for line in lines]


def today_document(view: TodayView) -> dict[str, Any]:
    """The plan as `today --json` prints it.

    player; day (ISO date, from 04:00 local); minutes: of playing, without breaks;
    blocks: {kind, minutes, why, title, drill, score, places: [{string, fret, kind, name}], position, level,
    tempo_bpm, command: to play it alone, null where it is part of `midifret practice` only}, drill, score,
    position, level and tempo_bpm null where they do not apply;
    remarks: sentences; lost: {away_days, had, slow, gone (places as above without name), sentences};
    load: {minutes, played_minutes, break_every_minutes, break_minutes};
    unfinished: {minutes_played, block: index of the one at hand} of today's session that can be taken up, or
    null;
    standing: {rows, reading (null before it begins): {stage, title, set_by: teacher, player, placement or
    null}, held: stages, fallen: stages};
    assignments: {file, until (ISO date), note, rows, reading (stages or null), tasks: {drill or score, the
    other null, title, minutes, position, tempo_bpm, played_minutes, done: for today}}.
    """
    plan, lost, load = view.plan, view.plan.lost, view.plan.load
    return {
        "player": view.player,
        "day": plan.day.isoformat(),
        "minutes": plan.minutes,
        "blocks": [
            {
                "kind": block.kind.value,
                "minutes": block.minutes,
                "why": block.why,
                "title": block_title(block, view.titles),
                "drill": block.drill,
                "score": block.score,
                "places": [{**_place(each), "name": view.names.of(each)} for each in block.asked],
                "position": block.position,
                "level": block.level,
                "tempo_bpm": block.tempo_bpm,
                "command": view.command(block) or None,
            }
            for block in plan.blocks
        ],
        "remarks": [*view.remarks, *plan.remarks],
        "lost": {
            "away_days": None if lost.away_s is None else round(lost.away_s / 86_400, 2),
            "had": lost.had,
            "slow": [_place(each) for each in lost.slow],
            "gone": [_place(each) for each in lost.gone],
            "sentences": list(lost.sentences),
        },
        "load": {
            "minutes": load.minutes,
            "played_minutes": round(load.played, 2),
            "break_every_minutes": load.break_every,
            "break_minutes": load.break_minutes,
        },
        "unfinished": None
        if view.unfinished is None
        else {"minutes_played": round(view.unfinished.minutes, 2), "block": view.unfinished.block},
        "standing": standing_document(view.standing, view.set_by),
        "assignments": [
            {
                "file": work.file,
                "until": work.content.until.isoformat(),
                "note": work.content.note,
                "tasks": [_task_document(view, each) for each in work.today],
                **{strand.value: dict(work.content.stages).get(strand) for strand in Strand},
            }
            for work in view.assignments
        ],
    }


def _task_document(view: TodayView, today: TaskToday) -> dict[str, Any]:
    task = today.task
    return {
        "drill": task.drill,
        "score": task.score,
        "title": task.score if task.drill is None else view.titles(task.drill),
        "minutes": task.minutes,
        "position": task.position,
        "tempo_bpm": task.tempo_bpm,
        "played_minutes": round(today.played, 2),
        "done": today.is_done,
    }


def standing_document(stands: Standing, set_by: Mapping[Strand, str]) -> dict[str, Any]:
    """Where a player stands, as `today --json` and `path --json` have it."""

    def one(stage: Stage | None, strand: Strand) -> dict[str, Any] | None:
        if stage is None:
            return None
        return {"stage": stage.name, "title": stage.title, "set_by": set_by.get(strand)}

    return {
        "rows": one(stands.rows, Strand.ROWS),
        "reading": one(stands.reading, Strand.READING),
        "held": sorted(stands.held),
        "fallen": list(stands.fallen),
    }


def _place(asked: Asked) -> dict[str, Any]:
    return {"string": asked.place.string, "fret": asked.place.fret, "kind": asked.kind.value}
