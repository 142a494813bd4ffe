"""What a view is shown while a guitar is being hooked up, and what came of it in the end."""

from dataclasses import dataclass
from enum import StrEnum

from midifret.gear.guitar import Guitar
from midifret.neck import Neck
from midifret.terms import Place


class Step(StrEnum):
    """What is asked of the player."""

    OPEN = "open strings"
    SHARED = "strings on one channel"
    FRET_12 = "fret 12"
    SLIDE = "slide"
    RETUNE = "tuning"
    SILENCE = "silence"
    TOUCH = "touching"
    OFFSET = "capo, tuning or converter"
    FOUND = "what was found"
    NAME = "name"
    OVERWRITE = "overwriting"
    CHOOSE = "settings"
    DONE = "done"


# The steps that a player counts; the others come up only where they are needed.
COUNTED = (Step.OPEN, Step.FRET_12, Step.SLIDE, Step.SILENCE, Step.TOUCH, Step.FOUND)


@dataclass(frozen=True, slots=True)
class StringRow:
    """One string as far as it is known.

    name: of its pitch as it arrives, empty before it did. channel: 0 to 15, None where there is none or it is
    not known. cents: from its pitch, None where that is not known. state: in words. ok: nothing is wrong.
    """

    string: int
    name: str = ""
    channel: int | None = None
    cents: float | None = None
    state: str = "waiting"
    ok: bool = False


@dataclass(frozen=True, slots=True)
class Showing:
    """One moment of hooking up, complete in itself.

    ask: what to do now, one short sentence. words: how, and what comes of it. message: what was heard last or
    went wrong. string, fret: what to pluck, None where nothing is to be plucked. left_s: whole seconds that a
    timed step goes on. options: (key, words) of a question. keys: likewise, what else can be pressed.
    typed: letters of a name so far, None where none is asked. found: what was worked out, in lines.
    neck, marks: to draw, once the neck is known.
    """

    step: Step
    port: str
    strings: tuple[StringRow, ...]
    ask: str = ""
    words: str = ""
    message: str = ""
    string: int | None = None
    fret: int | None = None
    left_s: int | None = None
    options: tuple[tuple[str, str], ...] = ()
    keys: tuple[tuple[str, str], ...] = ()
    typed: str | None = None
    found: tuple[str, ...] = ()
    neck: Neck | None = None
    marks: tuple[Place, ...] = ()


@dataclass(frozen=True, slots=True)
class HookedUp:
    """What the player agreed to have written.

    new_tuning: the tuning of its neck is none of those known. choose: make it the guitar of the settings.
    found: what was worked out, in lines, for the top of the file.
    """

    guitar: Guitar
    new_tuning: bool
    choose: bool
    found: tuple[str, ...]
