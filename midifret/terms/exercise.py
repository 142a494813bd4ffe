"""An exercise: a finite list of prompts, each with a cue and the set of places that answer it."""

from dataclasses import dataclass
from enum import StrEnum

from midifret.terms.pitch import SpelledPitch
from midifret.terms.place import Place
from midifret.terms.score import Score


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
    wait_s: nothing is shown for so long before the cue comes (the fore-period of a reaction); a note played
        meanwhile begins the wait anew.
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
    wait_s: float = 0.0

    @property
    def midi(self) -> int:
        """Sounding pitch of the suggested answer."""
        return self.midis[0]

    @property
    def is_seen(self) -> bool:
        """Whether the player has to see it first; a walk without cues is carried on unseen."""
        return bool(self.cue) or self.judged is Judged.NAME


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
class Tempo:
    """How an exercise goes in tempo: prompt n is due so many beats after the count-in.

    notes_a_beat: prompts due in each beat, evenly. count_in: beats before the first. a_bar: beats of a bar.
    parts: clicks a beat; 0 for as many as the tempo needs. within_ms, share: how far from its beat a note may
    be and still be in time, either way; the narrower of the two holds, share being that of the time between
    two notes. 150 ms is four times the spread of taps on a click (10 to 40 ms, from memory), and a quarter
    leaves as much room between two windows as in them [ours].
    """

    tempo_bpm: float
    notes_a_beat: int = 1
    count_in: int = 4
    a_bar: int = 4
    parts: int = 0
    within_ms: float = 150.0
    share: float = 0.25

    @property
    def between_s(self) -> float:
        """How far apart two notes are due."""
        return 60 / (self.tempo_bpm * self.notes_a_beat)

    @property
    def half_window_s(self) -> float:
        """How early or late a note may be."""
        return min(self.within_ms / 1000, self.share * self.between_s)


@dataclass(frozen=True, slots=True)
class Exercise:
    """A finite list of prompts, made from a drill, a reading or a plan.

    name: the drill's name as commands take it. title, stage, trains: for people.
    minutes: how long to spend, as (least, most).
    judged: how most prompts are judged. seed: what any drawing of lots started from.
    time_limit_s: per prompt; None waits for ever. tempo: None in free tempo.
    shuffled: the prompts come in an order that nobody can know beforehand.
    section: (begin, count), where these are so many of the drill's prompts from one on, 0 for the first.
    score: the music that is read, prompt n being its note n; None for a drill. position: where it is read,
    None for no one position. open_strings: when an open string is right there, as the command line says it.
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
    tempo: Tempo | None = None
    gate: Gate | None = None
    shuffled: bool = False
    section: tuple[int, int] | None = None
    score: Score | None = None
    position: int | None = None
    open_strings: str = ""

    @property
    def tempo_bpm(self) -> float | None:
        """Beats a minute; None in free tempo."""
        return None if self.tempo is None else self.tempo.tempo_bpm

    @property
    def names_cued(self) -> bool:
        """Whether each note has to be recalled from a cue, in an order not known: what shows a name known."""
        kinds = {CueKind.NAME, CueKind.STAFF}
        return self.shuffled and all(
            kinds & set(prompt.cue) and CueKind.PLACE not in prompt.cue for prompt in self.prompts
        )
