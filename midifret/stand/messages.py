"""What page and program tell one another: one schema, with a number, for both ways."""

from dataclasses import dataclass
from typing import Annotated, Any, Literal

from pydantic import ConfigDict, Field, TypeAdapter, ValidationError, with_config

from midifret.terms import BadInput

# A page that was loaded from an older program says another number and is told to load anew. To be raised with
# every change that an older page would not understand.
SCHEMA = 2

# More than the longest thing that a page has to say, and far less than what would trouble anybody [ours].
MOST_BYTES = 4096
_Text = Annotated[str, Field(max_length=200)]
_Short = Annotated[str, Field(max_length=32)]
_PageMs = Annotated[float, Field(ge=0, lt=1e12, allow_inf_nan=False)]
_Config = with_config(ConfigDict(extra="forbid", strict=True))

# --- what a page tells ----------------------------------------------------------------------------
#
# Times of the page are milliseconds of its own clock (performance.now), never converted by the page.


@_Config
@dataclass(frozen=True, slots=True)
class Hello:
    """The first message. schema: that the page was written for. viewer: the page's own random name, which it
    keeps over a lost link. sounds: whether it can click.
    """

    schema: int
    viewer: _Short
    sounds: bool
    kind: Literal["hello"] = "hello"


@_Config
@dataclass(frozen=True, slots=True)
class Synced:
    """The answer to a `Sync`, with when that came and when this went."""

    number: int
    came_ms: _PageMs
    went_ms: _PageMs
    kind: Literal["synced"] = "synced"


@_Config
@dataclass(frozen=True, slots=True)
class Painted:
    """A cue is on the page. run, n: as in the screen. painted_ms: of the frame in which it appeared; None
    where the browser cannot tell. frame_ms: how long a frame lasts.
    """

    run: int
    n: int
    painted_ms: _PageMs | None
    frame_ms: _PageMs | None
    kind: Literal["painted"] = "painted"


@_Config
@dataclass(frozen=True, slots=True)
class Pressed:
    """A key, or a button that stands for one. key: a character, or enter, backspace, tab, escape."""

    key: _Short
    pressed_ms: _PageMs
    kind: Literal["pressed"] = "pressed"


@_Config
@dataclass(frozen=True, slots=True)
class Named:
    """A note named by a button: its name in the player's language, whole."""

    name: _Short
    pressed_ms: _PageMs
    kind: Literal["named"] = "named"


@_Config
@dataclass(frozen=True, slots=True)
class Begin:
    """Something is to be played. what: a choice that the hall offers, by its name. tempo_bpm, position,
    minutes: None leaves them as they are.

    way: of a drill: once as it is, in free tempo, as a search for the tempo that the player owns, or as a
    ladder of so many minutes. Of a reading: anywhere: on the whole neck. open_strings: when one is right, in
    a position. fingered: a fingering is shown, and holds. Of a score: bars: only these. octave: how its
    pitches stand, where it does not say.
    """

    what: _Text
    tempo_bpm: Annotated[float, Field(gt=0, lt=1000)] | None = None
    position: Annotated[int, Field(ge=0, le=24)] | None = None
    minutes: Annotated[float, Field(gt=0, le=240)] | None = None
    way: Literal["once", "free", "find", "ladder"] = "once"
    anywhere: bool = False
    open_strings: Literal["freely", "needed", "never"] | None = None
    fingered: bool = False
    bars: _Short | None = None
    octave: Literal["written", "sounding"] | None = None
    kind: Literal["begin"] = "begin"


@_Config
@dataclass(frozen=True, slots=True)
class Sounding:
    """How the page's clicks go. output_latency_ms: as the browser reports it; None where it does not.
    ready: whether sound is allowed and runs. late: clicks that came too late to be heard in time.
    """

    ready: bool
    output_latency_ms: Annotated[float, Field(ge=0, lt=10_000)] | None
    late: int
    kind: Literal["sounding"] = "sounding"


FromPage = Annotated[
    Hello | Synced | Painted | Pressed | Named | Begin | Sounding, Field(discriminator="kind")
]

# --- what the program tells -----------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Welcome:
    """The answer to `Hello`. controls: whether this viewer may do more than watch. language: of names."""

    schema: int
    version: str
    controls: bool
    language: str
    kind: Literal["welcome"] = "welcome"


@dataclass(frozen=True, slots=True)
class Refused:
    """Why nothing more is told, and what to do; then the link is closed. reload: loading anew mends it."""

    words: str
    reload: bool
    kind: Literal["refused"] = "refused"


@dataclass(frozen=True, slots=True)
class Sync:
    """To be answered at once by `Synced`."""

    number: int
    kind: Literal["sync"] = "sync"


@dataclass(frozen=True, slots=True)
class Offer:
    """One thing to begin. name: what `Begin` says. detail: a second line; empty for none. group: heading."""

    name: str
    title: str
    detail: str
    group: str
    minutes: float | None = None


@dataclass(frozen=True, slots=True)
class Hall:
    """Where nothing is being played: what can be begun. notice: one line for the player; empty for none.
    today: the blocks of today's practice, each in one line. report: address of the report, empty for none.
    """

    player: str
    notice: str
    today: tuple[Offer, ...]
    offers: tuple[Offer, ...]
    report: str
    kind: Literal["hall"] = "hall"


@dataclass(frozen=True, slots=True)
class Spot:
    """A place on the neck with a mark. mark: right, wrong, asked, shown, given, held or named. sign: what is
    drawn in it besides colour.
    """

    string: int
    fret: int
    mark: str
    sign: str


