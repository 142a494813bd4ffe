"""The memory in the book is the same as one worked out of all answers, whatever happened in between."""

import datetime as dt
import json
import random
import tempfile
from dataclasses import dataclass, replace
from pathlib import Path

import pytest
import sqlalchemy as sa
from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from midifret.book.book import Book
from midifret.book.tables import memories
from midifret.cli import remembering
from midifret.cli.remembering import memory_now
from midifret.practice import Memory, Remembered, remember, remembered
from midifret.terms import Answer, CueKind, Judged, Note, Place, Prompt, SpelledPitch, Verdict
from midifret.terms.calibration import Recall
from midifret.terms.practised import WaitingRun
from midifret.terms.record import RunEnd, RunStart

NOW = dt.datetime(2026, 11, 26, 12, tzinfo=dt.UTC)
CUES = ((CueKind.NAME,), (CueKind.NAME, CueKind.STRING), (CueKind.STAFF,), (), (CueKind.NAME, CueKind.PLACE))
CLOCK_S = 5_000.0  # a run's own clock stands anywhere when it begins


@dataclass(frozen=True, slots=True)
class Played:
    """A run as it was played."""

    started_utc: dt.datetime
    answers: tuple[Answer, ...]

    @property
    def given(self) -> list[Remembered]:
        """What memory takes of it, worked out without the book: its first cue is the run's begin."""
        began_s = self.started_utc.timestamp()
        first_s = self.answers[0].cue_s or 0.0
        found = []
        for answer in self.answers:
            time_s = answer.cue_s if answer.answer_s is None else answer.answer_s
            assert time_s is not None
            one = remembered(answer, began_s + (time_s - first_s))
            if one is not None:
                found.append(one)
        return found


def played(started_utc: dt.datetime, seed: int, answers: int = 6) -> Played:
    lots = random.Random(seed)
    return Played(started_utc, tuple(_answer(n, lots) for n in range(1, answers + 1)))


def _answer(n: int, lots: random.Random) -> Answer:
    place = Place(lots.randint(5, 6), lots.randint(4, 6))
    judged = lots.choice((Judged.PLACE, Judged.PLACE, Judged.NAME))
    cue = (CueKind.PLACE,) if judged is Judged.NAME else lots.choice(CUES)
    places = (place, Place(1, 1)) if lots.random() < 0.2 else (place,)
    prompt = Prompt(
        n, cue, judged, places, tuple(40 + n for _ in places), SpelledPitch("A", 0, 2),
        given=place if judged is Judged.NAME else None,
    )  # fmt: skip
    cue_s = CLOCK_S + 3.0 * n
    verdict = lots.choice((Verdict.RIGHT, Verdict.RIGHT, Verdict.FRET_OFF, Verdict.MISSED))
    if verdict is Verdict.MISSED:
        return Answer(prompt, verdict, cue_s)
    time_s = lots.uniform(0.3, 2.5)
    note = Note(n, cue_s + time_s, place.string, place.fret, 45, 90, 5)
    answer = Answer(prompt, verdict, cue_s, cue_s + time_s, time_s, played=note)
    if judged is Judged.PLACE and cue and lots.random() < 0.8:
        answer = replace(answer, recall=Recall(time_s - 0.2, 0.01, 0.02, frozenset()))
    if verdict is not Verdict.RIGHT and lots.random() < 0.5:
        answer = replace(answer, corrections=(note,), skipped=lots.random() < 0.3)
    return answer


def put(book: Book, run: Played, *, end: bool = True, player: str = "Ana") -> int:
    number = book.start_run(RunStart(player, "drill", "Drill", 0, "default", run.started_utc, "UTC", "a.mid"))
    book.put_answers(number, run.answers)
    if end:
        book.end_run(number, RunEnd(False, 20.0, None), ended_utc=run.started_utc)
    return number


def of_all(runs: list[Played], now_utc: dt.datetime = NOW) -> Memory:
    return remember((one for run in runs for one in run.given), now_utc.timestamp())


@pytest.fixture
def book(tmp_path: Path):
    with Book.open(tmp_path / "book.sqlite") as opened:
        opened.add_player("Ana", created_utc=NOW)
        yield opened


def at(days: float = 0.0, *, hours: float = 0.0) -> dt.datetime:
    return NOW - dt.timedelta(days=days, hours=hours)


