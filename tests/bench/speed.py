"""Simulated people whose times are known, heard through the virtual guitar by the program as it runs.

Everything between a hand and a figure is the program's own: the guitar's messages with the faults of its
converter, hearing, the live run in simulated time, the readings, the calibration and the times of answers.
The player sees a cue SEEN_AFTER_S after the view has drawn it, as screens have it.
"""

import datetime as dt
import math
import random
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from scipy import stats

from midifret.clock import SimulatedClock
from midifret.estimates import trimmed_mean
from midifret.gear.guitar import Guitar, channel_map
from midifret.neck import Neck, Tuning, spell
from midifret.play.calibration import calibration_exercise, readings_of
from midifret.players import OnClick, Player, Skill, Timing
from midifret.session.around import NO_TIMES, Leave, Setting
from midifret.session.conductor import OwnBeat
from midifret.session.live import LiveRun
from midifret.session.screen import Screen, View
from midifret.tempo import Click, PassResult
from midifret.terms import Answer, CueKind, Exercise, Judged, Place, Prompt, Tempo, Wiring
from midifret.terms.calibration import CalibrationPart, Measurement, period_s
from midifret.terms.marks import MarkKind
from midifret.timing import AnswerTimes, Calibrated, RecallFigure, calibrate, recall_figure
from midifret.wire.scenarios import Scenario
from midifret.wire.virtual_guitar import VirtualGuitar, VirtualSource

NECK = Neck(Tuning("standard", "Standard", (64, 59, 55, 50, 45, 40)))
GUITAR = Guitar("bench", "Bench", NECK, Wiring(channel_map((0, 1, 2, 3, 4, 5))))
PORT = "virtual guitar"
NOW = dt.datetime(2026, 1, 1, 12, tzinfo=dt.UTC)
SEEN_AFTER_S = 0.02  # a frame at 50 to 60 a second
# Messages bear their own times and a cue is seen when it was drawn: looking seldom changes no figure, only
# when the next cue comes.
POLL_S = 0.04
PLACES, ASKED_EACH = 12, 20  # of each place as many answers count as states are made of [ours]
PASS_NOTES = 8
HALF_AT = 1.25  # the stated slope: half of the notes right at 1.25 times the owned tempo [ours]
_AGAIN_AFTER_S = 6.0  # what was not heard is played again; later than any fore-period


@dataclass(frozen=True, slots=True)
class Person:
    """One simulated player on one guitar: everything that is to be found out.

    a_s, periods: of the converter's latency. places: what the drill asks.
    """

    seed: int
    a_s: float
    periods: float
    timing: Timing
    on_click: OnClick
    places: tuple[Place, ...]
    accuracy: float = 1.0

    def skill(self, part: int) -> Skill:
        """The player as a player; each part has draws of its own."""
        return Skill(
            accuracy=self.accuracy, seed=self.seed * 100 + part, timing=self.timing, on_click=self.on_click
        )

    def converter(self, scenario: Scenario) -> Scenario:
        """A scenario with this guitar's latency."""
        return replace(scenario, latency_fixed_s=self.a_s, latency_periods=self.periods)

    @property
    def reaction_s(self) -> float:
        """The truth: from the drawing of a cue to the hand, without the lowest and the highest fifth."""
        return SEEN_AFTER_S + middle_reaction_s(self.timing)

    def recall_s(self, place: Place) -> float:
        """The truth: recall time of a place without the lowest and the highest fifth."""
        return middle_recall_s(dict(self.timing.recalls)[place], self.timing.recall_spread)


def middle_reaction_s(timing: Timing) -> float:
    """Mean of a reaction between its fifths, by scipy's exponentially modified normal distribution."""
    spread_s, tail_s = timing.reaction_spread_s, timing.reaction_tail_s
    drawn = stats.exponnorm(tail_s / spread_s, loc=timing.reaction_s, scale=spread_s)
    low, high = drawn.ppf(0.2), drawn.ppf(0.8)
    return float(drawn.expect(lb=low, ub=high, conditional=True))


def middle_recall_s(median_s: float, spread: float) -> float:
    """Mean of a lognormal distribution between its fifths [calc]."""
    fifth = stats.norm.ppf(0.8)
    inside = stats.norm.cdf(fifth - spread) - stats.norm.cdf(-fifth - spread)
    return float(median_s * math.exp(spread**2 / 2) * inside / 0.6)


