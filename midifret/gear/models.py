"""What may stand in a guitar file, a tunings file and a settings file."""

from typing import Annotated, Any

from pydantic import AfterValidator, BeforeValidator, Field, RootModel, WithJsonSchema

from midifret.files import FileModel, choice, refuse
from midifret.files.fields import Flag, schema_of, shown
from midifret.gear.settings import DEMO_PLAYER, ClickWay
from midifret.neck import Accidentals, Language, parse_name
from midifret.neck.neck import LEAST_FRETS, MOST_FRETS, USUAL_FRETS
from midifret.terms import Encoding, Place, SpelledPitch

# What a string of any guitar could be tuned to, generously: from the C two octaves below the usual sixth
# string's octave to the E an octave above the first string.
LOWEST_OPEN, HIGHEST_OPEN = 12, 76
LEAST_STRINGS, MOST_STRINGS = 3, 12


def open_string(text: str) -> str:
    """Check the name of an open string, English with its sounding octave. Raises ValueError."""
    midi = open_string_midi(text)
    if not LOWEST_OPEN <= midi <= HIGHEST_OPEN:
        raise refuse(f"{text!r} is beyond any guitar", "C0 to E5, octaves as sounded (E4 the usual first)")
    return text


def open_string_midi(text: str) -> int:
    """Sounding MIDI number of an open string as a tuning writes it. Raises ValueError."""
    step, alter, octave = parse_name(text)
    if octave is None:
        raise refuse(f"{text!r} lacks its octave", f"as sounded, for example {text}4; E4 is the usual first")
    return SpelledPitch(step, alter, octave).midi


def _place(text: str) -> str:
    Place.parse(text)
    return text


def _printable(text: str) -> str:
    if not text.strip() or not text.isprintable():
        raise refuse(f"{text!r} is no name", "letters, digits and signs on one line")
    return text


Channel = Annotated[int, Field(ge=1, le=16)]


def _person(text: str) -> str:
    if text == DEMO_PLAYER:
        raise refuse(f"{text!r} is the virtual player of midifret demo", "another name")
    return _printable(text)


PlaceText = Annotated[str, AfterValidator(_place)]
NameText = Annotated[str, AfterValidator(_printable), Field(max_length=60)]
Pair = Annotated[list[PlaceText], Field(min_length=2, max_length=2)]


class TuningFile(FileModel):
    """One tuning."""

    title: NameText
    strings: list[Annotated[str, AfterValidator(open_string)]] = Field(
        min_length=LEAST_STRINGS,
        max_length=MOST_STRINGS,
        description="the open strings, string 1 first, for example [E4, B3, G3, D3, A2, E2]",
    )


class TuningsFile(RootModel[dict[str, TuningFile]]):
    """Tunings by name."""


class ControlFile(FileModel):
    """One pedal or button: a controller or a program."""

    controller: Annotated[int, Field(ge=0, le=127)] | None = None
    program: Annotated[int, Field(ge=0, le=127)] | None = None
    channel: Annotated[int, Field(ge=1, le=16)] | None = None
    least_value: Annotated[int, Field(ge=1, le=127)] = 64


class ControlsFile(FileModel):
    """Pedals and buttons by the order that they give."""

    start: ControlFile | None = None
    pause: ControlFile | None = None
    again: ControlFile | None = None
    next: ControlFile | None = None
    quit: ControlFile | None = None


class SignalsFile(FileModel):
    """Plucked signals by the order that they give: two places each."""

    start: Pair | None = None
    pause: Pair | None = None
    again: Pair | None = None
    next: Pair | None = None
    quit: Pair | None = None


class HearingFile(FileModel):
    """What is taken for a glitch; what is left out stays as shipped."""

    soft_velocity: Annotated[int, Field(ge=0, le=127)] | None = None
    short_ms: Annotated[float, Field(ge=0, le=60)] | None = None
    doubt_ms: Annotated[float, Field(ge=0, le=60)] | None = None
    repeat_ms: Annotated[float, Field(ge=0, le=200)] | None = None
    together_ms: Annotated[float, Field(ge=0, le=60)] | None = None
    crosstalk_share: Annotated[float, Field(ge=0, le=1)] | None = None
    lift_off_ms: Annotated[float, Field(ge=0, le=500)] | None = None
    least_ms: Annotated[float, Field(ge=0, le=60)] | None = None