def test_an_empty_book_has_an_empty_memory_and_keeps_none(book: Book) -> None:
    assert memory_now(book, "Ana", NOW).kept == Memory().kept
    assert book.memory_state("Ana").document == ""


def test_after_a_run_only_that_run_is_read(book: Book, monkeypatch: pytest.MonkeyPatch) -> None:
    runs = [played(at(3), 1), played(at(2), 2)]
    for run in runs:
        put(book, run)
    assert memory_now(book, "Ana", NOW).kept == of_all(runs).kept
    runs.append(played(at(1), 3))
    number = put(book, runs[-1])
    asked: list[tuple[int, ...]] = []
    read = book.asked_runs

    def noting(run_ids):
        asked.append(tuple(run_ids))
        return read(run_ids)

    monkeypatch.setattr(book, "asked_runs", noting)
    assert memory_now(book, "Ana", NOW).kept == of_all(runs).kept
    assert memory_now(book, "Ana", NOW).kept == of_all(runs).kept
    assert asked == [(number,), ()]


def test_a_long_reading_is_kept_in_parts(book: Book, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(remembering, "_KEPT_EACH", 12)
    runs = [played(at(30 - day), day, answers=5) for day in range(12)]
    for run in runs:
        put(book, run)
    read, calls = book.asked_runs, [0]

    def stopped(run_ids):
        calls[0] += 1
        if calls[0] == 4:
            raise KeyboardInterrupt
        return read(run_ids)

    with monkeypatch.context() as patched:
        patched.setattr(book, "asked_runs", stopped)
        with pytest.raises(KeyboardInterrupt):
            memory_now(book, "Ana", NOW)
    assert len(book.memory_state("Ana").waiting) == 6  # of twelve runs three parts of two were kept
    assert memory_now(book, "Ana", NOW).kept == of_all(runs).kept
    assert book.memory_state("Ana").waiting == ()


def test_parts_may_overlap_or_lie_ahead(book: Book, monkeypatch: pytest.MonkeyPatch) -> None:
    """Two machines at once, and runs of a clock that ran ahead, in parts of one run."""
    monkeypatch.setattr(remembering, "_KEPT_EACH", 1)
    begun = at(5)
    together = [played(begun + dt.timedelta(seconds=second), second, answers=9) for second in (0, 7, 11)]
    ahead = [played(at(-2 - day), 20 + day) for day in range(3)]
    for run in [*together, *ahead]:
        put(book, run)
    found = memory_now(book, "Ana", NOW)
    monkeypatch.undo()
    book.forget_memory("Ana")
    assert found.kept == memory_now(book, "Ana", NOW).kept
    assert len(book.memory_state("Ana").waiting) == 3


def test_one_answer_is_enough(book: Book) -> None:
    run = next(run for seed in range(20) if (run := played(at(1), seed, answers=1)).given)
    assert run.given
    put(book, run)
    assert memory_now(book, "Ana", NOW).kept == of_all([run]).kept
    assert len(memory_now(book, "Ana", NOW).items) == 1


def test_a_run_that_goes_on_elsewhere_comes_later(book: Book) -> None:
    going_on, after = played(at(1), 1), played(at(1, hours=-2), 2)
    number = put(book, going_on, end=False)
    put(book, after)
    assert memory_now(book, "Ana", NOW).kept == of_all([after]).kept
    book.end_run(number, RunEnd(True, 20.0, None), ended_utc=NOW)
    assert memory_now(book, "Ana", NOW).kept == of_all([going_on, after]).kept


@pytest.mark.parametrize("back_days", [1, 400, 20_000])
def test_a_clock_set_back_is_sorted_in(book: Book, back_days: int) -> None:
    runs = [played(at(1), 1)]
    put(book, runs[0])
    memory_now(book, "Ana", NOW)
    runs.append(played(at(back_days, hours=1), 2))  # 20,000 days ago: 1972, a clock without a battery
    put(book, runs[1])
    found = memory_now(book, "Ana", NOW)
    assert found.kept == of_all(runs).kept
    assert found.set_back == 0


def test_two_machines_that_write_one_book(book: Book) -> None:
    """Their runs lie between one another, and at one same second."""
    first, second = (
        [played(at(9 - n), n) for n in range(4)],
        [played(at(9 - n, hours=0), 50 + n) for n in range(4)],
    )
    for run in first:
        put(book, run)
        memory_now(book, "Ana", NOW)
    for run in second:
        put(book, run)
        memory_now(book, "Ana", NOW)
    assert memory_now(book, "Ana", NOW).kept == of_all(first + second).kept


def test_answers_from_the_future_are_taken_as_given_now_until_their_time_comes(book: Book) -> None:
    now_run, future = played(at(1), 1), played(NOW + dt.timedelta(days=400), 2)
    put(book, future)
    put(book, now_run)
    assert memory_now(book, "Ana", NOW).kept == of_all([now_run, future]).kept
    state = book.memory_state("Ana")
    assert state.newest_s is not None
    assert state.newest_s < NOW.timestamp()
    assert len(state.waiting) == 1  # what was taken on top is not kept
    later = NOW + dt.timedelta(days=3)
    again = played(later - dt.timedelta(hours=1), 3)
    put(book, again)
    assert memory_now(book, "Ana", later).kept == of_all([now_run, future, again], later).kept
    at_last = NOW + dt.timedelta(days=401)
    assert memory_now(book, "Ana", at_last).kept == of_all([now_run, future, again], at_last).kept
    assert book.memory_state("Ana").waiting == ()


def test_other_rules_are_no_reason_to_keep_what_was_worked_out(book: Book, monkeypatch) -> None:
    run = played(at(1), 1)
    put(book, run)
    expected = memory_now(book, "Ana", NOW).kept
    with book._database.write() as connection:
        document = json.loads(connection.scalar(sa.select(memories.c.document)))
        document["rules_number"] += 1
        document["items"] = []
        connection.execute(sa.update(memories).values(document=json.dumps(document)))
    assert memory_now(book, "Ana", NOW).kept == expected
    assert json.loads(book.memory_state("Ana").document)["items"]


@pytest.mark.parametrize("document", ["{}", "[]", "no JSON", '{"rules_number": 1}', "null"])
def test_a_damaged_memory_is_worked_out_again(book: Book, document: str) -> None:
    run = played(at(1), 1)
    put(book, run)
    expected = memory_now(book, "Ana", NOW).kept
    with book._database.write() as connection:
        connection.execute(sa.update(memories).values(document=document))
    assert memory_now(book, "Ana", NOW).kept == expected


def test_a_run_taken_for_abandoned_that_goes_on_is_taken_again(book: Book) -> None:
    whole = played(at(1), 1, answers=8)
    begun = Played(whole.started_utc, whole.answers[:5])
    number = put(book, begun, end=False)
    book.end_abandoned(started_before_utc=NOW)
    assert memory_now(book, "Ana", NOW).kept == of_all([begun]).kept
    book.put_answers(number, whole.answers[5:])
    book.end_run(number, RunEnd(False, 20.0, None), ended_utc=NOW)
    assert memory_now(book, "Ana", NOW).kept == of_all([whole]).kept
    book.withdraw_from(number, 3)
    assert memory_now(book, "Ana", NOW).kept == of_all([Played(whole.started_utc, whole.answers[:2])]).kept


def test_rebuilding_the_book_works_memory_out_again(book: Book) -> None:
    runs = [played(at(3), 1), played(at(2), 2)]
    for run in runs:
        put(book, run)
    before = memory_now(book, "Ana", NOW).kept
    firsts = book.first_answers("Ana", ("name", "staff", "naming"))
    book.rebuild()
    assert book.memory_state("Ana").document == ""
    assert book.first_answers("Ana", ("name", "staff", "naming")) == ()
    assert memory_now(book, "Ana", NOW).kept == before
    assert set(book.first_answers("Ana", ("name", "staff", "naming"))) == set(firsts)


def test_of_two_programs_the_slower_one_writes_nothing_over(book: Book) -> None:
    run = played(at(1), 1)
    number = put(book, run)
    state = book.memory_state("Ana")
    memory_now(book, "Ana", NOW)  # the other program
    kept = book.memory_state("Ana")
    assert not book.put_memory(
        "Ana", "{}", rules_number=1, newest_s=0.0, runs_in=state.waiting, firsts=(), after=state.change
    )
    assert book.memory_state("Ana") == kept
    assert state.waiting == (WaitingRun(number, 6),)


def test_answers_that_change_while_memory_is_worked_out_are_not_lost(book: Book, monkeypatch) -> None:
    whole = played(at(1), 1, answers=8)
    number = put(book, Played(whole.started_utc, whole.answers[:5]))
    take_in = remembering.take_in
    calls = []

    def meanwhile(memory, runs):
        found = take_in(memory, runs)
        if not calls:
            book.put_answers(number, whole.answers[5:])
        calls.append(1)
        return found

    monkeypatch.setattr(remembering, "take_in", meanwhile)
    assert memory_now(book, "Ana", NOW).kept == of_all([whole]).kept
    assert len(calls) == 2


def test_first_answers_of_a_day_are_the_earliest(book: Book) -> None:
    runs = [played(at(hours=1), 1), played(at(hours=3), 2), played(at(2), 3)]
    for run in runs:
        put(book, run)
        memory_now(book, "Ana", NOW)
    expected: dict[tuple[dt.date, str, Place], Remembered] = {}
    for run in runs:
        for one in run.given:
            key = (run.started_utc.date(), one.asked.kind.value, one.asked.place)
            if key not in expected or one.at_s < expected[key].at_s:
                expected[key] = one
    found = book.first_answers("Ana", ("name", "staff", "naming", "interval"))
    assert {(f.day, f.kind, Place(f.string, f.fret)): (f.at_s, f.right, f.recall_s) for f in found} == {
        key: (one.at_s, one.right, one.recall_s) for key, one in expected.items()
    }
    assert {f.kind for f in book.first_answers("Ana", ("staff",))} == {"staff"}


def test_it_is_told_before_it_takes_long(book: Book, monkeypatch) -> None:
    put(book, played(at(1), 1))
    said: list[str] = []
    memory_now(book, "Ana", NOW, say=said.append)
    assert said == []
    monkeypatch.setattr(remembering, "_TOLD_FROM", 5)
    book.forget_memory("Ana")
    memory_now(book, "Ana", NOW, say=said.append)
    assert said == ["what you remember is worked out from 6 answers; the next time this is quick"]


def test_places_stand_in_one_order_however_memory_came_about(book: Book) -> None:
    for n, run in enumerate([played(at(3), 1), played(at(2), 2), played(NOW + dt.timedelta(days=9), 3)]):
        put(book, run)
        found = list(memory_now(book, "Ana", NOW).items)
        assert found == list(memory_now(book, "Ana", NOW).items)
        assert found == sorted(found, key=lambda asked: (asked.kind, asked.place)), n


def test_players_do_not_mix(book: Book) -> None:
    book.add_player("Ben", created_utc=NOW)
    mine, other = played(at(1), 1), played(at(2), 2)
    put(book, mine)
    put(book, other, player="Ben")
    assert memory_now(book, "Ana", NOW).kept == of_all([mine]).kept
    assert memory_now(book, "Ben", NOW).kept == of_all([other]).kept
    book.forget_memory("Ben")
    assert book.memory_state("Ana").waiting == ()


STEPS = st.lists(
    st.tuples(
        st.integers(-30, 40),  # half days after now at which it began
        st.integers(0, 5),  # minutes besides, so that runs overlap and begin at one moment
        st.booleans(),  # whether it is ended at once
        st.booleans(),  # whether memory is asked for then
    ),
    max_size=7,
)


# Making a failing case smaller would take minutes over a database.
@settings(max_examples=40, deadline=None, phases=(Phase.explicit, Phase.reuse, Phase.generate))
@given(STEPS, st.integers(0, 10_000))
def test_memory_is_the_same_in_whatever_order_runs_come_and_are_asked_for(steps, seed) -> None:
    with tempfile.TemporaryDirectory() as folder, Book.open(Path(folder) / "book.sqlite") as book:
        book.add_player("Ana", created_utc=NOW)
        ended: list[Played] = []
        open_runs: list[tuple[int, Played]] = []
        now_utc = NOW
        for number, (half_days, minutes, end, ask) in enumerate(steps):
            run = played(
                NOW + dt.timedelta(days=half_days / 2, minutes=minutes / 6), seed + number, answers=4
            )
            run_id = put(book, run, end=end)
            if end:
                ended.append(run)
            else:
                open_runs.append((run_id, run))
            if ask:
                assert memory_now(book, "Ana", now_utc).kept == of_all(ended, now_utc).kept
            now_utc += dt.timedelta(days=1)
        for run_id, run in open_runs:
            book.end_run(run_id, RunEnd(False, 20.0, None), ended_utc=NOW)
            ended.append(run)
        assert memory_now(book, "Ana", now_utc).kept == of_all(ended, now_utc).kept
        book.forget_memory("Ana")
        assert memory_now(book, "Ana", now_utc).kept == of_all(ended, now_utc).kept
