"""Recall times and intervals put into answers: what is taken off, what is not, and what says so."""

import datetime as dt
from dataclasses import replace

import pytest

from midifret.terms import Answer, CueKind, Judged, Note, Place, Prompt, SpelledPitch, Verdict
from midifret.terms.calibration import (
    Calibration,
    CalibrationPart,
    Caveat,
    Estimate,
    Latency,
    Measurement,
    Missing,
    Reaction,
    Reading,
    period_s,
)
from midifret.timing import AnswerTimes, Travels, calibrate

NOW = dt.datetime(2026, 3, 1, 18, 0, tzinfo=dt.UTC)
LATENCY = Latency(Estimate(-0.03, 0.01, -0.05, -0.01), Estimate(2.0, 0.1, 1.8, 2.2), 0.012, 96)
REACTION = Reaction(Estimate(0.25, 0.008, 0.23, 0.27), period_s(52), 0.26, 0.04, 22)
TRAVELS = Travels(0.1, 0.01, (0.0001, 0.0, 0.0), 0.03, 4.0, period_s(57), 30)
TIMES = AnswerTimes(Calibration("g", "p", NOW, LATENCY, REACTION), TRAVELS)
LOW, HIGH = Place(6, 0), Place(1, 12)  # E2 (MIDI 40) and E5 (76), periods of 12.13 and 1.52 ms


def answer(
    place: Place,
    midi: int,
    *,
    n: int = 1,
    cue: tuple[CueKind, ...] = (CueKind.NAME,),
    cue_s: float = 1.0,
    response_s: float = 1.2,
    paused_s: float = 0.0,
) -> Answer:
    prompt = Prompt(n, cue, Judged.PLACE, (place,), (midi,), SpelledPitch("E", 0, 2))
    onset_s = cue_s + response_s + paused_s
    note = Note(n, onset_s, place.string, place.fret, midi, 90, place.string - 1)
    return Answer(prompt, Verdict.RIGHT, cue_s, onset_s, response_s, played=note)


def test_recall_is_what_is_left_of_the_response() -> None:
    # By hand: response less reaction, less two periods more or less than those of the reaction, less travel.
    timed = TIMES.timed(answer(Place(1, 12), 76), answer(Place(3, 5), 60))
    expected_s = 1.2 - 0.25 - 2 * (period_s(76) - period_s(52)) - (0.1 + 0.01 * 7)
    assert timed.recall_s == pytest.approx(expected_s)
    assert timed.recall is not None
    assert timed.recall.caveats == frozenset()


def test_an_open_string_has_no_travel_and_none_is_missing() -> None:
    timed = TIMES.timed(answer(LOW, 40), None)
    assert timed.recall_s == pytest.approx(1.2 - 0.25 - 2 * (period_s(40) - period_s(52)))
    assert timed.recall is not None
    assert Caveat.WITH_TRAVEL not in timed.recall.caveats


def test_what_was_not_measured_is_said() -> None:
    without = replace(TIMES, travels=None).timed(answer(HIGH, 76), None)
    assert without.recall is not None
    assert without.recall.caveats == {Caveat.WITH_TRAVEL}
    raw = AnswerTimes().timed(answer(HIGH, 76), None)
    assert raw.recall_s == 1.2
    assert raw.recall is not None
    assert raw.recall.caveats == {Caveat.RAW}
    typed = replace(answer(HIGH, 76), played=None, typed="E")
    named = TIMES.timed(replace(typed, prompt=replace(typed.prompt, judged=Judged.NAME)), None)
    assert named.recall is not None
    assert named.recall.caveats == {Caveat.RAW}  # what the keys of a keyboard need was not measured


def test_it_may_be_negative_as_measured() -> None:
    timed = TIMES.timed(answer(HIGH, 76, response_s=0.2), None)
    assert timed.recall_s is not None
    assert timed.recall_s < 0


def test_where_the_place_is_shown_nothing_is_recalled() -> None:
    assert TIMES.timed(answer(HIGH, 76, cue=(CueKind.PLACE,)), None).recall is None
    shown_beside = answer(HIGH, 76, cue=(CueKind.PLACE,))
    elsewhere = replace(shown_beside, prompt=replace(shown_beside.prompt, given=Place(2, 17)))
    assert TIMES.timed(elsewhere, None).recall is not None  # the given place is not the one to find


