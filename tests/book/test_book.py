"""Players, runs, answers and the figures that are read from them."""

import datetime as dt
import json
import statistics
import tempfile
from pathlib import Path

import pytest
import sqlalchemy as sa
from hypothesis import given, settings
from hypothesis import strategies as st

from midifret.book.book import Book, player_name
from midifret.book.histogram import GREATEST_ERROR
from midifret.book.tables import runs, summaries
from midifret.terms import BadInput, Place, Verdict
from midifret.terms.record import RunEnd


def kept_figures(book: Book) -> tuple[list, list]:
    """Every summary, and what each run knows of its answers."""
    columns = (runs.c.id, runs.c.answers, runs.c.right_answers, runs.c.median_response_s)
    with book._database.read() as connection:
        return (
            sorted(tuple(row) for row in connection.execute(sa.select(summaries))),
            sorted(tuple(row) for row in connection.execute(sa.select(*columns))),
        )


def test_answers_come_back_whole(book, start, answer) -> None:
    run = book.start_run(start())
    given_answers = (answer(1), answer(2, Place(5, 5), Verdict.WRONG), answer(3, verdict=Verdict.MISSED))
    for one in given_answers:
        book.put_answer(run, one)
    assert book.answers_of(run) == given_answers


def test_an_answer_is_replaced_and_withdrawn(book, start, answer) -> None:
    run = book.start_run(start())
    for n in (1, 2, 3):
        book.put_answer(run, answer(n))
    before = kept_figures(book)
    book.put_answer(run, answer(2, verdict=Verdict.FRET_OFF))
    assert dict(book.report("Ana").by_verdict) == {Verdict.RIGHT: 2, Verdict.FRET_OFF: 1}
    book.put_answer(run, answer(2))
    assert kept_figures(book) == before
    book.withdraw_from(run, 2)
    assert [one.n for one in book.answers_of(run)] == [1]
    assert book.report("Ana").answers == 1
    book.withdraw_from(run, 1)
    report = book.report("Ana")
    assert (report.answers, report.places, report.days, report.runs) == (0, (), (), ())


PLACES = (Place(6, 5), Place(5, 5), Place(1, 12))
ANSWER = st.tuples(
    st.integers(1, 6),
    st.sampled_from(PLACES),
    st.sampled_from(Verdict),
    st.none() | st.floats(min_value=0.01, max_value=300),
)
STEP = st.one_of(
    st.tuples(st.just("run"), st.integers(0, 3)),
    st.tuples(st.just("answer"), ANSWER),
    st.tuples(st.just("withdraw"), st.integers(1, 6)),
)


@settings(max_examples=40, deadline=None)
@given(st.lists(STEP, max_size=25))
def test_summaries_and_report_are_those_of_the_answers(start, answer, noon, steps) -> None:
    """Whatever is put, replaced and withdrawn: summaries rebuilt are those kept, and the report is right."""
    with tempfile.TemporaryDirectory() as folder, Book.open(Path(folder) / "book.sqlite") as book:
        book.add_player("Ana", created_utc=noon)
        run = book.start_run(start())
        begun = [(run, noon.date())]
        for kind, value in steps:
            if kind == "run":
                time = noon + dt.timedelta(days=value)
                run = book.start_run(start(started_utc=time))
                begun.append((run, time.date()))
            elif kind == "answer":
                book.put_answer(run, answer(*value))
            else:
                book.withdraw_from(run, value)
        kept, report = kept_figures(book), book.report("Ana", last_runs=100)
        total = book.rebuild()
        assert kept_figures(book) == kept
        assert book.report("Ana", last_runs=100) == report

        given_answers = [(day, one) for run, day in begun for one in book.answers_of(run)]
        assert total == report.answers == len(given_answers)
        assert dict(report.by_verdict) == {
            verdict: number
            for verdict in Verdict
            if (number := sum(one.verdict is verdict for _, one in given_answers))
        }
        for figure in report.places:
            check(figure, [one for _, one in given_answers if one.prompt.places[0] == figure.place])
        for figure in report.days:
            check(figure, [one for day, one in given_answers if day == figure.day])
        for figure in report.runs:
            own = book.answers_of(figure.run_id)
            times_s = [one.response_s for one in own if one.right and one.response_s is not None]
            assert (figure.answers, figure.right) == (len(own), sum(one.right for one in own))
            assert figure.median_response_s == (statistics.median(times_s) if times_s else None)
        assert {figure.place for figure in report.places} == {
            one.prompt.places[0] for _, one in given_answers
        }