class GuitarFile(FileModel):
    """One guitar."""

    title: NameText
    tuning: str = Field(description="a name from tunings.yaml, for example standard")
    frets: int = Field(default=USUAL_FRETS, ge=LEAST_FRETS, le=MOST_FRETS)
    capo: int = Field(default=0, ge=0, le=MOST_FRETS - 1)
    encoding: Annotated[Encoding, choice(Encoding), schema_of(Encoding)] = Encoding.PER_STRING
    channels: list[Channel] = Field(
        default=[],
        description="the MIDI channel of string 1, string 2, ..., for example [1, 2, 3, 4, 5, 6]",
    )
    base_channel: Channel | None = Field(
        default=None, description="instead of channels: string 1 on this one, string 2 on the next (mode 4)"
    )
    controller_channel: Channel | None = Field(
        default=None, description="bends and controllers on this channel hold for all strings"
    )
    bend_range_semitones: float = Field(default=2.0, ge=0.5, le=96)
    transpose_semitones: int = Field(
        default=0, ge=-36, le=36, description="to be added to the numbers sent to have the sounding pitch"
    )
    cents: list[Annotated[float, Field(ge=-100, le=100)]] = Field(
        default=[], description="how far open strings 1, 2, ... are from their pitches, as they arrive"
    )
    hearing: HearingFile = HearingFile()
    port: str = Field(default="", max_length=200)
    controls: ControlsFile = ControlsFile()
    signals: SignalsFile = SignalsFile()
    signal_within_ms: float = Field(default=80, ge=10, le=500)


MOST_SUBDIVISIONS = 8
AS_NEEDED = "auto"


def _subdivisions(value: Any) -> int:
    """Clicks a beat: a number, or the word for as many as the tempo needs, which is 0. Raises ValueError."""
    if value == AS_NEEDED:
        return 0
    if isinstance(value, bool) or not isinstance(value, int) or not 1 <= value <= MOST_SUBDIVISIONS:
        raise refuse(
            f"{shown(value)} is no number of clicks a beat", f"{AS_NEEDED}, 1 to {MOST_SUBDIVISIONS}"
        )
    return value


SubdivisionsText = Annotated[
    int,
    BeforeValidator(_subdivisions),
    WithJsonSchema(
        {"anyOf": [{"const": AS_NEEDED}, {"type": "integer", "minimum": 1, "maximum": MOST_SUBDIVISIONS}]}
    ),
]
Number7 = Annotated[int, Field(ge=0, le=127)]


class ClickSoundsFile(FileModel):
    """A MIDI number for each kind of click; what is left out stays as shipped."""

    bar: Number7 | None = None
    beat: Number7 | None = None
    subdivision: Number7 | None = None


class ClickFile(FileModel):
    """How the beat is heard; what is left out stays as shipped."""

    output: Annotated[ClickWay, choice(ClickWay), schema_of(ClickWay)] | None = None
    port: Annotated[str, Field(max_length=200)] | None = None
    channel: Channel | None = None
    notes: ClickSoundsFile = ClickSoundsFile()
    velocities: ClickSoundsFile = ClickSoundsFile()
    count_in_beats: Annotated[int, Field(ge=0, le=16)] | None = None
    subdivisions: SubdivisionsText | None = None
    send_clock: Flag | None = None
    device: Annotated[str, Field(max_length=200)] | None = None
    volume_percent: Annotated[int, Field(ge=0, le=100)] | None = None


class SettingsFile(FileModel):
    """A person's settings; what is left out stays as shipped."""

    player: Annotated[str, AfterValidator(_person), Field(max_length=60)] | None = None
    guitar: NameText | None = None
    language: Annotated[Language, choice(Language), schema_of(Language)] | None = None
    accidentals: Annotated[Accidentals, choice(Accidentals), schema_of(Accidentals)] | None = None
    countdown_s: Annotated[int, Field(ge=0, le=10)] | None = None
    rest_after_minutes: Annotated[int, Field(ge=1, le=240)] | None = None
    database_url: str | None = None
    click: ClickFile = ClickFile()
