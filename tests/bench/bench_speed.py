"""Whether measured speed can be trusted: known players through the virtual guitar, and what comes out.

The whole way, see speed.py: strings plucked, a converter's messages with its faults, hearing, live runs,
calibration, recall times of a cued and shuffled drill, and the owned tempo of a walk. Beside each figure
stand the bound, where there is one, and a plain method in the same run: ordinary least squares for the
latency, the raw response as recall time, weighted up-down steps for the tempo (Kaernbach 1991 [mem]).
`even` hands have the stated spreads alone; `human` ones also wrong notes, lapses, anticipations, drift and
notes that follow one another. An interval is of 95%.
Run: python tests/bench/bench_speed.py [--players 200] [--seed 1] [--only latency|recall|tempo] [SCENARIO ...]
"""

import argparse
import math
import random
import statistics
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

from bench_tempo import MOST_NOTES, STEPS, bound, up_down
from speed import (
    ASKED_EACH,
    HALF_AT,
    PASS_NOTES,
    PLACES,
    Person,
    PlaceFound,
    Walker,
    calibrated,
    cued_drill,
    least_squares,
    measured,
    person,
    play,
    recalled,
    spread_of_periods,
)

from midifret.play.calibration import HANDS_PLUCKS, REACTIONS
from midifret.tempo import LEAST_BPM, MOST_BPM, Staircase
from midifret.terms.calibration import CalibrationPart, Latency, Reaction
from midifret.wire.scenarios import CLEAN, ORDINARY, POOR, SCENARIOS, Scenario

PLUCKS = 96
PERIODS = (1.0, 2.0, 3.7)  # at 3.7 periods E2 takes 50 ms besides what is fixed (facts of converters)
LATENCY_GOAL, RECALL_GOAL_S, TEMPO_GOAL = 0.10, 0.030, 0.05
COVER_GOAL = (0.90, 0.99)
NORMAL_MEDIAN = 0.6745  # of the size of a standard normal deviate [calc]
SHIFT_S = 0.030  # by so much a is changed to see what moves


@dataclass(slots=True)
class Errors:
    """Signed errors of one figure over players, and how often its interval held the truth."""

    errors: list[float] = field(default_factory=list)
    covered: list[bool] = field(default_factory=list)

    def add(self, error: float, *, covered: bool | None = None) -> None:
        self.errors.append(error)
        if covered is not None:
            self.covered.append(covered)

    def median(self) -> float:
        return statistics.median(map(abs, self.errors))

    def percentile(self, share: float = 0.95) -> float:
        sizes = sorted(map(abs, self.errors))
        return sizes[max(0, math.ceil(share * len(sizes)) - 1)]

    def bias(self) -> float:
        return statistics.fmean(self.errors)

    def cover(self) -> float:
        return sum(self.covered) / len(self.covered)


def shares(title: str, found: Errors, goal: float | None = None) -> str:
    """Errors that are shares of the truth."""
    return _line(title, found, goal, lambda error: f"{error:6.1%}", lambda error: f"{error:+6.1%}")


def times(title: str, found: Errors, goal: float | None = None) -> str:
    """Errors in seconds."""
    return _line(
        title, found, goal, lambda error: f"{1000 * error:6.1f} ms", lambda error: f"{1000 * error:+6.1f} ms"
    )


def _line(
    title: str,
    found: Errors,
    goal: float | None,
    size: Callable[[float], str],
    signed: Callable[[float], str],
) -> str:
    median = found.median()
    text = f"  {title:<44} off {size(median)} median {size(found.percentile())} 95th"
    text += f"  bias {signed(found.bias())}"
    if found.covered:
        text += f"  covered {found.cover():5.1%}"
    if goal is not None:
        text += f"  {'met' if median <= goal else 'MISSED'}"
        if found.covered and not COVER_GOAL[0] <= found.cover() <= COVER_GOAL[1]:
            text += ", cover MISSED"
    return text


