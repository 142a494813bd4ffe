"""What the book keeps for planning: stages that were set, sessions, first answers, days and readings."""

import datetime as dt
import json
from dataclasses import replace
from pathlib import Path

import pytest
import sqlalchemy as sa

from midifret.book.book import Book
from midifret.book.tables import answers, first_answers, memories, metadata, practice_sessions, stages_set
from midifret.terms import BadInput, Judged, Place, Verdict
from midifret.terms.practised import FirstAnswer, ReadingDone, StageSet
from midifret.terms.record import RunEnd

PLAN = '{"blocks": [1, 2, 3]}'


def ended(book: Book, start, given, **more) -> int:
    run = book.start_run(start(**more))
    book.put_answers(run, tuple(given))
    book.end_run(run, RunEnd(False, 60.0, None), ended_utc=start(**more).started_utc)
    return run


ROW_5 = Place(6, 5)


def first(day: dt.date, at_s: float, place: Place = ROW_5, *, right: bool = True) -> FirstAnswer:
    return FirstAnswer(day, "name", place.string, place.fret, at_s, right, 1.5 if right else None)


def put(book: Book, *firsts: FirstAnswer, document: str = "{}", player: str = "Ana") -> bool:
    state = book.memory_state(player)
    return book.put_memory(
        player,
        document,
        rules_number=1,
        newest_s=1.0,
        runs_in=state.waiting,
        firsts=firsts,
        after=state.change,
    )


# Memory


def test_only_runs_that_ended_wait(book: Book, start, answer) -> None:
    run = ended(book, start, [answer(1), answer(2)])
    book.put_answers(book.start_run(start()), (answer(1),))
    state = book.memory_state("Ana")
    assert [(one.run_id, one.answers) for one in state.waiting] == [(run, 2)]
    assert (state.document, state.rules_number, state.newest_s, state.change) == ("", None, None, 0)
    assert book.ended_runs("Ana") == (run,)


def test_what_was_put_is_there_and_runs_wait_no_longer(book: Book, start, answer) -> None:
    ended(book, start, [answer(1)])
    long = json.dumps({"text": "x" * 2_000_000})
    assert put(book, document=long)
    state = book.memory_state("Ana")
    assert (state.document, state.waiting, state.change) == (long, (), 1)
    assert put(book, document="{}")
    assert book.memory_state("Ana").change == 2


def test_runs_come_in_the_order_asked_for(book: Book, start, answer, monkeypatch) -> None:
    monkeypatch.setattr("midifret.book.practised._RUNS_AT_ONCE", 2)
    numbers = [ended(book, start, [answer(1)]) for _ in range(5)]
    asked = [numbers[n] for n in (3, 0, 4, 1)]
    assert [run.run_id for run in book.asked_runs(asked)] == asked
    assert list(book.asked_runs([])) == []
    assert list(book.asked_runs([999])) == []


def test_an_answer_is_dated_by_the_runs_own_clock(book: Book, start, answer, noon) -> None:
    """The run's clock stands at 10 s at the first cue (conftest.py), and goes on as the run began at noon."""
    one, two = answer(1, response_s=1.5), answer(2, verdict=Verdict.MISSED)
    run = ended(book, start, [one, two])
    (found,) = book.asked_runs([run])
    assert [given.at_s - noon.timestamp() for given in found.answers] == [1.5, 10.0]
    assert found.started_s == noon.timestamp()


@pytest.mark.parametrize("cue_s", [-9e11, 9e11])
def test_a_broken_clock_in_a_run_dates_no_answer_before_it_or_days_later(
    book: Book, start, answer, noon, cue_s: float
) -> None:
    odd = replace(answer(2), cue_s=cue_s, answer_s=cue_s + 1)
    run = ended(book, start, [answer(1), odd, answer(3)])
    (found,) = book.asked_runs([run])
    for given in found.answers:
        assert 0 <= given.at_s - noon.timestamp() <= 86_400


def test_answers_without_a_cue_show_no_recall(book: Book, start, answer) -> None:
    bare = answer(1)
    bare = replace(bare, prompt=replace(bare.prompt, cue=()))
    named = answer(2)
    named = replace(
        named, prompt=replace(named.prompt, cue=(), judged=Judged.NAME, given=Place(4, 3)), typed="F"
    )
    run = ended(book, start, [bare, named, answer(3, Place(5, 5))])
    (found,) = book.asked_runs([run])
    assert [given.place for given in found.answers] == [Place(4, 3), Place(5, 5)]


