"""The path for people, and as a document: both strands, what holds, and what each gate still lacks."""

import datetime as dt
import textwrap
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from midifret.practice import MethodPath, Stage, StageDay, StageGate, Standing, Strand
from midifret.practice.path import day_meets
from midifret.show.rows import BLANK, Block, Row, Span, clean, ends, fit, row
from midifret.show.today_rows import standing_document
from midifret.show.words import counted, per_cent

_LEAST_WIDTH = 40
# So many stages ahead are shown with their titles; fewer than so many beyond them are too [ours].
_AHEAD, _LEAST_FAR = 2, 2
_HEADINGS = {Strand.ROWS: "Rows, by name", Strand.READING: "Reading, one position after the other"}


@dataclass(frozen=True, slots=True)
class PathView:
    """All that is shown of a path. shown: of each stage, by its name. set_by: who set a strand, by strand."""

    player: str
    path: MethodPath
    standing: Standing
    shown: Mapping[str, Sequence[StageDay]]
    set_by: Mapping[Strand, str]


def path_rows(view: PathView, width: int) -> Block:
    """The path as rows of at most `width` cells."""
    width = max(width, _LEAST_WIDTH)
    lines: list[Row] = []
    for strand in Strand:
        stages = view.path.strand(strand)
        if not stages:
            continue
        at = _at(view.standing, strand)
        lines += [BLANK] if lines else []
        lines.append(row(Span(_HEADINGS[strand], "strong")))
        lines += _stage_rows(view, stages, at, width)
        lines += [line for text in _lacks(view, strand, at) for line in _wrapped(text, width)]
    return tuple(lines)


def _at(stands: Standing, strand: Strand) -> Stage | None:
    return stands.rows if strand is Strand.ROWS else stands.reading


def _stage_rows(view: PathView, stages: tuple[Stage, ...], at: Stage | None, width: int) -> list[Row]:
    """A row for each stage; of those far ahead the names alone, so that both strands fit on a screen."""
    near = (stages.index(at) if at is not None else -1) + 1 + _AHEAD
    far = [stage for stage in stages[near:] if _state(view, stage, is_at=False) == ""]
    if len(far) < _LEAST_FAR:
        far = []
    lines = [_stage_row(view, stage, stage is at, width) for stage in stages if stage not in far]
    if far:
        lines += [
            row(Span(line, "quiet"))
            for line in textwrap.wrap(
                clean(f"then {', '.join(stage.name for stage in far)}"), width, initial_indent="  · ",
                subsequent_indent="    ", break_on_hyphens=False,
            )
        ]  # fmt: skip
    return lines


def _state(view: PathView, stage: Stage, *, is_at: bool) -> str:
    """How a stage stands, in a few words; nothing where nothing was shown of it."""
    if is_at:
        return "your stage"
    if stage.name in view.standing.fallen:
        return "held; not on the last day"
    if stage.name in view.standing.held:
        return "holds"
    met = len(_met(stage.gate, view.shown.get(stage.name, ())))
    return f"{met} of {counted(stage.gate.days, 'day')}" if met else ""


def _stage_row(view: PathView, stage: Stage, is_at: bool, width: int) -> Row:
    sign = "✓" if stage.name in view.standing.held else "·"
    here = "→" if is_at else " "
    state = _state(view, stage, is_at=is_at)
    left = row(
        f"{here} {sign} ", Span(clean(stage.title), "strong" if is_at else ""), Span(f"  {state}", "quiet")
    )
    return fit(ends(left, row(Span(clean(stage.name), "quiet")), width), width)


def _met(gate: StageGate, days: Sequence[StageDay]) -> set[dt.date]:
    return {shown.day for shown in days if day_meets(gate, shown)}


def _lacks(view: PathView, strand: Strand, stage: Stage | None) -> list[str]:
    """What the gate of a stage still lacks, in sentences."""
    if stage is None:
        after = view.path.stage(view.path.reading_after)
        title = view.path.reading_after if after is None else after.title
        return [f"It begins when this holds: {title}."]
    by = {
        "teacher": "Your teacher set this stage.",
        "player": "You set this stage; it holds until its gate is met from then on.",
        "placement": "Your placement run set this stage.",
    }.get(view.set_by.get(strand, ""))
    return [
        *([by] if by else []),
        gate_words(stage.gate),
        *lacks_words(stage, view.shown.get(stage.name, ())),
    ]


