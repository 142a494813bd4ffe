"""The levels of melodies, read from the shipped file or a person's own in its place."""

from fractions import Fraction
from pathlib import Path
from typing import Annotated, Any

from pydantic import AfterValidator, Field, model_validator

from midifret.files import Document, FileModel, Flag, Home, check_model, read_document, refuse, shipped_folder
from midifret.melody.level import (
    INTERVALS,
    LEAST_BARS,
    MOST_BARS,
    Cell,
    Level,
    cells_fill_beats,
    parse_cell,
    parse_meter,
)
from midifret.melody.tones import key_of
from midifret.terms import BadInput, Problem

FILE_NAME = "melody.yaml"
MOST_LEVELS = 20
_LEAST_RANGE, _MOST_RANGE = 7, 48
_MOST_ACCIDENTALS = 0.2

Weight = Annotated[float, Field(ge=0, le=1000)]


def _checked_key(text: str) -> str:
    return key_of(text).name


def _checked_meter(text: str) -> str:
    parse_meter(text)
    return text


def _checked_intervals(weights: dict[str, float]) -> dict[str, float]:
    for name in weights:
        if name not in INTERVALS:
            raise refuse(f'there is no interval "{name}"', ", ".join(INTERVALS))
    if not weights.get("second"):
        raise refuse("a melody needs seconds", "second: a number above 0")
    return weights


def _checked_rhythms(weights: dict[str, float]) -> dict[str, float]:
    for text in weights:
        parse_cell(text)
    return weights


Rhythms = Annotated[dict[str, Weight], AfterValidator(_checked_rhythms)]
Share = Annotated[float, Field(ge=0, le=1)]
Range = Annotated[int, Field(ge=_LEAST_RANGE, le=_MOST_RANGE)]


class LevelFile(FileModel):
    """One level as it stands in the file."""

    title: Annotated[str, Field(min_length=1, max_length=80)]
    bars: Annotated[int, Field(ge=LEAST_BARS, le=MOST_BARS)]
    keys: Annotated[list[Annotated[str, AfterValidator(_checked_key)]], Field(min_length=1, max_length=40)]
    meters: Annotated[list[Annotated[str, AfterValidator(_checked_meter)]], Field(min_length=1, max_length=4)]
    range: Range
    phrase_range: Range
    intervals: Annotated[dict[str, Weight], AfterValidator(_checked_intervals)]
    rhythms: Rhythms = Field(default_factory=dict)
    rhythms_in_6_8: Rhythms = Field(default_factory=dict)
    accidentals: Annotated[float, Field(ge=0, le=_MOST_ACCIDENTALS)] = 0.0
    stretch: Flag = True
    upbeats: Share = 0.0
    ties: Share = 0.0

    @model_validator(mode="after")
    def _together(self) -> Any:
        if self.phrase_range > self.range:
            raise refuse(f"phrase_range {self.phrase_range} is above range {self.range}", "range or less")
        for key, needed, beat in (
            ("rhythms", any(meter != "6/8" for meter in self.meters), Fraction(1)),
            ("rhythms_in_6_8", "6/8" in self.meters, Fraction(3, 2)),
        ):
            cells = _cells(getattr(self, key))
            if (needed or cells) and (wrong := cells_fill_beats(cells, beat)):
                raise refuse(f"{key}: {wrong}", f"groups of whole beats, one of them of {beat} quarter notes")
        return self


class MelodyFile(FileModel):
    """All levels, the easiest first."""

    levels: Annotated[list[LevelFile], Field(min_length=1, max_length=MOST_LEVELS)]


def load_levels(home: Home) -> tuple[Level, ...]:
    """Return the person's own levels, or else those that are shipped. Raises BadInput for a faulty file."""
    own = home.root / FILE_NAME
    path: Path = own if own.is_file() else shipped_folder("config") / FILE_NAME
    levels, problems = check_levels(read_document(path))
    if problems:
        raise BadInput(f"the levels of melodies in {path} have faults", problems=problems)
    return levels


def check_levels(document: Document) -> tuple[tuple[Level, ...], tuple[Problem, ...]]:
    """Check a file of levels: its levels, or none and every problem."""
    found, problems = check_model(document, MelodyFile)
    if found is None:
        return (), problems
    return tuple(_level(number, level) for number, level in enumerate(found.levels, start=1)), ()


def _level(number: int, level: LevelFile) -> Level:
    return Level(
        number=number,
        title=level.title,
        bars=level.bars,
        keys=tuple(level.keys),
        meters=tuple(parse_meter(meter) for meter in level.meters),
        range_semitones=level.range,
        phrase_range_semitones=level.phrase_range,
        intervals={INTERVALS[name]: weight for name, weight in level.intervals.items() if weight},
        cells=_cells(level.rhythms),
        compound_cells=_cells(level.rhythms_in_6_8),
        accidentals=level.accidentals,
        stretch=level.stretch,
        upbeats=level.upbeats,
        ties=level.ties,
    )


def _cells(weights: dict[str, float]) -> tuple[Cell, ...]:
    return tuple(Cell(parse_cell(text), weight) for text, weight in weights.items() if weight)
