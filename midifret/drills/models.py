"""What may stand in a drill file; the JSON Schema for editors is made from the same models."""

from typing import Annotated, Any, Self

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, model_validator

from midifret.drills.fields import (
    Broken,
    Judge,
    Order,
    PlaceText,
    Range,
    Show,
    Side,
    one_or_more,
)
from midifret.files import FileModel, Flag, choice, refuse
from midifret.files.fields import schema_of, shown
from midifret.neck import Accidentals, Language
from midifret.tempo import LEAST_BETWEEN_S, LEAST_BPM, MOST_BPM
from midifret.terms import Tempo

WITHIN_MS, SHARE = Tempo(60.0).within_ms, Tempo(60.0).share
Text = Annotated[str, Field(min_length=1)]
MOST_PROMPTS = 1000
MOST_ITEMS = 100
_Count = Annotated[int, Field(ge=1, le=MOST_PROMPTS)]


class Region(FileModel):
    """A part of the neck; what is left out is not limited."""

    frets: Range | None = Field(default=None, description="a fret or a range, for example 0-3")
    strings: Range | None = Field(default=None, description="a string or a range, for example 1-3")


class Pool(Region):
    """The notes of a part of the neck."""

    notes: Text = Field(
        default="all", description="naturals, accidentals, all, or a key such as D major or A harmonic minor"
    )


class Notes(Region):
    """Notes by name, each wherever the region has it."""

    names: list[str] = Field(min_length=1, description="note names, with octaves as sounded: E4 or E")


class Walk(Region):
    """A walk step by step, each note at the lowest fret that the region has for it."""

    through: Text = Field(default="naturals", description="naturals, chromatic, or a key such as D major")
    from_: Text = Field(alias="from", description="the first place or note, for example 6:0 or E2")
    to: Text = Field(description="where it turns or ends, a place or a note, for example 1:3 or G4")
    broken: Annotated[Broken, choice(Broken), schema_of(Broken)] | None = Field(
        default=None, description="go in broken intervals: up a third, back a step"
    )
    back: Flag = Field(default=True, description="whether to walk back as well")


class OneString(FileModel):
    """A walk along a single string."""

    number: Annotated[int, Field(ge=1, le=12)]
    frets: Range = Field(default=(0, 12), strict=False)
    through: Text = Field(default="chromatic", description="chromatic, naturals, or a key such as D major")
    back: Flag = True


class Row(FileModel):
    """All strings at one fret, the sixth first."""

    fret: Annotated[int, Field(ge=0, le=24)]
    leap: Annotated[int, Field(ge=1, le=11)] | None = Field(
        default=None, description="walk the row with this leap, there and back; without it each string once"
    )


class BesideRow(FileModel):
    """The row one fret below or above another, each note between the naturals by both its names."""

    row: Annotated[int, Field(ge=0, le=24)]
    side: Annotated[Side, choice(Side), schema_of(Side)]


class PlacesOf(Region):
    """Every place of one note, in any order, each once."""

    note: Text = Field(description="a note name; with an octave only that pitch, without one all octaves")


class TakenString(Pool):
    """One note is held, another that usually lies on the same string must be found on a free one."""

    pairs: list[Annotated[list[PlaceText], Field(min_length=2, max_length=2)]] | None = Field(
        default=None, description="held place and usual place of the other note, for example [[2:1, 2:3]]"
    )


class OtherDrill(FileModel):
    """Questions taken from another drill."""

    name: Text
    count: _Count | None = Field(default=None, description="how many of its questions, its first ones")


class Draw(Pool):
    """Random draws, never the same twice in a row."""

    count: _Count = 20


def _names(value: Any) -> Any:
    return {"names": value} if isinstance(value, list) else value


def _named(value: Any) -> Any:
    return {"name": value} if isinstance(value, str) else value


def _in_bpm(value: Any) -> Any:
    if isinstance(value, int | float) and not isinstance(value, bool):
        return {"bpm": value}
    if value is None or isinstance(value, dict | BaseModel):
        return value
    raise refuse(
        f"{shown(value)} is no tempo", "beats a minute, such as 72, or a group of keys with bpm in it"
    )


class Item(FileModel):
    """One thing to ask: exactly one kind of question, and how it is shown and judged."""

    model_config = ConfigDict(json_schema_extra=lambda schema: schema.update(_one_kind_schema()))

    places: Annotated[list[PlaceText], Field(min_length=1)] | None = None
    notes: Annotated[Notes, BeforeValidator(_names, json_schema_input_type=Notes | list[str])] | None = None
    walk: Walk | None = None
    string: OneString | None = None
    row: Row | None = None
    beside_row: BesideRow | None = None
    region: Pool | None = None
    draw: Draw | None = None
    places_of: PlacesOf | None = None
    same_pitch: Pool | None = None
    octaves: Pool | None = None
    taken_string: TakenString | None = None
    drill: Annotated[OtherDrill, BeforeValidator(_named, json_schema_input_type=OtherDrill | str)] | None = (
        None
    )
    show: Show | None = None
    judge: Judge | None = None

    @property
    def kind(self) -> str:
        """The key that says what is asked."""
        return self._kinds()[0]

    @property
    def asked(self) -> Any:
        """What stands under that key."""
        return getattr(self, self.kind)

    @property
    def is_walk(self) -> bool:
        """Whether its questions follow one upon the other, so that their order tells the next."""
        return self.kind in ("walk", "string") or (self.row is not None and self.row.leap is not None)

    def _kinds(self) -> list[str]:
        return [kind for kind in KINDS if getattr(self, kind) is not None]

    @model_validator(mode="after")
    def _one_kind(self) -> "Item":
        kinds = self._kinds()
        if len(kinds) != 1:
            message = f"{' and '.join(kinds)} stand in one item" if kinds else "nothing is asked here"
            raise refuse(message, f"one of {', '.join(KINDS)}; begin another with a hyphen")
        return self