def person(seed: int, periods: float, *, human: bool, owned_bpm: float | None = None) -> Person:
    """Draw a player: what is known of people, and what is spread at random between them [ours].

    human: with wrong notes, lapses, anticipations, drift and notes that follow one another; else just the
    stated spreads. owned_bpm: with the stated slope; None for a player whom no tempo holds up.
    Simple reactions take 231 ms (Woods et al. 2015); facts known by heart 0.4 to 0.9 s, worked out 2 s and
    more (review by Crawford).
    """
    draw = random.Random(seed)
    a_s, early_s = draw.uniform(0.0, 0.02), draw.gauss(0.03, 0.015)
    places = tuple(draw.sample([place for place in NECK.all_places() if place.fret <= 12], PLACES))
    recalls = tuple((place, math.exp(draw.uniform(math.log(0.4), math.log(2.0)))) for place in places)
    timing = Timing(
        reaction_s=draw.gauss(0.19, 0.02),
        recalls=recalls,
        travel_s=draw.uniform(0.05, 0.2),
        travel_a_fret_s=draw.uniform(0.005, 0.025),
        lapses=0.02 if human else 0.0,
        anticipations=0.04 if human else 0.0,
    )
    habit = OnClick(
        early_s=early_s,
        drift_s_a_minute=draw.uniform(-0.01, 0.01) if human else 0.0,
        follows=0.3 if human else 0.0,
        lapses=0.02 if human else 0.0,
        anticipations=0.02 if human else 0.0,
        owned_bpm=owned_bpm or 1e6,
        half_at=HALF_AT,
        lapse=0.02 if owned_bpm else 0.0,
    )
    return Person(seed, a_s, periods, timing, habit, places, accuracy=0.95 if human else 1.0)


# One run.


class _Nothing:
    """Keeps nothing, clicks for nobody: recorder, record and clicks of a run of which only answers count."""

    trouble = ""

    def message(self, time_s: float, data: bytes) -> None: ...
    def cue(self, n: int, time_s: float) -> None: ...
    def asked(self, text: str) -> None: ...

    def forget_due_from(self, n: int) -> None: ...
    def withdraw_from(self, n: int) -> None: ...
    def mark(self, kind: MarkKind, time_s: float) -> None: ...
    def typed(self, name: str, time_s: float) -> None: ...
    def check(self) -> None: ...
    def answer(self, answer: Answer) -> None: ...
    def plan(self, clicks: Iterable[Click]) -> None: ...
    def stop(self) -> None: ...
    def due(self, *_: object) -> None: ...


class _Eyes(View):
    """A view at which the player of a virtual guitar looks."""

    def __init__(self, guitar: VirtualGuitar, clock: SimulatedClock) -> None:
        self._guitar = guitar
        self._clock = clock
        self._seen: int | None = None

    def show(self, screen: Screen) -> None:
        n = None if screen.prompt is None else screen.prompt.n
        if n != self._seen and screen.prompt is not None:
            self._guitar.cue(screen.prompt, self._clock.now_s() + SEEN_AFTER_S)
        self._seen = n

    def keys(self) -> list[str]:
        return []


def play(
    exercise: Exercise, who: Person, scenario: Scenario, *, part: int, times: AnswerTimes = NO_TIMES
) -> tuple[tuple[Answer, ...], Player]:
    """Let somebody play an exercise through a live run; return the answers, and the player with the truth.

    part: which draws of the player and of the converter; the same again play the same.
    """
    skill = who.skill(part)
    player = Player(skill, NECK, time_limit_s=exercise.time_limit_s, tempo=exercise.tempo)
    guitar = VirtualGuitar(
        GUITAR, player, scenario=who.converter(scenario), seed=skill.seed, again_after_s=_AGAIN_AFTER_S
    )
    clock, nothing = SimulatedClock(), _Nothing()
    run = LiveRun(
        Setting(exercise, GUITAR, "bench", simulated=True, countdown_s=0, times=times),
        source=VirtualSource(guitar, clock),
        clock=clock,
        recorder=nothing,
        record=nothing,
        view=_Eyes(guitar, clock),
        orders=lambda key, prompt, stage: None,
        conductor=None if exercise.tempo is None else OwnBeat(exercise, nothing),
        on_due=guitar.beat,
        poll_s=POLL_S,
    )
    finished = run.play()
    assert finished.leave is Leave.DONE, finished.failure
    assert not finished.ended_early
    return finished.answers, player


# Calibration.


def measured(
    part: CalibrationPart, who: Person, scenario: Scenario, *, count: int | None = None
) -> Measurement:
    """One part of a calibration, played and read."""
    number = list(CalibrationPart).index(part)
    exercise = calibration_exercise(part, NECK, seed=who.seed * 10 + number, count=count)
    answers, _ = play(exercise, who, scenario, part=number)
    return Measurement(part, GUITAR.name, PORT, NOW, readings_of(answers))