def latency(scenario: Scenario, players: int, seed: int, *, human: bool) -> None:
    for periods in PERIODS:
        least = one_latency(scenario, players, seed, periods, human=human)
        if NORMAL_MEDIAN * least > LATENCY_GOAL and not human:
            plucks = math.ceil(PLUCKS * (NORMAL_MEDIAN * least / LATENCY_GOAL) ** 2)
            one_latency(scenario, players, seed, periods, human=human, count=8 * math.ceil(plucks / 8))


def one_latency(
    scenario: Scenario, players: int, seed: int, periods: float, *, human: bool, count: int = PLUCKS
) -> float:
    """Print what is found of one b; return the least standard error there can be, as a share of it."""
    ours, plain, bounds, missing = Errors(), Errors(), [], 0
    for number in range(players):
        who = person(seed * 10_000 + number, periods, human=human)
        plucks = measured(CalibrationPart.CLICK, who, scenario, count=count)
        slope, half = least_squares(plucks)
        plain.add(slope / periods - 1, covered=abs(slope - periods) <= half)
        spread_s = math.hypot(who.on_click.spread_s, scenario.latency_deviation_s)
        bounds.append(spread_s / spread_of_periods(plucks) / periods)
        found = calibrated([plucks]).latency
        if not isinstance(found, Latency):
            missing += 1
            continue
        b = found.b_periods
        ours.add(b.value / periods - 1, covered=b.low <= periods <= b.high)
    least = statistics.fmean(bounds)
    title = f"b = {periods:g}" if count == PLUCKS else f"b = {periods:g}, {count} plucks"
    print(shares(f"{title}, midifret", ours, LATENCY_GOAL) + (f"  none {missing}" if missing else ""))
    print(shares(f"{title}, least squares", plain))
    print(
        f"  {f'{title}, bound of known spread':<44} off {NORMAL_MEDIAN * least:6.1%} median"
        f" {1.96 * least:6.1%} 95th"
    )
    return least


@dataclass(slots=True)
class Recalls:
    """What came of the cued drill over players, calibrated with all parts and without the hands."""

    baseline: Errors = field(default_factory=Errors)
    free: Errors = field(default_factory=Errors)  # of travel, against the recall time of the place
    added: Errors = field(default_factory=Errors)  # against what recall took in these answers
    with_travel: Errors = field(default_factory=Errors)  # against recall and travel in these answers
    as_recall: Errors = field(default_factory=Errors)  # with travel, against recall alone
    raw: Errors = field(default_factory=Errors)
    shared: Errors = field(default_factory=Errors)  # mean error of a player's places
    bounds: list[float] = field(default_factory=list)
    added_bounds: list[float] = field(default_factory=list)
    missing: int = 0
    answers: int = 0
    right: int = 0


def recall(scenario: Scenario, players: int, seed: int, *, human: bool, periods: float) -> None:
    total = Recalls()
    for number in range(players):
        who = person(seed * 10_000 + number, periods, human=human)
        parts = [measured(part, who, scenario) for part in CalibrationPart]
        whole = calibrated(parts)
        without = calibrated([part for part in parts if part.part is not CalibrationPart.HANDS])
        if not isinstance(whole.reaction, Reaction) or whole.times.travels is None:
            total.missing += 1
            continue
        response = whole.reaction.response_s
        truth_s = who.reaction_s + who.a_s + periods * whole.reaction.period_s
        total.baseline.add(response.value - truth_s, covered=response.low <= truth_s <= response.high)
        answers, player = play(cued_drill(who), who, scenario, part=5, times=whole.times)
        total.answers += len(answers)
        total.right += sum(answer.right for answer in answers)
        found = recalled(who, answers, player, whole.times)
        for place in found:
            _take(total, who, place)
        total.shared.add(statistics.fmean(place.figure.time_s - place.truth_s for place in found))
        for place in recalled(who, answers, player, without.times):
            took_s = place.drawn_s + place.travel_s
            total.with_travel.add(place.figure.time_s - took_s)
            total.as_recall.add(place.figure.time_s - place.truth_s)
    print(
        f"  {total.answers} answers, {total.right / total.answers:.2%} right; not calibrated {total.missing}"
    )
    print(times("baseline, midifret", total.baseline))
    print(times("recall of a place, midifret", total.free, RECALL_GOAL_S))
    print(_bound("recall, bound", total.bounds))
    print(times("recall, against what it took in these", total.added, RECALL_GOAL_S))
    print(_bound("recall, against what it took, bound", total.added_bounds))
    print(times("recall, mean error of a player's places", total.shared))
    print(times("without hands, against recall and travel", total.with_travel, RECALL_GOAL_S))
    print(times("without hands, taken for recall alone", total.as_recall))
    print(times("raw response taken for recall", total.raw))


