"""Answers of many runs come in the order of their time, and give the memory of all of them."""

import datetime as dt

from hypothesis import given, settings
from hypothesis import strategies as st

from midifret.practice import (
    Asked,
    Memory,
    RecallKind,
    Remembered,
    in_order,
    on_top,
    remember,
    run_answers,
    take_in,
)
from midifret.practice.memory import order_of
from midifret.practice.taken_in import RunAnswers
from midifret.terms import CueKind, Judged, Place
from midifret.terms.practised import AskedAnswer, AskedRun

DAY = dt.date(2026, 11, 26)
NOW_S = 1.8e9
A, B = Asked(Place(6, 5), RecallKind.NAME), Asked(Place(6, 6), RecallKind.NAME)
RUNS = st.lists(
    st.tuples(
        st.integers(0, 20),
        st.lists(
            st.tuples(st.integers(0, 8), st.sampled_from([A, B]), st.booleans(), st.booleans()), max_size=5
        ),
    ),
    max_size=6,
)


def made(drawn) -> list[RunAnswers]:
    runs = [
        RunAnswers(
            number,
            DAY + dt.timedelta(days=number),
            NOW_S + begin,
            tuple(
                Remembered(asked, NOW_S + begin + after, right, 1.0 if right else None, found)
                for after, asked, right, found in answers
            ),
        )
        for number, (begin, answers) in enumerate(drawn)
    ]
    return sorted(runs, key=lambda run: run.started_s)


def given_of(runs: list[RunAnswers]) -> list[Remembered]:
    return [one for run in runs for one in run.answers]


@given(RUNS)
def test_answers_come_by_their_time_each_with_its_day(drawn) -> None:
    runs = made(drawn)
    found = list(in_order(iter(runs)))
    assert [order_of(one) for _, one in found] == sorted(order_of(one) for one in given_of(runs))
    days = {(run.day, one) for run in runs for one in run.answers}
    assert set(found) == days


@settings(max_examples=40, deadline=None)
@given(RUNS)
def test_taken_in_is_the_memory_of_all(drawn) -> None:
    runs = made(drawn)
    memory = Memory()
    firsts = take_in(memory, iter(runs))
    assert memory.kept == remember(given_of(runs), NOW_S + 100).kept
    assert firsts is not None
    for each in firsts:
        same = [
            one for run in runs if run.day == each.day for one in run.answers if one.asked == each.given.asked
        ]
        assert each.given.at_s == min(one.at_s for one in same)


def test_no_more_runs_are_held_than_overlap() -> None:
    read: list[int] = []

    def reading():
        for number in range(100):
            read.append(number)
            yield RunAnswers(
                number, DAY, NOW_S + 10 * number, (Remembered(A, NOW_S + 10 * number + 1, True),)
            )

    answers = in_order(reading())
    next(answers)
    assert len(read) == 2


def run_at(at_s: float) -> RunAnswers:
    return RunAnswers(1, DAY, at_s, (Remembered(A, at_s, right=True),))


def test_what_is_not_later_is_refused() -> None:
    memory = Memory()
    assert take_in(memory, [run_at(NOW_S)]) is not None
    assert take_in(memory, [run_at(NOW_S)]) is None
    assert take_in(memory, [run_at(NOW_S - 1)]) is None


def test_what_is_future_goes_on_top_as_given_now() -> None:
    runs = [run_at(NOW_S - 100), run_at(NOW_S + 1e6)]
    memory = Memory()
    assert take_in(memory, runs[:1]) is not None
    assert runs[1].is_future(NOW_S)
    assert not runs[0].is_future(NOW_S)
    assert on_top(memory, runs[1:], NOW_S)
    assert memory.kept == remember(given_of(runs), NOW_S).kept
    assert not on_top(memory, runs[1:], NOW_S)  # now is no later than what the memory has
    assert on_top(memory, [], NOW_S)


def test_what_shows_no_recall_is_left_out() -> None:
    def asked(
        cue: tuple[CueKind, ...], judged: Judged = Judged.PLACE, place: Place | None = A.place
    ) -> AskedAnswer:
        return AskedAnswer(place, cue, judged, NOW_S, True, 1.0, True)

    run = AskedRun(
        7,
        DAY,
        NOW_S,
        (
            asked((CueKind.NAME, CueKind.STRING)),
            asked(()),
            asked((CueKind.NAME, CueKind.PLACE)),
            asked((CueKind.PLACE,), Judged.NAME),
            asked((CueKind.STAFF,), place=None),
        ),
    )
    found = run_answers(run)
    assert [one.asked.kind for one in found.answers] == [RecallKind.NAME, RecallKind.NAMING]
    assert (found.run_id, found.day, found.started_s) == (7, DAY, NOW_S)