def test_a_walk_without_cues_has_intervals_freed_of_the_difference_of_latencies() -> None:
    first = answer(LOW, 40, n=1, cue=(), cue_s=1.0)
    second = answer(HIGH, 76, n=2, cue=(), cue_s=2.25, response_s=0.45, paused_s=5.0)
    timed = TIMES.timed(second, first)
    assert timed.recall is None
    assert timed.interval is not None
    # From onset to onset, the pause left out: 2.25 + 0.45 - 2.2; the low note was told later.
    assert timed.interval.time_s == pytest.approx(0.5 + 2 * (period_s(40) - period_s(76)))
    assert TIMES.timed(first, None).interval is None


def test_after_a_prompt_that_nothing_closed_there_is_no_interval() -> None:
    skipped = replace(answer(LOW, 40, cue=()), verdict=Verdict.WRONG, skipped=True)
    assert TIMES.timed(answer(HIGH, 76, n=2, cue=(), cue_s=2.2), skipped).interval is None


def test_void_and_missed_prompts_have_no_times() -> None:
    void = replace(answer(HIGH, 76), response_s=None)
    assert TIMES.timed(void, None) == void


def measured(
    part: CalibrationPart, *, guitar: str = "g", days: float = 0.0, count: int = 40, shift_s: float = 0.0
) -> Measurement:
    """Plucks of one who is exact: two periods late on the click, 0.25 s to what is shown."""
    readings = []
    for i in range(count):
        place, midi = ((LOW, 40), (HIGH, 76))[i % 2]
        wobble_s = 0.004 * ((i * 7) % 5 - 2)
        base_s = 0.0 if part is CalibrationPart.CLICK else 0.25
        readings.append(Reading(base_s + shift_s + 2 * period_s(midi) + wobble_s, midi, place))
    return Measurement(part, guitar, "p", NOW - dt.timedelta(days=days), tuple(readings))


def test_the_newest_of_this_guitar_and_port_counts() -> None:
    found = calibrate(
        [
            measured(CalibrationPart.CLICK, days=3),
            measured(CalibrationPart.REACTION, days=3, shift_s=0.1),
            measured(CalibrationPart.REACTION, days=1),
            measured(CalibrationPart.REACTION, days=0, guitar="other"),
        ],
        guitar="g",
        port="p",
        now=NOW,
    )
    assert isinstance(found.reaction, Reaction)
    assert found.reaction.response_s.value == pytest.approx(0.25 + 2 * found.reaction.period_s, abs=0.005)
    assert found.times.caveats == frozenset()
    assert found.times.calibration is not None
    assert found.times.calibration.made_at == NOW - dt.timedelta(days=3)  # the older of the two


def test_another_guitar_will_do_and_is_flagged() -> None:
    parts = [measured(CalibrationPart.CLICK), measured(CalibrationPart.REACTION)]
    found = calibrate(parts, guitar="other", port="p", now=NOW + dt.timedelta(days=100))
    assert found.times.caveats == {Caveat.OTHER_GUITAR, Caveat.STALE}
    assert not found.times.knows_latency
    assert found.times.heard_late_s(40) == 0.0
    recalled = found.times.timed(answer(HIGH, 76), None).recall
    assert recalled is not None
    assert {Caveat.OTHER_GUITAR, Caveat.STALE} <= recalled.caveats


def test_plucks_of_one_sitting_add_up() -> None:
    few = measured(CalibrationPart.CLICK, count=10)
    alone = calibrate([few], guitar="g", port="p", now=NOW)
    assert isinstance(alone.latency, Missing)
    assert alone.times.calibration is None
    more = replace(few, measured_utc=NOW + dt.timedelta(minutes=5))
    both = calibrate([more, few], guitar="g", port="p", now=NOW + dt.timedelta(minutes=6))
    assert isinstance(both.latency, Latency)
    assert both.latency.plucks == 20
    apart = replace(few, measured_utc=NOW + dt.timedelta(days=1))
    assert isinstance(calibrate([apart, few], guitar="g", port="p", now=apart.measured_utc).latency, Missing)


def test_a_sitting_that_gives_nothing_does_not_hide_an_older_one() -> None:
    good = measured(CalibrationPart.CLICK, days=2)
    bad = measured(CalibrationPart.CLICK, count=6)
    found = calibrate([bad, good], guitar="g", port="p", now=NOW)
    assert isinstance(found.latency, Latency)
    assert found.latency.plucks == 40


def test_nothing_measured_is_raw() -> None:
    found = calibrate([], guitar="g", port="p", now=NOW)
    assert found.times == AnswerTimes()