def _bound(title: str, errors_s: Sequence[float]) -> str:
    """The median and the 95th percentile of normal errors of these sizes, from draws of their mixture."""
    draw = random.Random(0)
    drawn = Errors([draw.gauss(0.0, error_s) for error_s in errors_s for _ in range(20)])
    return (
        f"  {title:<44} off {1000 * drawn.median():6.1f} ms median {1000 * drawn.percentile():6.1f} ms 95th"
    )


def _take(total: Recalls, who: Person, place: PlaceFound) -> None:
    interval = place.figure.interval
    total.free.add(
        place.figure.time_s - place.truth_s, covered=interval.low <= place.truth_s <= interval.high
    )
    total.added.add(place.figure.time_s - place.drawn_s)
    total.raw.add(place.raw_s - place.truth_s)
    # With normal distributions, everything but the recall time known: the variances of one answer, by n.
    timing = who.timing
    hands = timing.reaction_spread_s**2 + timing.reaction_tail_s**2
    hands += timing.travel_spread_s**2 if place.place.fret else 0.0
    whole = hands + (place.truth_s * timing.recall_spread) ** 2
    total.bounds.append(math.sqrt(whole / place.figure.answers))
    # What measuring adds at least: hands in these answers, and in the plucks that the calibration has.
    plucks = HANDS_PLUCKS if place.place.fret else REACTIONS
    total.added_bounds.append(math.sqrt(hands / place.figure.answers + hands / plucks))


def a_cancels(players: int, seed: int, *, human: bool) -> None:
    """The same players and draws on a guitar whose latency is longer at every pitch.

    What is left: whether a pluck is an anticipation is told by its time with a in it, so that with a longer
    one an anticipation may be taken for a reaction. A baseline without hands then moves by a few ms.
    """
    moved_s, latency_s = [], []
    for number in range(players):
        who = person(seed * 10_000 + number, 2.0, human=human)
        figures, fixed = [], []
        for each in (who, replace(who, a_s=who.a_s + SHIFT_S)):
            found = calibrated([measured(part, each, CLEAN) for part in CalibrationPart])
            answers, player = play(cued_drill(each), each, CLEAN, part=5, times=found.times)
            figures.append([place.figure.time_s for place in recalled(each, answers, player, found.times)])
            if isinstance(found.latency, Latency):
                fixed.append(found.latency.a_s.value)
        moved_s += [abs(a - b) for a, b in zip(*figures, strict=True)]
        latency_s.append(fixed[1] - fixed[0])
    print(
        f"  a longer by {1000 * SHIFT_S:.0f} ms, {players} players, {_hands(human)} hands: a is found longer "
        f"by {1000 * statistics.median(latency_s):.3f} ms; recall times move by "
        f"{1000 * statistics.fmean(moved_s):.3f} ms on average, by at most {1000 * max(moved_s):.3f} ms"
    )


