"""An exercise: a finite list of prompts, each with a cue and the set of places that answer it."""

from dataclasses import dataclass
from enum import StrEnum

from midifret.terms.pitch import SpelledPitch
from midifret.terms.place import Place


class CueKind(StrEnum):
    """What a cue shows of the prompt. A cue may show several of these, or nothing at all."""

    NAME = "name"  # the note name
    STAFF = "staff"  # the note on a staff, written an octave above what sounds
    STRING = "string"  # the circled string number
    PLACE = "place"  # string and fret
    INTERVAL = "interval"  # the interval from the last note


class Judged(StrEnum):
    """By what an answer is judged."""

    PLACE = "place"  # the asked string and fret
    PITCH = "pitch"  # the asked pitch anywhere on the neck
    POSITION = "position"  # the asked pitch within the reach of a position
    NAME = "name"  # the place is shown, the player types its name


@dataclass(frozen=True, slots=True)
class Prompt:
    """One thing asked.

    n: number in the exercise, from 1.
    cue: what is shown, empty where the player carries the walk alone.
    places: every place that answers, the suggested one first.
    midis: sounding pitch of each of `places`, in the same order.
    pitch: the asked note as it is spelled in the cue, in sounding octaves.
    given: a place shown beside the cue (the place to name, to find elsewhere, or to build on).
    may_play: places that may be played before the answer without being judged.
    held: a place whose string is taken: its note should still sound when the answer comes.
    each_once: prompts with the same number share their places; one already used is wrong.
    interval_semitones: from the note of the prompt before, where there is one.
    hint: words shown beside the cue, for example "an octave higher".
    """

    n: int
    cue: tuple[CueKind, ...]
    judged: Judged
    places: tuple[Place, ...]
    midis: tuple[int, ...]
    pitch: SpelledPitch
    given: Place | None = None
    may_play: tuple[Place, ...] = ()
    held: Place | None = None
    each_once: int | None = None
    interval_semitones: int | None = None
    hint: str = ""

    @property
    def midi(self) -> int:
        """Sounding pitch of the suggested answer."""
        return self.midis[0]


@dataclass(frozen=True, slots=True)
class Gate:
    """What must hold before the next step.

    right: share of prompts answered right at the first try, 0 to 1.
    median_response_s: the median response time may be at most this; None asks for no speed.
    runs_in_a_row: how many runs, one after the other, must meet both.
    """

    right: float
    median_response_s: float | None = None
    runs_in_a_row: int = 1


@dataclass(frozen=True, slots=True)
class Exercise:
    """A finite list of prompts, made from a drill, a reading or a plan.

    name: the drill's name as commands take it. title, stage, trains: for people.
    minutes: how long to spend, as (least, most).
    judged: how most prompts are judged. seed: what any drawing of lots started from.
    time_limit_s: per prompt; None waits for ever. tempo_bpm: None in free tempo.
    """

    name: str
    title: str
    stage: str
    trains: str
    minutes: tuple[int, int]
    judged: Judged
    prompts: tuple[Prompt, ...]
    seed: int = 0
    time_limit_s: float | None = None
    tempo_bpm: float | None = None
    gate: Gate | None = None
