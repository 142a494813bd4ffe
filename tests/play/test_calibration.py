"""What is asked at calibration, and the readings made of answers."""

import itertools
import statistics
from collections import Counter

import pytest

from midifret.neck import Neck, Tuning
from midifret.play import TempoRun
from midifret.play.calibration import calibration_exercise, readings_of
from midifret.terms import Answer, BadInput, CueKind, Judged, Note, Place, Verdict
from midifret.terms.calibration import CalibrationPart, Reading, period_s
from midifret.terms.marks import DuePoint
from midifret.timing import LatencyRules

NECK = Neck(Tuning("standard", "Standard", (64, 59, 55, 50, 45, 40)))
UKULELE = Neck(Tuning("ukulele", "Ukulele", (69, 64, 60, 67)), frets=12)


@pytest.mark.parametrize("part", CalibrationPart)
@pytest.mark.parametrize("neck", [NECK, UKULELE])
def test_every_part_shows_places_and_asks_for_them(part: CalibrationPart, neck: Neck) -> None:
    exercise = calibration_exercise(part, neck, seed=3)
    assert all(
        prompt.cue == (CueKind.PLACE,) and prompt.judged is Judged.PLACE for prompt in exercise.prompts
    )
    assert all(neck.has(prompt.places[0]) for prompt in exercise.prompts)
    assert exercise == calibration_exercise(part, neck, seed=3)
    assert exercise != calibration_exercise(part, neck, seed=4)
    assert (exercise.tempo is not None) is (part is CalibrationPart.CLICK)
    assert not exercise.names_cued


def test_reactions_are_to_open_strings_at_moments_that_cannot_be_foreseen() -> None:
    prompts = [
        prompt
        for seed in range(100)
        for prompt in calibration_exercise(CalibrationPart.REACTION, NECK, seed=seed).prompts
    ]
    assert all(prompt.places[0].fret == 0 for prompt in prompts)
    assert len(Counter(prompt.places[0].string for prompt in prompts[:24])) == 6
    waits_s = [prompt.wait_s for prompt in prompts]
    assert min(waits_s) >= 1.0
    assert max(waits_s) <= 4.5
    # An exponential distribution spreads as far as its mean lies above its least; the longest are cut off.
    assert statistics.stdev(waits_s) == pytest.approx(statistics.fmean(waits_s) - 1.0, rel=0.2)


def test_plucks_on_the_click_lie_at_both_ends_of_the_pitches_in_no_order() -> None:
    prompts = calibration_exercise(CalibrationPart.CLICK, NECK).prompts
    rules = LatencyRules()
    assert len(prompts) == rules.planned_plucks
    places = Counter(prompt.places[0] for prompt in prompts)
    assert places[Place(6, 0)] >= 36
    assert places[Place(1, 12)] >= 36
    assert len(places) >= 6  # several strings and frets
    periods_s = [period_s(prompt.midi) for prompt in prompts]
    assert max(periods_s) - min(periods_s) >= rules.least_span_s
    # An order: the pitch would correlate with the one before, or with the time.
    assert abs(statistics.correlation(periods_s[1:], periods_s[:-1])) < 0.35
    assert abs(statistics.correlation(periods_s, range(len(periods_s)))) < 0.2


def test_hands_are_sent_near_and_far() -> None:
    places = [prompt.places[0] for prompt in calibration_exercise(CalibrationPart.HANDS, NECK).prompts]
    ways = {abs(a.fret - b.fret) for a, b in itertools.pairwise(places)}
    assert len(places) == 30
    assert len(set(places)) == 30
    assert max(ways) - min(ways) >= 5


def test_more_may_be_asked() -> None:
    assert len(calibration_exercise(CalibrationPart.CLICK, NECK, count=8).prompts) == 8
    with pytest.raises(BadInput, match="0 plucks"):
        calibration_exercise(CalibrationPart.CLICK, NECK, count=0)


def test_readings() -> None:
    exercise = calibration_exercise(CalibrationPart.REACTION, NECK)
    first, second, third, *_ = exercise.prompts
    right = Note(1, 1.3, first.places[0].string, 0, first.midi, 90, 0)
    wrong = Note(2, 2.4, 1, 0, 64, 90, 0)
    answers = (
        Answer(first, Verdict.RIGHT, 1.0, 1.3, 0.3, played=right),
        Answer(second, Verdict.WRONG, 2.0, 2.4, 0.4, played=wrong),
        Answer(third, Verdict.RIGHT, 3.0, 3.4, None, played=right),  # void: the computer slept
        Answer(third, Verdict.MISSED, 3.0),
    )
    assert readings_of(answers) == (
        Reading(0.3, first.midi, first.places[0]),
        Reading(0.4, 64, Place(1, 0), right=False),
    )


def test_with_the_click_it_is_the_lateness_wherever_it_lies() -> None:
    exercise = calibration_exercise(CalibrationPart.CLICK, NECK, count=2)
    run = TempoRun(exercise)
    run.start(0.0)
    tempo = exercise.tempo
    assert tempo is not None
    for prompt in exercise.prompts:
        due_s = 2.0 + (prompt.n - 1) * tempo.between_s
        run.schedule(DuePoint(prompt.n, due_s, tempo.half_window_s))
        place = prompt.places[0]
        run.hear(Note(prompt.n, due_s - 0.17, place.string, place.fret, prompt.midi, 90, place.string - 1))
    run.end(10.0, all_asked=True)
    assert [reading.time_s for reading in readings_of(run.answers)] == pytest.approx([-0.17, -0.17])