def gate_words(gate: StageGate) -> str:
    """What a gate asks for, as a sentence."""
    parts = [f"{per_cent(gate.right)} right at the first try"]
    if gate.recall_s is not None:
        parts.append(f"the middle answer within {gate.recall_s:g} s")
    if gate.tempo_bpm is not None:
        parts.append(f"{gate.tempo_bpm:g} beats a minute")
    days = "on one day" if gate.days == 1 else f"on {gate.days} separate days"
    return f"The next stage begins with {_listed(parts)}, {days}."


def lacks_words(stage: Stage, days: Sequence[StageDay]) -> list[str]:
    """What was shown of a stage and what that lacks."""
    gate = stage.gate
    if not days:
        return ["Nothing of it was shown so far."]
    met = len(_met(gate, days))
    newest = max(days, key=lambda shown: (shown.day, shown.right))
    lines = []
    if met >= gate.days:
        lines.append(f"It was met on {counted(met, 'day')}.")
    elif met:
        lines.append(f"It was met on {met} of {counted(gate.days, 'day')}.")
    found = [f"{per_cent(newest.right)} right"]
    if gate.recall_s is not None:
        timed = newest.recall_s is not None
        found.append(f"the middle answer after {newest.recall_s:.1f} s" if timed else "no answer timed")
    if gate.tempo_bpm is not None:
        measured = newest.tempo_bpm is not None
        found.append(f"{newest.tempo_bpm:.0f} beats a minute owned" if measured else "no tempo measured")
    lacking = _lacking(gate, newest)
    end = f"Not yet enough: it takes {_listed(lacking)}." if lacking else "That is enough for this day."
    lines.append(f"On {newest.day.day} {newest.day:%B}: {', '.join(found)}. {end}")
    return lines


def _lacking(gate: StageGate, shown: StageDay) -> list[str]:
    found = []
    if shown.right < gate.right:
        found.append(f"{per_cent(gate.right)} right")
    if gate.recall_s is not None and (shown.recall_s is None or shown.recall_s > gate.recall_s):
        found.append(f"the middle answer within {gate.recall_s:g} s")
    if gate.tempo_bpm is not None and (shown.tempo_bpm is None or shown.tempo_bpm < gate.tempo_bpm):
        found.append(f"{gate.tempo_bpm:g} beats a minute")
    return found


def _listed(parts: Sequence[str]) -> str:
    return parts[0] if len(parts) == 1 else f"{', '.join(parts[:-1])} and {parts[-1]}"


def _wrapped(text: str, width: int) -> list[Row]:
    return [
        row(line)
        for line in textwrap.wrap(
            clean(text), width, initial_indent="    ", subsequent_indent="    ", break_on_hyphens=False
        )
    ]


def path_document(view: PathView) -> dict[str, Any]:
    """The path as `path --json` prints it.

    player; standing: as in `today --json`; rows, reading: stages in their order, {stage, title, holds,
    gate: {right, recall_s, tempo_bpm, days}, days_met, newest: {day, right, recall_s, tempo_bpm} or null,
    drills, frets: [[low, high]], position, level}.
    """
    return {
        "player": view.player,
        "standing": standing_document(view.standing, view.set_by),
        **{
            strand.value: [_stage_document(view, stage) for stage in view.path.strand(strand)]
            for strand in Strand
        },
    }


def _stage_document(view: PathView, stage: Stage) -> dict[str, Any]:
    days = view.shown.get(stage.name, ())
    newest = max(days, key=lambda shown: (shown.day, shown.right)) if days else None
    gate = stage.gate
    return {
        "stage": stage.name,
        "title": stage.title,
        "holds": stage.name in view.standing.held,
        "gate": {
            "right": gate.right,
            "recall_s": gate.recall_s,
            "tempo_bpm": gate.tempo_bpm,
            "days": gate.days,
        },
        "days_met": len(_met(gate, days)),
        "newest": None
        if newest is None
        else {
            "day": newest.day.isoformat(),
            "right": newest.right,
            "recall_s": newest.recall_s,
            "tempo_bpm": newest.tempo_bpm,
        },
        "drills": list(stage.drills),
        "frets": [list(each) for each in stage.frets],
        "position": stage.position,
        "level": stage.level,
    }