@dataclass(frozen=True, slots=True)
class Cue:
    """What is asked. n: number of the prompt. Each part is empty or None where the cue does not show it.

    name: as shown, two names with a line between; a question mark where it is to be named. string: number to
    be circled. fret: with the string a place. interval: an arrow and a number. engraving: which engraved
    staff. words: the same in words, for the line below; who listens to the page hears those of the engraving
    before them. hint: what is said beside the cue. waits: nothing is shown yet.
    """

    n: int
    name: str
    string: int | None
    fret: int | None
    interval: str
    engraving: str
    words: str
    hint: str
    waits: bool = False


@dataclass(frozen=True, slots=True)
class Told:
    """The last answer. verdict: its name. sign, words, time: as shown. right: whether it was."""

    n: int
    verdict: str
    right: bool
    sign: str
    words: str
    time: str


@dataclass(frozen=True, slots=True)
class BeatShown:
    """As `Beat` of a session."""

    number: int
    a_bar: int
    counts_in: int
    struck: bool
    tempo_bpm: float


@dataclass(frozen=True, slots=True)
class Button:
    """What can be done now. key: what `Pressed` says, a space for the space bar."""

    key: str
    words: str


@dataclass(frozen=True, slots=True)
class NoteMark:
    """How a note of a reading was played. ident: of the note on the engraved page."""

    ident: str
    verdict: str
    sign: str


@dataclass(frozen=True, slots=True)
class Reading:
    """A score being read. engraving: which page it is, all its lines. cursor: ident of the note that is next,
    empty for none. marks: those judged so far that changed since the last screen, or all after `whole`.
    """

    engraving: str
    cursor: str
    line: int
    marks: tuple[NoteMark, ...]
    whole: bool


@dataclass(frozen=True, slots=True)
class RunScreen:
    """One moment of a run, complete in itself. run: a number of its own for each run, so that what a page
    tells late is known to be late. stage: checking, countdown, asking, paused or ended.

    progress: done and all; counted: of what, prompts or blocks. right: None where nothing is judged.
    clock: time played. message: a warning, caution or hint; empty for none. rows: lines of words for stages
    that show figures or the check of the strings. naming: names for the buttons where a name is asked, in
    rows. spots: on the neck; strings, frets: how large it is; left_handed: how it is drawn.
    block: in a session of today, what this block is and why; empty otherwise.
    """

    run: int
    stage: str
    title: str
    player: str
    progress: tuple[int, int]
    right: int | None
    clock: str
    count: int | None
    cue: Cue | None
    told: Told | None
    beat: BeatShown | None
    reading: Reading | None
    message: str
    rows: tuple[str, ...]
    typed: str
    naming: tuple[tuple[str, ...], ...]
    spots: tuple[Spot, ...]
    strings: int
    frets: int
    left_handed: bool
    buttons: tuple[Button, ...]
    block: str = ""
    counted: str = "prompts"
    kind: Literal["screen"] = "screen"


@dataclass(frozen=True, slots=True)
class Engraving:
    """Something engraved, before it is needed. lines: one SVG each. words: for who listens to the page."""

    name: str
    lines: tuple[str, ...]
    words: str
    kind: Literal["engraving"] = "engraving"


@dataclass(frozen=True, slots=True)
class Clicks:
    """Clicks to come, each as (time on the page's clock in ms, how strong: 2 first of a bar, 1 a beat, 0 a
    part of one). forget: silence what was planned before. volume: 0 to 1.
    """

    clicks: tuple[tuple[float, int], ...]
    volume: float
    forget: bool = False
    kind: Literal["clicks"] = "clicks"


@dataclass(frozen=True, slots=True)
class Notice:
    """One line for the player, also where nothing is being played. grave: something is wrong."""

    words: str
    grave: bool
    kind: Literal["notice"] = "notice"


ToPage = Welcome | Refused | Sync | Hall | RunScreen | Engraving | Clicks | Notice

_from_page: TypeAdapter[Any] = TypeAdapter(FromPage)
_to_page: TypeAdapter[Any] = TypeAdapter(Annotated[ToPage, Field(discriminator="kind")])


def parse(text: str | bytes) -> Hello | Synced | Painted | Pressed | Named | Begin | Sounding:
    """Read what a page told. Raises BadInput for anything else, saying what is wrong, never repeating it."""
    size = len(text.encode("utf-8", "surrogatepass")) if isinstance(text, str) else len(text)
    if size > MOST_BYTES:
        raise BadInput(f"a message of {size} bytes came from a page", allowed=f"at most {MOST_BYTES} bytes")
    try:
        message: Hello | Synced | Painted | Pressed | Named | Begin | Sounding = _from_page.validate_json(
            text
        )
    except ValidationError as error:
        first = error.errors(include_input=False, include_url=False, include_context=False)[0]
        where = ".".join(str(part) for part in first["loc"]) or "the whole"
        raise BadInput(
            f"a page told something that is not understood: {where}: {first['msg']}",
            allowed=f"messages of schema {SCHEMA}; load the page anew",
        ) from None
    return message


def dump(message: ToPage) -> str:
    """Write a message for a page."""
    text: str = _to_page.dump_json(message, warnings="error").decode("utf-8")
    return text


def schema_document() -> dict[str, Any]:
    """Return the JSON Schema of both ways, and its number."""
    return {
        "schema": SCHEMA,
        "from_page": _from_page.json_schema(),
        "to_page": _to_page.json_schema(mode="serialization"),
    }