KINDS = tuple(name for name in Item.model_fields if name not in ("show", "judge"))


def _one_kind_schema() -> dict[str, Any]:
    return {"oneOf": [{"required": [kind]} for kind in KINDS]}


class GateFile(FileModel):
    """What must hold before the next step."""

    right: float = Field(ge=0, le=1, description="the share that must be right, 0 to 1")
    median_response_s: Annotated[float, Field(ge=0.1, le=60)] | None = None
    runs_in_a_row: int = Field(default=1, ge=1, le=20)


class TempoFile(FileModel):
    """How a drill goes in tempo: each question is due on a beat."""

    bpm: float = Field(ge=LEAST_BPM, le=MOST_BPM, description="beats a minute")
    notes_a_beat: Annotated[int, Field(ge=1, le=16)] = 1
    count_in: Annotated[int, Field(ge=0, le=16)] | None = Field(
        default=None, description="beats before the first note; else as the settings say"
    )
    beats_a_bar: Annotated[int, Field(ge=1, le=16)] = 4
    subdivisions: Annotated[int, Field(ge=1, le=8)] | None = Field(
        default=None, description="clicks a beat; else as the settings say, or as many as the tempo needs"
    )
    window_ms: float = Field(
        default=WITHIN_MS, ge=10, le=2000, description="how early or late a note may be and still be in time"
    )
    window_share: float = Field(
        default=SHARE, ge=0.02, le=0.5, description="the same as a share of the time between two notes"
    )

    @model_validator(mode="after")
    def _far_enough_apart(self) -> Self:
        between_s = 60 / (self.bpm * self.notes_a_beat)
        if between_s < LEAST_BETWEEN_S:
            raise refuse(
                f"{self.notes_a_beat} notes a beat at {self.bpm:g} bpm are {1000 * between_s:.3g} ms apart",
                f"{1000 * LEAST_BETWEEN_S:.0f} ms or more",
            )
        return self


class DrillFile(FileModel):
    """One drill."""

    model_config = ConfigDict(json_schema_extra={"not": {"required": ["count", "repeat"]}})

    title: Text = Field(description="a short title")
    stage: Text = Field(description="the part of the method it belongs to, for example 2 Rows")
    step: Annotated[int, Field(ge=1, le=999)] = 100  # where it comes in its stage; alike ones go by name
    trains: Text = Field(description="two sentences: what it trains and how long to spend")
    minutes: Range = Field(default=(3, 5), strict=False, description="how long to spend, for example 3-5")
    language: Annotated[Language, choice(Language), schema_of(Language)] = Field(
        default=Language.ENGLISH, description="of the note names in this file"
    )
    accidentals: Annotated[Accidentals, choice(Accidentals), schema_of(Accidentals)] | None = Field(
        default=None, description="how notes between the naturals are named where no key says it"
    )
    ask: Annotated[list[Item], Field(min_length=1, max_length=MOST_ITEMS), one_or_more(Item, MOST_ITEMS)] = (
        Field(description="one item or a list of items")
    )
    show: Show | None = Field(default=None, description="what the cue shows")
    judge: Judge | None = Field(default=None, description="by what an answer is judged")
    order: Annotated[Order, choice(Order), schema_of(Order)] = Order.AS_WRITTEN
    count: _Count | None = Field(default=None, description="how many questions; a pair counts as one")
    repeat: Annotated[int, Field(ge=1, le=50)] | None = Field(default=None, description="how many rounds")
    naming_rate: float = Field(
        default=0.0, ge=0, le=1, description="the share of questions that is followed by typing a name"
    )
    time_limit_s: Annotated[float, Field(ge=0.5, le=120)] | None = None
    tempo: Annotated[TempoFile, BeforeValidator(_in_bpm, json_schema_input_type=TempoFile | float)] | None = (
        Field(default=None, description="beats a minute, or more about how the drill goes in tempo")
    )
    gate: GateFile | None = None

    @model_validator(mode="after")
    def _one_length(self) -> "DrillFile":
        if self.count is not None and self.repeat is not None:
            raise refuse("count and repeat stand in one drill", "one of the two")
        if self.tempo is not None and self.time_limit_s is not None:
            raise refuse(
                "tempo and time_limit_s stand in one drill", "one of the two; in tempo the beat limits"
            )
        return self
