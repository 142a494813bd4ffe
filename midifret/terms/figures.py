"""Figures about answers, as screens, reports and documents show them."""

import datetime as dt
from dataclasses import dataclass

from midifret.terms.answers import Answer, Verdict
from midifret.terms.calibration import Caveat, Recall
from midifret.terms.exercise import CueKind
from midifret.terms.in_tempo import TempoFigures
from midifret.terms.notes import Glitch
from midifret.terms.place import Place


@dataclass(frozen=True, slots=True)
class Share:
    """How a group of answers went.

    label: what the group has in common: a string, a fret, a note name, an interval, a day.
    median_response_s, spread_response_s: of the right answers, the spread being the distance between the
    quartiles; None where there are too few.
    """

    label: str
    answers: int
    right: int
    median_response_s: float | None
    spread_response_s: float | None = None

    @property
    def accuracy(self) -> float:
        """Share right at the first try, 0 to 1."""
        return self.right / self.answers if self.answers else 0.0


@dataclass(frozen=True, slots=True)
class PlaceFigure:
    """How the answers at one asked place went; fields as in Share."""

    place: Place
    answers: int
    right: int
    median_response_s: float | None

    @property
    def accuracy(self) -> float:
        """Share right at the first try, 0 to 1."""
        return self.right / self.answers if self.answers else 0.0


@dataclass(frozen=True, slots=True)
class GateResult:
    """Whether a gate was met, and the reasons in words, one for each thing it asks.

    this_run: whether this run alone met what the gate asks of one run; `met` asks for enough in a row.
    """

    met: bool
    this_run: bool
    reasons: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Summary:
    """The figures of one run.

    prompts: prompts answered, missed or skipped. median_response_s, spread_response_s: of the right
    answers; the spread is the distance between the quartiles. median_recall_s: of right answers to cues, what
    is not taken off them being told by recall_caveats. slowest, least_sure: places, the worst first.
    in_tempo: None in free tempo.
    """

    prompts: int
    right: int
    median_response_s: float | None
    spread_response_s: float | None
    median_recall_s: float | None
    by_string: tuple[Share, ...]
    by_fret: tuple[Share, ...]
    by_name: tuple[Share, ...]
    by_interval: tuple[Share, ...]
    by_verdict: tuple[tuple[Verdict, int], ...]
    slowest: tuple[PlaceFigure, ...]
    least_sure: tuple[PlaceFigure, ...]
    gate: GateResult | None
    recall_caveats: frozenset[Caveat] = frozenset()
    in_tempo: TempoFigures | None = None

    @property
    def accuracy(self) -> float:
        """Share right at the first try, 0 to 1."""
        return self.right / self.prompts if self.prompts else 0.0


@dataclass(frozen=True, slots=True)
class DayFigure:
    """One practice day (from 04:00 local time); fields as in Share, minutes from first cue to last answer."""

    day: dt.date
    answers: int
    right: int
    median_response_s: float | None
    minutes: float

    @property
    def accuracy(self) -> float:
        """Share right at the first try, 0 to 1."""
        return self.right / self.answers if self.answers else 0.0


@dataclass(frozen=True, slots=True)
class RunFigure:
    """One run, for the list of last runs. started: local time with its zone; notes, voided: as in RunEnd.

    tempo_bpm: None in free tempo. median_recall_s, recall_caveats: as in RunRecall, None without one.
    """

    run_id: int
    started: dt.datetime
    drill: str
    title: str
    answers: int
    right: int
    median_response_s: float | None
    gate_met: bool | None
    ended_early: bool
    notes: int | None = None
    voided: tuple[tuple[Glitch, int], ...] = ()
    tempo_bpm: float | None = None
    median_recall_s: float | None = None
    recall_caveats: frozenset[Caveat] = frozenset()

    @property
    def accuracy(self) -> float:
        """Share right at the first try, 0 to 1."""
        return self.right / self.answers if self.answers else 0.0


@dataclass(frozen=True, slots=True)
class Report:
    """Where a player stands.

    places: one figure for each place ever asked and played. named_places: the same for the places whose
    names were asked and typed. days: oldest first. runs: newest first.
    by_verdict: all answers of the time asked for, by verdict.
    voided: notes left out as made up by the guitar's converter, by their kind, most first.
    notes: those heard in the same runs; runs in which nobody counted count for neither.
    answers_by_pitch: answers on guitars that tell no strings, judged at the place assumed for their pitch.
    """

    player: str
    simulated: bool
    answers: int
    right: int
    places: tuple[PlaceFigure, ...]
    days: tuple[DayFigure, ...]
    runs: tuple[RunFigure, ...]
    by_verdict: tuple[tuple[Verdict, int], ...]
    named_places: tuple[PlaceFigure, ...] = ()
    voided: tuple[tuple[Glitch, int], ...] = ()
    notes: int = 0
    answers_by_pitch: int = 0


@dataclass(frozen=True, slots=True)
class CuedRow:
    """One answer to a cue, played in its own time, as figures about recall need it.

    right: at the first try. response_s: None where nothing was played. recall: the response freed of what is
    known, or with Caveat.RAW as it came; None where nothing was played. day: the practice day.
    """

    place: Place
    cue: tuple[CueKind, ...]
    right: bool
    response_s: float | None
    recall: Recall | None
    day: dt.date


@dataclass(frozen=True, slots=True)
class RunRecall:
    """The recall time of one run: the median of its right answers to a cue.

    answers: how many right ones it is the median of. cued: all answers to a cue, which is what was practised.
    caveats: what any of the times does not take into account. Where a run has raw times and others, the raw
    ones are left out: with Caveat.RAW all of them are.
    """

    run_id: int
    drill: str
    day: dt.date
    median_recall_s: float
    answers: int
    cued: int
    caveats: frozenset[Caveat]


@dataclass(frozen=True, slots=True)
class LateAnswer:
    """One answer of a run in tempo. due_s: on the run's clock. late_ms: None where no note came near.

    Of a missed one `late_ms` is that of the nearest note outside the window.
    """

    n: int
    verdict: Verdict
    due_s: float
    late_ms: float | None


@dataclass(frozen=True, slots=True)
class TempoRun:
    """One run in tempo, with its answers in order."""

    run_id: int
    drill: str
    title: str
    day: dt.date
    tempo_bpm: float
    answers: tuple[LateAnswer, ...]


@dataclass(frozen=True, slots=True)
class OwnedTempoKept:
    """The owned tempo of a drill as it was found on a day.

    tempo_bpm: 95% of what is likely lies from low_bpm to high_bpm. notes, passes: how many it took.
    doubt: why it may be none, as a word of `tempo`; empty where there is no doubt.
    names_cued: every note had to be recalled from a cue, in an order not known beforehand: only such a tempo
    may count for a name known.
    """

    drill: str
    day: dt.date
    guitar: str
    tempo_bpm: float
    low_bpm: float
    high_bpm: float
    notes: int
    passes: int
    doubt: str
    names_cued: bool


@dataclass(frozen=True, slots=True)
class ReadingMark:
    """How far a reading has come. drill: its name. times: how often it was read to the end."""

    drill: str
    times: int
    best_accuracy: float


@dataclass(frozen=True, slots=True)
class Mistake:
    """An answer that was not right, and its practice day."""

    day: dt.date
    answer: Answer


@dataclass(frozen=True, slots=True)
class ReadingPlayed:
    """A reading as the book lists it. answers, right: of the notes reached. take_file: its name, or empty."""

    title: str
    day: dt.date
    answers: int
    right: int
    take_file: str
