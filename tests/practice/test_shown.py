"""What was shown of a stage on a day: first answers count, resting places stand, easy halves do not do."""

import datetime as dt

from midifret.practice import (
    Asked,
    DayAnswer,
    DayReading,
    DayTempo,
    MethodPath,
    RecallKind,
    Remembered,
    Stage,
    StageGate,
    Strand,
    gate_met,
    shown_of,
)
from midifret.terms import Place

DAY = dt.date(2027, 1, 10)
ROW = Stage(Strand.ROWS, "row-5", "Row 5", ("walk",), StageGate(0.9, 1.5, 60.0), ((5, 5),))
READ = Stage(Strand.READING, "one", "I", (), StageGate(0.9, None, 50.0), position=1)
PATH = MethodPath((ROW,), (READ,), "row-5")


def answer(n, string, *, right=True, recall_s=1.0, at_s=0.0, kind=RecallKind.NAME):
    asked = Asked(Place(string, 5), kind)
    given = Remembered(asked, n * 86_400.0 + at_s, right, recall_s if right else None)
    return DayAnswer(DAY + dt.timedelta(days=n), given)


def shown(*answers, **more):
    return shown_of(PATH, answers, **more)["row-5"]


def test_a_whole_row_right():
    (day,) = shown(*(answer(0, s, recall_s=s / 10) for s in range(1, 7)))
    assert (day.day, day.right, day.recall_s, day.tempo_bpm) == (DAY, 1.0, 0.35, None)


def test_half_a_row_is_half_right():
    (day,) = shown(*(answer(0, s) for s in (1, 2, 3)))
    assert day.right == 0.5


def test_the_first_answer_of_a_day_counts_in_whatever_order_they_come():
    late, early = answer(0, 1, at_s=60), answer(0, 1, right=False)
    for both in ((late, early), (early, late)):
        (day,) = shown(*both, answer(0, 2))
        assert day.right == 1 / 6


def test_an_answer_on_a_beat_counts_as_right_and_leaves_the_recall_time_of_before():
    """Who practises the row in tempo first on a day has no recall times of that day; a gate asks for both."""
    free = [answer(0, s, recall_s=0.8) for s in range(1, 7)]
    on_beat = [answer(5, s, recall_s=None) for s in range(1, 7)]
    assert [(day.right, day.recall_s) for day in shown(*free, *on_beat)] == [(1.0, 0.8), (1.0, 0.8)]
    assert shown(*free, *(answer(15, s, recall_s=None) for s in range(1, 7)))[-1].recall_s is None
    wrong = [answer(2, s, right=False) for s in range(1, 7)]
    assert shown(*free, *wrong)[-1].recall_s is None


def test_places_that_rest_stand_for_two_weeks():
    all_ = [answer(0, s) for s in range(1, 7)]
    assert shown(*all_, answer(14, 1), answer(14, 2))[-1].right == 1.0
    assert shown(*all_, answer(15, 1), answer(15, 2))[-1].right == 2 / 6


def test_one_place_of_six_is_no_day_of_the_row():
    all_ = [answer(0, s) for s in range(1, 7)]
    assert len(shown(*all_, answer(1, 1))) == 1


def test_another_kind_of_cue_shows_nothing():
    assert shown(*(answer(0, s, kind=RecallKind.STAFF) for s in range(1, 7))) == ()


def test_with_a_tempo_the_gate_is_met():
    all_ = [answer(n, s) for n in (0, 3) for s in range(1, 7)]
    assert not gate_met(ROW.gate, shown(*all_))
    tempos = [DayTempo(DAY, "walk", 64.0), DayTempo(DAY, "other", 300.0)]
    assert gate_met(ROW.gate, shown(*all_, tempos=tempos))


def test_readings_count_in_their_position():
    days = [DayReading(DAY, 1, 0.95, 60.0), DayReading(DAY, 2, 1.0, 60.0)]
    found = shown_of(PATH, readings=days)["one"]
    assert [(day.right, day.tempo_bpm) for day in found] == [(0.95, 60.0)]
