"""The figures of a run: accuracy and response time by string, fret, name, interval and kind of error."""

import statistics
from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence
from typing import TypeVar

from midifret.neck import interval_words
from midifret.tempo import Figure, LateNote, lateness
from midifret.terms import Answer, Exercise, Gate, Place, SpelledPitch, Verdict
from midifret.terms.calibration import Caveat
from midifret.terms.figures import GateResult, PlaceFigure, Share, Summary
from midifret.terms.in_tempo import LateFigure, TempoFigures

WORST_PLACES = 5
_SAME_TEMPO = 0.01  # a clock that is followed is known no better at the start of a run [ours]

Key = TypeVar("Key", int, tuple[int, str])


def summarise(
    exercise: Exercise,
    answers: Sequence[Answer],
    *,
    passed_before: int = 0,
    latency_known: bool = False,
) -> Summary:
    """Work out the figures of a run from its answers.

    passed_before: how many runs of this drill met the gate's figures just before this one. latency_known:
    what guitar and click need was taken off in tempo.
    Times are those of right answers alone: what a wrong answer took says nothing about knowing.
    """
    times_s = _right_times(answers)
    right = [answer for answer in answers if answer.right]
    recalls = [answer.recall for answer in right if answer.recall is not None]
    return Summary(
        prompts=len(answers),
        right=sum(answer.right for answer in answers),
        median_response_s=_median(times_s),
        spread_response_s=_quartile_distance(times_s),
        median_recall_s=_median([recall.time_s for recall in recalls]),
        recall_caveats=frozenset[Caveat]().union(*(answer.recall_caveats for answer in right)),
        by_string=_shares(answers, lambda a: a.counted_place.string if a.counted_place else None, str),
        by_fret=_shares(answers, lambda a: a.counted_place.fret if a.counted_place else None, str),
        by_name=_shares(answers, lambda a: _name_key(a.prompt.pitch), lambda key: key[1]),
        by_interval=_shares(
            answers,
            lambda a: a.prompt.interval_semitones,
            interval_words,
        ),
        by_verdict=tuple(
            (verdict, count)
            for verdict in Verdict
            if (count := sum(answer.verdict is verdict for answer in answers))
        ),
        slowest=_slowest(answers),
        least_sure=_least_sure(answers),
        gate=judge_gate(exercise, answers, passed_before=passed_before) if exercise.gate else None,
        in_tempo=_in_tempo(exercise, answers, latency_known=latency_known),
    )


def _in_tempo(exercise: Exercise, answers: Sequence[Answer], *, latency_known: bool) -> TempoFigures | None:
    """How the notes lay on their beats. Pauses count as time: what drifts is the player, not the run."""
    if exercise.tempo is None:
        return None
    placed = [(a.due_s, a.late_ms) for a in answers if a.right]
    notes = [
        LateNote(due_s, late_ms) for due_s, late_ms in placed if due_s is not None and late_ms is not None
    ]
    outside = [a.late_ms for a in answers if a.verdict is Verdict.MISSED and a.late_ms is not None]
    found = lateness(notes) if notes else None
    return TempoFigures(
        exercise.tempo.tempo_bpm,
        len(notes),
        None if found is None else _late(found.mean_ms),
        None if found is None else _late(found.spread_ms),
        None if found is None else _late(found.drift_ms_per_minute),
        sum(late_ms < 0 for late_ms in outside),
        sum(late_ms >= 0 for late_ms in outside),
        latency_known,
    )


def _late(figure: Figure | None) -> LateFigure | None:
    return None if figure is None else LateFigure(figure.value, figure.low, figure.high)