def tempo(scenario: Scenario, players: int, seed: int) -> None:
    ours, notes, doubted = Errors(), [], 0
    plain = {f"up-down, {step:.1%}": Errors() for step in STEPS}
    draw = random.Random(seed)
    for number in range(players):
        # As in bench_tempo: 40 to 240 bpm, evenly in the logarithm; two of three start within a factor 1.65.
        owned_bpm = math.exp(draw.uniform(math.log(40), math.log(240)))
        start_bpm = min(max(owned_bpm * math.exp(draw.gauss(0, 0.5)), LEAST_BPM), MOST_BPM)
        who = person(seed * 10_000 + number, 2.0, human=False, owned_bpm=owned_bpm)
        easy = replace(who, on_click=replace(who.on_click, owned_bpm=1e6))
        heard = calibrated([measured(CalibrationPart.CLICK, easy, scenario)]).times
        stairs, walker = Staircase(start_bpm), Walker(who, scenario, heard)
        while not stairs.done(PASS_NOTES):
            stairs.take(walker.play(stairs.next_bpm(), PASS_NOTES))
        found = stairs.owned()
        ours.add(found.tempo_bpm / owned_bpm - 1, covered=found.low_bpm <= owned_bpm <= found.high_bpm)
        notes.append(found.notes)
        doubted += found.doubt is not None
        for (_, errors), step in zip(plain.items(), STEPS, strict=True):
            other = up_down(Walker(who, scenario, heard), start_bpm, draw, step, step)  # type: ignore[arg-type]
            errors.add(other.tempo_bpm / owned_bpm - 1, covered=other.low_bpm <= owned_bpm <= other.high_bpm)
    print(
        shares("owned tempo, midifret", ours, TEMPO_GOAL)
        + f"  notes {statistics.median(notes):.0f} median {max(notes)} most  doubted {doubted / players:.1%}"
    )
    for title, errors in plain.items():
        print(shares(title, errors))


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--players", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", choices=("latency", "recall", "tempo"))
    parser.add_argument("scenarios", nargs="*", default=[CLEAN.name, ORDINARY.name, POOR.name])
    chosen = parser.parse_args()
    start_s = time.process_time()
    scenarios: Sequence[Scenario] = [SCENARIOS[name] for name in chosen.scenarios]
    players, seed = chosen.players, chosen.seed
    print(
        f"{players} players, seed {seed}; goals: b within {LATENCY_GOAL:.0%}, recall times of places within "
        f"{1000 * RECALL_GOAL_S:.0f} ms, owned tempo within {TEMPO_GOAL:.0%} in at most {MOST_NOTES} notes "
        f"(medians); intervals hold the truth {COVER_GOAL[0]:.0%} to {COVER_GOAL[1]:.0%}"
    )
    if chosen.only in (None, "latency"):
        for scenario in scenarios:
            for human in (False, True):
                print(f"latency: 96 plucks, spread 12 ms, {_hands(human)} hands, {scenario.name} converter")
                latency(scenario, players, seed, human=human)
    if chosen.only in (None, "recall"):
        for scenario in scenarios:
            periods = 3.7 if scenario is POOR else 2.0
            for human in (False, True):
                print(
                    f"recall: {PLACES} places, {ASKED_EACH} answers each, {_hands(human)} hands, "
                    f"{scenario.name} converter, b = {periods:g}"
                )
                recall(scenario, players, seed, human=human, periods=periods)
        print("a cancels")
        for human in (False, True):
            a_cancels(max(1, players // 5), seed, human=human)
    if chosen.only in (None, "tempo"):
        for share in (0.9, 0.5):
            error = bound(share)
            print(
                f"tempo: half right at {HALF_AT:g} times the owned one; bound, all notes {share:.0%} right: "
                f"off {NORMAL_MEDIAN * error:.1%} median {1.96 * error:.1%} 95th"
            )
        for scenario in scenarios:
            print(f"tempo: passes of {PASS_NOTES} notes, {scenario.name} converter")
            tempo(scenario, players, seed)
    print(f"{time.process_time() - start_s:.0f} s of processor time")


def _hands(human: bool) -> str:
    return "human" if human else "even"


if __name__ == "__main__":
    main()