def test_of_first_answers_the_earliest_stays(book: Book) -> None:
    day = dt.date(2026, 11, 25)
    put(book, first(day, 100.0), first(day + dt.timedelta(days=1), 900.0))
    put(book, first(day, 50.0, right=False), first(day, 60.0, Place(1, 1)))
    put(book, first(day, 70.0, right=True))
    found = book.first_answers("Ana", ("name",))
    assert {(one.day.day, Place(one.string, one.fret), one.at_s, one.right) for one in found} == {
        (25, Place(6, 5), 50.0, False),
        (25, Place(1, 1), 60.0, True),
        (26, Place(6, 5), 900.0, True),
    }
    assert book.first_answers("Ana", ("staff",)) == ()
    assert len(book.first_answers("Ana", ("name",), until=day)) == 2
    assert [one.fret for one in book.first_answers("Ana", ("name",), last_fret=4)] == [1]


# The path


def test_stages_come_back_as_they_were_set(book: Book, noon) -> None:
    for stage, by in (("row-7", "placement"), ("row-5", "player"), ("", "player")):
        book.put_stage("Ana", "rows", stage, by=by, set_utc=noon, zone="Europe/Madrid")
    day = noon.date()
    assert book.stages_set("Ana") == tuple(
        StageSet("rows", stage, by, noon, day)
        for stage, by in (("row-7", "placement"), ("row-5", "player"), ("", "player"))
    )


def test_a_stage_holds_from_its_practice_day_on(book: Book, noon) -> None:
    night = noon.replace(hour=3)
    book.put_stage("Ana", "rows", "row-7", by="player", set_utc=night, zone="UTC")
    assert book.stages_set("Ana")[0].day == noon.date() - dt.timedelta(days=1)


def test_a_stage_that_has_no_room_is_refused(book: Book, noon) -> None:
    with pytest.raises(BadInput, match="the name of the stage is too long"):
        book.put_stage("Ana", "rows", "x" * 256, by="player", set_utc=noon, zone="UTC")


# Sessions


def test_a_session_can_be_taken_up_on_its_day(book: Book, noon) -> None:
    day = noon.date()
    assert book.open_session("Ana", day) is None
    begun = book.begin_session("Ana", PLAN, started_utc=noon, zone="UTC")
    assert book.open_session("Ana", day) == begun
    assert (begun.plan, begun.done, begun.block, begun.minutes) == (PLAN, (), 0, 0)
    book.go_on_with_session(begun.session_id, done=[3.0, 1.25], block=1)
    found = book.open_session("Ana", day)
    assert found == replace(begun, done=(3.0, 1.25), block=1)
    assert found.minutes == 4.25
    assert book.open_session("Ana", day + dt.timedelta(days=1)) is None
    changed = '{"blocks": []}'
    book.go_on_with_session(begun.session_id, done=[3.0, 4.0], block=2, plan=changed, ended_utc=noon)
    assert book.open_session("Ana", day) is None
    assert book.sessions("Ana") == (replace(begun, plan=changed, done=(3.0, 4.0), block=2, ended_utc=noon),)


def test_only_the_newest_session_of_a_day_is_taken_up(book: Book, noon) -> None:
    book.begin_session("Ana", PLAN, started_utc=noon, zone="UTC")
    anew = book.begin_session("Ana", PLAN, started_utc=noon, zone="UTC")
    book.go_on_with_session(anew.session_id, done=[], block=0, ended_utc=noon)
    assert book.open_session("Ana", noon.date()) is None
    assert len(book.sessions("Ana")) == 2


@pytest.mark.parametrize("done", [[-1.0], [float("nan")], [float("inf")], [1.0, 1e9]])
def test_minutes_that_are_none_are_refused(book: Book, noon, done: list[float]) -> None:
    begun = book.begin_session("Ana", PLAN, started_utc=noon, zone="UTC")
    with pytest.raises(BadInput, match="minutes of a session cannot be"):
        book.go_on_with_session(begun.session_id, done=done, block=0)
    assert book.sessions("Ana") == (begun,)


def test_a_session_that_is_not_there_is_refused(book: Book) -> None:
    with pytest.raises(BadInput, match="there is no practice session 7"):
        book.go_on_with_session(7, done=[], block=0)


def test_a_plan_that_is_no_json_is_a_fault_of_the_program(book: Book, noon) -> None:
    with pytest.raises(json.JSONDecodeError):
        book.begin_session("Ana", "no plan", started_utc=noon, zone="UTC")


# Days and readings