def judge_gate(exercise: Exercise, answers: Sequence[Answer], *, passed_before: int = 0) -> GateResult:
    """Say whether the gate of an exercise is met, with one reason for each thing it asks.

    In tempo nobody is waited for: there the time between two notes has to be as short as the response time
    that is asked for. Otherwise a gate could be met at any tempo, however slow.
    """
    gate = exercise.gate or Gate(right=0.0)
    reasons = []
    met = True
    if len(answers) < len(exercise.prompts):
        met = False
        reasons.append(
            f"{len(answers)} of {len(exercise.prompts)} prompts were played: not yet, play them all"
        )
    share = sum(answer.right for answer in answers) / len(answers) if answers else 0.0
    enough = share >= gate.right
    met = met and enough
    reasons.append(f"right {share:.0%} of {gate.right:.0%} asked: {'met' if enough else 'not yet'}")
    if gate.median_response_s is not None and exercise.tempo is not None:
        between_s = exercise.tempo.between_s
        enough = between_s <= gate.median_response_s * (1 + _SAME_TEMPO)
        met = met and enough
        reasons.append(
            f"a note each {between_s:.2f} s, at most {gate.median_response_s:.2f} s asked: "
            f"{'met' if enough else 'not yet'}"
        )
    elif gate.median_response_s is not None:
        median_s = _median(_right_times(answers))
        enough = median_s is not None and median_s <= gate.median_response_s
        met = met and enough
        shown = "no time" if median_s is None else f"{median_s:.2f} s"
        reasons.append(
            f"median {shown}, at most {gate.median_response_s:.2f} s asked: {'met' if enough else 'not yet'}"
        )
    this_run = met
    if gate.runs_in_a_row > 1:
        in_a_row = passed_before + 1 if this_run else 0
        enough = in_a_row >= gate.runs_in_a_row
        met = met and enough
        reasons.append(f"{in_a_row} of {gate.runs_in_a_row} runs in a row: {'met' if enough else 'not yet'}")
    return GateResult(met, this_run, tuple(reasons))


def _right_times(answers: Iterable[Answer]) -> list[float]:
    return [a.response_s for a in answers if a.right and a.response_s is not None]


def _median(values: Sequence[float]) -> float | None:
    return statistics.median(values) if values else None


def _quartile_distance(values: Sequence[float]) -> float | None:
    if len(values) < 2:
        return None
    first, _, third = statistics.quantiles(values, n=4, method="inclusive")
    return third - first


def _shares(
    answers: Iterable[Answer], key: Callable[[Answer], Key | None], label: Callable[[Key], str]
) -> tuple[Share, ...]:
    groups: dict[Key, list[Answer]] = defaultdict(list)
    for answer in answers:
        group = key(answer)
        if group is not None:
            groups[group].append(answer)
    return tuple(
        Share(
            label(group),
            len(members),
            sum(a.right for a in members),
            _median(_right_times(members)),
            _quartile_distance(_right_times(members)),
        )
        for group, members in sorted(groups.items())
    )


def _name_key(pitch: SpelledPitch) -> tuple[int, str]:
    return pitch.pitch_class, str(SpelledPitch(pitch.step, pitch.alter, 0))[:-1]


def _by_place(answers: Iterable[Answer]) -> list[PlaceFigure]:
    groups: dict[Place, list[Answer]] = defaultdict(list)
    for answer in answers:
        if answer.counted_place is not None:
            groups[answer.counted_place].append(answer)
    return [
        PlaceFigure(place, len(members), sum(a.right for a in members), _median(_right_times(members)))
        for place, members in sorted(groups.items())
    ]


def _slowest(answers: Iterable[Answer]) -> tuple[PlaceFigure, ...]:
    timed = [figure for figure in _by_place(answers) if figure.median_response_s is not None]
    timed.sort(key=lambda figure: -(figure.median_response_s or 0))
    return tuple(timed[:WORST_PLACES])


def _least_sure(answers: Iterable[Answer]) -> tuple[PlaceFigure, ...]:
    unsure = [figure for figure in _by_place(answers) if figure.right < figure.answers]
    unsure.sort(key=lambda figure: (figure.accuracy, -figure.answers))
    return tuple(unsure[:WORST_PLACES])