def calibrated(measurements: Iterable[Measurement]) -> Calibrated:
    """What they give, just after."""
    return calibrate(measurements, guitar=GUITAR.name, port=PORT, now=NOW)


def spread_of_periods(measurement: Measurement) -> float:
    """Root of the sum of squares of the periods around their mean, in seconds: by it b's bound is had."""
    periods_s = [period_s(reading.midi) for reading in measurement.readings]
    mean_s = sum(periods_s) / len(periods_s)
    return math.sqrt(sum((each - mean_s) ** 2 for each in periods_s))


def least_squares(measurement: Measurement) -> tuple[float, float]:
    """The plain method: slope of ordinary least squares over all plucks, and the half of its 95% interval."""
    readings = measurement.readings
    line = stats.linregress([period_s(r.midi) for r in readings], [r.time_s for r in readings])
    return float(line.slope), float(stats.t.ppf(0.975, len(readings) - 2) * line.stderr)


# Recall times.


def cued_drill(who: Person, asked_each: int = ASKED_EACH) -> Exercise:
    """Names and strings asked for, each place as often as the others, in an order that cannot be known."""
    draw = random.Random(who.seed * 10 + 7)
    places: list[Place] = []
    while len(places) < asked_each * len(who.places):
        block = draw.sample(who.places, len(who.places))
        if places and block[0] == places[-1]:
            block.append(block.pop(0))
        places += block
    return exercise_of(places, name="cued")


def exercise_of(places: Sequence[Place], *, name: str, tempo: Tempo | None = None) -> Exercise:
    """Each place asked for by its name and string."""
    prompts = tuple(
        Prompt(
            n,
            (CueKind.NAME, CueKind.STRING),
            Judged.PLACE,
            (place,),
            (NECK.midi(place),),
            spell(NECK.midi(place))[0],
        )
        for n, place in enumerate(places, start=1)
    )
    return Exercise(name, name, "s", "t", (1, 2), Judged.PLACE, prompts, tempo=tempo, shuffled=True)


@dataclass(frozen=True, slots=True)
class PlaceFound:
    """What was found of one place, and the truth.

    figure: as the program gives it. truth_s: recall time of the place. drawn_s: what recall really took in
    these very answers, so that figure less it is what measuring adds. travel_s: what travel took in them.
    raw_s: the plain method, the middle of the responses as they came.
    """

    place: Place
    figure: RecallFigure
    truth_s: float
    drawn_s: float
    travel_s: float
    raw_s: float


def recalled(who: Person, answers: Sequence[Answer], player: Player, times: AnswerTimes) -> list[PlaceFound]:
    """Figures of each place of a drill, its answers timed by a calibration."""
    by_place: dict[Place, list[Answer]] = defaultdict(list)
    before: Answer | None = None
    for answer in answers:
        timed = times.timed(answer, before)
        if timed.right and timed.recall is not None:
            by_place[timed.prompt.places[0]].append(timed)
        before = answer
    found = []
    for place, members in sorted(by_place.items()):
        figure = recall_figure([answer.recall for answer in members if answer.recall is not None])
        if figure is None:
            continue
        parts = [player.drawn[answer.n] for answer in members]
        found.append(
            PlaceFound(
                place,
                figure,
                who.recall_s(place),
                trimmed_mean([part.recall_s for part in parts]).value,
                trimmed_mean([part.travel_s for part in parts]).value,
                trimmed_mean([answer.response_s or 0.0 for answer in members]).value,
            )
        )
    return found


# Owned tempo.


@dataclass(slots=True)
class Walker:
    """Plays passes of a walk at any tempo: what a search for the owned tempo asks of somebody."""

    who: Person
    scenario: Scenario
    times: AnswerTimes = NO_TIMES
    passes: int = 0
    answers: tuple[Answer, ...] = ()  # of the last pass

    def play(
        self, tempo_bpm: float, notes: int, draw: random.Random | None = None, *, after: int = 0
    ) -> PassResult:
        """Play a pass through a live run in tempo. draw, after: not needed; each pass has its own draws."""
        self.passes += 1
        part = 10 + self.passes
        lots = random.Random(self.who.seed * 1000 + part)
        places = lots.sample([place for place in NECK.all_places() if place.fret <= 12], notes)
        exercise = exercise_of(places, name="walk", tempo=Tempo(tempo_bpm))
        self.answers, _ = play(exercise, self.who, self.scenario, part=part, times=self.times)
        return PassResult(tempo_bpm, notes, sum(answer.right for answer in self.answers))