def check(figure, own) -> None:
    times_s = [one.response_s for one in own if one.right and one.response_s is not None]
    assert (figure.answers, figure.right) == (len(own), sum(one.right for one in own))
    if times_s:
        assert figure.median_response_s == pytest.approx(
            statistics.median(times_s), rel=GREATEST_ERROR * 1.01
        )
    else:
        assert figure.median_response_s is None


def test_report_reads_no_answers(book, start, answer) -> None:
    book.put_answer(book.start_run(start()), answer(1))
    seen: list[str] = []
    sa.event.listen(
        book._database.reading,
        "before_cursor_execute",
        lambda connection, cursor, statement, *rest: seen.append(statement),
    )
    book.report("Ana")
    assert seen
    with book._database.read() as connection:
        for statement in [text for text in seen if text.startswith("SELECT")]:
            plan = connection.exec_driver_sql("EXPLAIN QUERY PLAN " + statement, (1,) * statement.count("?"))
            for row in plan:
                assert " answers" not in row[3], statement
    assert any("summaries" in statement for statement in seen)


def test_report_since_a_day(book, start, answer, noon) -> None:
    for days in range(5):
        run = book.start_run(start(started_utc=noon + dt.timedelta(days=days)))
        book.put_answer(run, answer(1, Place(6, days)))
        book.end_run(run, RunEnd(False, 90.0, None), ended_utc=noon + dt.timedelta(days=days))
    report = book.report("Ana", (noon + dt.timedelta(days=3)).date(), last_runs=1)
    assert [figure.place.fret for figure in report.places] == [3, 4]
    assert [figure.minutes for figure in report.days] == [1.5, 1.5]
    assert [figure.started for figure in report.runs] == [noon + dt.timedelta(days=4)]
    assert report.answers == 2


def test_a_run_past_midnight_belongs_to_the_evening(book, start, answer) -> None:
    late = dt.datetime(2026, 11, 26, 1, 30, tzinfo=dt.UTC)
    book.put_answer(book.start_run(start(started_utc=late, zone="Europe/Madrid")), answer(1))
    report = book.report("Ana")
    assert [figure.day for figure in report.days] == [dt.date(2026, 11, 25)]
    assert report.runs[0].started.isoformat() == "2026-11-26T02:30:00+01:00"


def test_gate_in_a_row(book, start, noon) -> None:
    def ended(met: bool | None, drill: str = "rows/row-5") -> None:
        run = book.start_run(start(drill=drill))
        book.end_run(run, RunEnd(met is None, 60.0, met), ended_utc=noon)

    assert book.runs_passed_in_a_row("Ana", "rows/row-5") == 0
    for met in (True, False, True, True):
        ended(met)
    ended(False, "another")
    ended(None)
    book.start_run(start())  # still going on
    assert book.runs_passed_in_a_row("Ana", "rows/row-5") == 2
    assert book.runs_of("Ana", "rows/row-5") == 6
    assert book.runs_of("Ana", "another") == 1
    ended(False)
    assert book.runs_passed_in_a_row("Ana", "rows/row-5") == 0


def test_minutes_and_last_end(book, start, answer, noon) -> None:
    assert book.last_run_end("Ana") is None
    assert book.minutes_on("Ana", noon.date()) == 0
    for minute in (0, 20):
        run = book.start_run(start(started_utc=noon + dt.timedelta(minutes=minute)))
        end = noon + dt.timedelta(minutes=minute + 12)
        book.end_run(run, RunEnd(False, 600.0, None), ended_utc=end)
    assert book.minutes_on("Ana", noon.date()) == 20
    assert book.runs_on("Ana", noon.date()) == 2
    assert book.last_run_end("Ana") == noon + dt.timedelta(minutes=32)


def test_a_crashed_run_is_ended_at_its_last_answer(book, start, answer, noon) -> None:
    run = book.start_run(start())
    for n in (1, 2, 3):
        book.put_answer(run, answer(n))  # cues at 10, 20, 30 s, each answered after 1.5 s
    assert book.end_abandoned(started_before_utc=noon) == 0
    assert book.end_abandoned(started_before_utc=noon + dt.timedelta(seconds=1)) == 1
    assert book.end_abandoned(started_before_utc=noon + dt.timedelta(days=1)) == 0
    figure = book.report("Ana").runs[0]
    assert figure.ended_early
    assert figure.gate_met is None
    assert book.last_run_end("Ana") == noon + dt.timedelta(seconds=21.5)
    book.end_run(run, RunEnd(False, 40.0, True), ended_utc=noon)  # it lived after all
    assert not book.report("Ana").runs[0].ended_early