def test_minutes_of_days_add_up(book: Book, start, answer, noon) -> None:
    for days in (0, 0, -3):
        ended(book, start, [answer(1)], started_utc=noon + dt.timedelta(days=days))
    day = noon.date()
    assert book.minutes_by_day("Ana") == ((day - dt.timedelta(days=3), 1.0), (day, 2.0))


def test_readings_are_those_played_to_the_end(book: Book, start, answer, noon) -> None:
    wrong = answer(2, verdict=Verdict.WRONG)
    ended(book, start, [answer(1), wrong], drill="read:a@V")
    ended(book, start, [answer(1)], drill="row-5")
    ended(book, start, [], drill="read:b@V")
    early = book.start_run(start(drill="read:c@V"))
    book.put_answers(early, (answer(1),))
    book.end_run(early, RunEnd(True, 60.0, None), ended_utc=noon)
    assert book.readings_done("Ana", "read:") == (ReadingDone(noon.date(), "read:a@V", 2, 1, None),)


def test_runs_dated_later_are_counted(book: Book, start, answer, noon) -> None:
    for days in (-1, 2, 3):
        ended(book, start, [answer(1)], started_utc=noon + dt.timedelta(days=days))
    assert book.runs_begun_after("Ana", noon) == 2


# The whole player


def filled(book: Book, start, answer, noon, player: str) -> None:
    ended(book, start, [answer(1)], player=player)
    put(book, first(noon.date(), 5.0), player=player)
    book.put_stage(player, "rows", "row-7", by="player", set_utc=noon, zone="UTC")
    begun = book.begin_session(player, PLAN, started_utc=noon, zone="UTC")
    book.go_on_with_session(begun.session_id, done=[2.0], block=1)


def test_deleting_a_player_deletes_all_of_it_and_nothing_of_others(
    book: Book, start, answer, noon, path: Path
) -> None:
    book.add_player("Ben", created_utc=noon)
    for player in ("Ana", "Ben"):
        filled(book, start, answer, noon, player)
    book.delete_player("Ana")
    with book._database.read() as connection:
        for table in (memories, first_answers, stages_set, practice_sessions, answers):
            assert connection.scalar(sa.select(sa.func.count()).select_from(table)) == 1
    assert book.memory_state("Ben").document
    assert len(book.sessions("Ben")) == 1
    with pytest.raises(BadInput, match="there is no player 'Ana'"):
        book.sessions("Ana")


def test_no_table_that_names_a_player_is_forgotten_when_one_is_deleted(
    book: Book, start, answer, noon
) -> None:
    """Whatever table refers to players is empty after the only one went; those left empty are told."""
    filled(book, start, answer, noon, "Ana")
    book.delete_player("Ana")
    with book._database.read() as connection:
        for table in metadata.sorted_tables:
            if any(key.column.table.name in ("players", "runs") for key in table.foreign_keys):
                assert connection.scalar(sa.select(sa.func.count()).select_from(table)) == 0, table.name


def test_the_export_has_stages_and_sessions(book: Book, start, answer, noon) -> None:
    filled(book, start, answer, noon, "Ana")
    document = json.loads("".join(book.export("Ana")))
    assert document["stages_set"] == [
        {"strand": "rows", "stage": "row-7", "by": "player", "set_utc": noon.isoformat(), "day": "2026-11-25"}
    ]
    assert document["practice_sessions"] == [
        {
            "day": "2026-11-25",
            "started_utc": noon.isoformat(),
            "ended_utc": None,
            "minutes": 2.0,
            "done_minutes": [2.0],
            "block": 1,
            "plan": json.loads(PLAN),
        }
    ]
    assert "memor" not in "".join(document)


@pytest.mark.parametrize(
    "call",
    [
        lambda book, noon: book.memory_state("Eva"),
        lambda book, noon: book.forget_memory("Eva"),
        lambda book, noon: book.first_answers("Eva", ("name",)),
        lambda book, noon: book.stages_set("Eva"),
        lambda book, noon: book.put_stage("Eva", "rows", "x", by="player", set_utc=noon, zone="UTC"),
        lambda book, noon: book.begin_session("Eva", PLAN, started_utc=noon, zone="UTC"),
        lambda book, noon: book.minutes_by_day("Eva"),
        lambda book, noon: book.readings_done("Eva", "read:"),
        lambda book, noon: book.ended_runs("Eva"),
    ],
)
def test_an_unknown_player_is_refused_with_those_there_are(book: Book, noon, call) -> None:
    with pytest.raises(BadInput, match=r"there is no player 'Eva'.*known: Ana"):
        call(book, noon)
