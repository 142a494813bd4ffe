"""What a view is shown of a live run: one frozen value, complete in itself."""

from dataclasses import dataclass
from enum import StrEnum

from midifret.gear.guitar import Guitar
from midifret.neck import Accidentals, Language, pitch_name, spell
from midifret.play.outputs import Judgement
from midifret.session.conductor import Beat
from midifret.terms import Answer, Exercise, Glitch, Note, Place, Prompt, Verdict
from midifret.terms.calibration import ViewKind
from midifret.terms.figures import Summary


class Stage(StrEnum):
    """Where a live run stands."""

    CHECKING = "checking"  # the open strings are being checked
    COUNTDOWN = "countdown"
    ASKING = "asking"
    PAUSED = "paused"
    ENDED = "ended"


@dataclass(frozen=True, slots=True)
class LastAnswer:
    """The latest judged note or name, for the screen.

    asked: places that would have been right. played: None if missed, or if the place is not known.
    first: False where it corrects an earlier answer. name: name of the asked note as players see it.
    late_ms: in tempo, negative for early.
    """

    n: int
    verdict: Verdict
    asked: tuple[Place, ...]
    played: Place | None
    name: str
    played_name: str
    typed: str
    first: bool
    response_s: float | None
    late_ms: float | None = None


def last_answer(
    prompt: Prompt,
    verdict: Verdict,
    note: Note | None,
    typed: str,
    response_s: float | None,
    *,
    first: bool,
    language: Language,
    accidentals: Accidentals,
    late_ms: float | None = None,
) -> LastAnswer:
    """Put a judged note or name into the words that a player is shown."""
    played_name = "" if note is None else pitch_name(spell(note.midi, accidentals)[0], language)
    return LastAnswer(
        n=prompt.n,
        verdict=verdict,
        asked=prompt.places,
        played=None if note is None else note.place,
        name=pitch_name(prompt.pitch, language),
        played_name=played_name,
        typed=typed,
        first=first,
        response_s=response_s,
        late_ms=late_ms,
    )


def answer_judged(judged: Judgement, language: Language, accidentals: Accidentals) -> LastAnswer:
    """The same of what a run has just judged."""
    return last_answer(
        judged.prompt,
        judged.verdict,
        judged.note,
        judged.typed,
        judged.response_s,
        first=judged.first,
        language=language,
        accidentals=accidentals,
        late_ms=judged.late_ms,
    )


def missed_told(answer: Answer, *, asked: bool) -> Judgement | None:
    """The verdict on a prompt that has just closed without an answer, where the player is told of it.

    That is so on a beat, and where places are asked one by one: who does not know one is shown it. asked:
    whether this is such a run.
    """
    if answer.verdict is not Verdict.MISSED or not (asked or answer.due_s is not None):
        return None
    return Judgement(answer.prompt, answer.verdict, answer.played, "", True, None, answer.late_ms)


@dataclass(frozen=True, slots=True)
class StringCheck:
    """One string in the check of the open strings.

    state: waiting, heard, or what is wrong in words. cents: how far off pitch, None before it was heard.
    """

    string: int
    name: str
    state: str
    cents: float | None
    ok: bool


@dataclass(frozen=True, slots=True)
class Screen:
    """One moment of a live run.

    prompt: the one being asked; None before the first and after the last.
    prompt_s: seconds since its cue. elapsed_s: seconds since the first cue, pauses left out.
    count: the number to show while counting down, also in a pause that ends by itself.
    typed: the letters of a name typed so far.
    message: one line for the player: a warning, a caution, a hint; empty for none.
    checks: the open strings, while they are checked.
    beat: in tempo, the one that it is.
    verdicts: in a reading, (number of a prompt, its verdict so far) for the bars around the cursor.
    lasts_s: about how long a run will be whose prompts are chosen as it goes; None for any other.
    notes: how many were heard so far. voided: how many were left out besides as glitches, by kind.
    """

    stage: Stage
    exercise: Exercise
    guitar: Guitar
    player: str
    simulated: bool
    language: Language
    accidentals: Accidentals
    prompt: Prompt | None = None
    answered: int = 0
    right: int = 0
    prompt_s: float = 0.0
    elapsed_s: float = 0.0
    count: int | None = None
    typed: str = ""
    last: LastAnswer | None = None
    message: str = ""
    checks: tuple[StringCheck, ...] = ()
    summary: Summary | None = None
    notes: int = 0
    voided: tuple[tuple[Glitch, int], ...] = ()
    beat: Beat | None = None
    verdicts: tuple[tuple[int, Verdict], ...] = ()
    lasts_s: float | None = None


@dataclass(frozen=True, slots=True)
class Press:
    """A key, or a button that stands for one.

    key: as `View.keys` has it, or a whole note name in the player's language where `is_name`. time_s: on the
    clock, None for just now. sure: False where nobody can tell when it was.
    """

    key: str
    time_s: float | None = None
    sure: bool = True
    is_name: bool = False


class View:
    """What a live run asks of a view. All calls come from the thread that hears: be quick, never block.

    kind: by which its calibration is known. paints_later: a cue is on the screen only when `painted` tells of
    it. shows_whole: a reading shows all its music, and wants the verdicts of all of it.
    """

    kind = ViewKind.TERMINAL
    paints_later = False
    shows_whole = False

    def show(self, screen: Screen) -> None:
        """Draw this moment. On return it has been handed to the terminal, page or pipe."""
        raise NotImplementedError

    def keys(self) -> list[str]:
        """Keys since the last call: single characters, or enter, backspace, escape, ctrl-c."""
        raise NotImplementedError

    def presses(self) -> list[Press]:
        """The same with when each was pressed, and with names pressed whole."""
        return [Press(key) for key in self.keys()]

    @property
    def gone_s(self) -> float | None:
        """Since when nobody can see it, on the clock; None while somebody can."""
        return None

    def painted(self) -> list[tuple[int, float | None]]:
        """Which cues appeared since the last call: number of the prompt, and when on the clock.

        None for a time that nobody can tell. Only of a view that paints later.
        """
        return []