def test_string_check(book, noon) -> None:
    day = noon.date()
    assert not book.string_check_done("default", day)
    for _ in range(2):
        book.put_string_check("default", checked_utc=noon, zone="UTC")
    assert book.string_check_done("default", day)
    assert not book.string_check_done("other", day)
    assert not book.string_check_done("default", day + dt.timedelta(days=1))


def test_players(book, start, answer, noon) -> None:
    book.add_player("Bo", created_utc=noon)
    assert book.ensure_player("demo", created_utc=noon, simulated=True) == "demo"
    assert book.ensure_player("demo", created_utc=noon, simulated=True) == "demo"
    assert [(one.name, one.simulated) for one in book.players()] == [
        ("Ana", False),
        ("Bo", False),
        ("demo", True),
    ]
    with pytest.raises(BadInput, match="already"):
        book.add_player("Ana", created_utc=noon)
    with pytest.raises(BadInput, match=r"no player 'Eva'.*known: Ana, Bo, demo"):
        book.report("Eva")
    with pytest.raises(BadInput, match=r"no player 'Eva'.*known: Ana"):
        book.start_run(start("Eva"))
    with pytest.raises(BadInput, match="never mixed"):
        book.start_run(start("demo"))
    with pytest.raises(BadInput, match="never mixed"):
        book.start_run(start("Ana", simulated=True))
    with pytest.raises(BadInput, match="never mixed"):
        book.ensure_player("demo", created_utc=noon)


@pytest.mark.parametrize("name", ["", "   ", "a" * 65, "a\nb", "a\x1b[31m", "\ud800", "a\u2028b"])
def test_unfit_names(book, noon, name) -> None:
    with pytest.raises(BadInput, match="name"):
        book.add_player(name, created_utc=noon)


def test_names_are_compared_in_composed_form(book, noon) -> None:
    # U+0065 U+0301 and U+00E9 are the same letter (Unicode Standard Annex 15).
    book.add_player(" Jose\u0301 ", created_utc=noon)
    assert book.player("Jos\u00e9").name == "Jos\u00e9" == player_name("Jose\u0301")


def test_delete_leaves_nothing_of_the_player(book, path, start, answer, noon) -> None:
    book.add_player("Zacharias", created_utc=noon)
    run = book.start_run(start("Zacharias", take_file="zach-1.mid", drill="secret-drill"))
    book.put_answer(run, answer(1))
    kept = book.start_run(start("Ana", take_file="ana.mid"))
    book.put_answer(kept, answer(1))
    planned = book.to_delete("Zacharias")
    assert book.delete_player("Zacharias") == planned
    assert (planned.runs, planned.answers, planned.take_files) == (1, 1, ("zach-1.mid",))
    assert [one.name for one in book.players()] == ["Ana"]
    with book._database.read() as connection:
        for table in ("runs", "answers", "summaries"):
            assert connection.exec_driver_sql(f"SELECT count(*) FROM {table}").scalar() == 1
    for file in path.parent.iterdir():
        data = file.read_bytes()
        for trace in (b"Zacharias", b"zach-1", b"secret-drill"):
            assert trace not in data, file
    assert book.start_run(start()) > kept  # a number once given is not given again
    with pytest.raises(BadInput, match="no player"):
        book.delete_player("Zacharias")


def test_export_holds_everything(book, start, answer, noon) -> None:
    run = book.start_run(start(zone="Europe/Madrid"))
    book.put_answer(run, answer(1))
    book.put_answer(run, answer(2, verdict=Verdict.MISSED))
    book.end_run(run, RunEnd(False, 20.0, True), ended_utc=noon)
    book.start_run(start())
    document = json.loads("".join(book.export("Ana")))
    assert (document["format"], document["version"]) == ("midifret-player", 1)
    first, second = document["runs"]
    assert first["started_utc"] == "2026-11-25T12:00:00+00:00"
    assert first["day"] == "2026-11-25"
    assert first["answers"][0]["played"]["channel"] == 6  # as people count
    assert first["answers"][0]["asked"]["places"] == [{"string": 6, "fret": 5}]
    assert first["answers"][1]["played"] is None
    assert second["ended_early"] is None
    assert second["answers"] == []


def test_bad_runs(book, start, answer) -> None:
    with pytest.raises(BadInput, match="no run 99"):
        book.put_answer(99, answer(1))
    with pytest.raises(BadInput, match="seed"):
        book.start_run(start(seed=2**63))
    with pytest.raises(BadInput, match="too long"):
        book.start_run(start(drill="d" * 256))
    with pytest.raises(BadInput, match="time zone"):
        book.start_run(start(zone="Nowhere"))
