"""What the converter made up, and answers judged by pitch alone: kept, replaced, reported, deleted."""

import datetime as dt
import json
from pathlib import Path

import pytest

from midifret.book.book import Book
from midifret.book.writer import BookWriter
from midifret.terms import Answer, Glitch, Judged, Place, Verdict
from midifret.terms.record import RunEnd

VOIDED = ((Glitch.LIFT_OFF, 2), (Glitch.FALSE_HARMONIC, 3))


def end(notes: int | None = 20, voided: tuple[tuple[Glitch, int], ...] = VOIDED) -> RunEnd:
    return RunEnd(False, 60.0, None, notes, voided)


def assumed(answer: Answer, *, places: tuple[Place, ...] = ()) -> Answer:
    """The same answer from a guitar that tells no strings."""
    prompt = answer.prompt
    if places:
        prompt = type(prompt)(
            prompt.n, prompt.cue, Judged.PITCH, places, prompt.midis * len(places), prompt.pitch
        )
    played = answer.played
    assert played is not None
    return Answer(
        prompt,
        answer.verdict,
        answer.cue_s,
        answer.answer_s,
        answer.response_s,
        played=played._replace(place_assumed=True),
    )


def rows_of(book: Book, table: str) -> int:
    with book._database.read() as connection:
        return connection.exec_driver_sql(f"SELECT count(*) FROM {table}").scalar()


def test_glitches_are_reported_by_run_and_over_all(book, start, answer, noon) -> None:
    for days, voided in ((0, VOIDED), (3, ((Glitch.LIFT_OFF, 7),)), (5, ())):
        time = noon + dt.timedelta(days=days)
        run = book.start_run(start(started_utc=time))
        book.put_answer(run, answer(1))
        book.end_run(run, end(10 + days, voided), ended_utc=time)
    report = book.report("Ana")
    assert report.voided == ((Glitch.LIFT_OFF, 9), (Glitch.FALSE_HARMONIC, 3))  # the most first
    assert report.notes == 10 + 13 + 15
    assert [run.notes for run in report.runs] == [15, 13, 10]
    assert [run.voided for run in report.runs] == [(), ((Glitch.LIFT_OFF, 7),), VOIDED[::-1]]
    since = book.report("Ana", (noon + dt.timedelta(days=1)).date())
    assert (since.voided, since.notes) == (((Glitch.LIFT_OFF, 7),), 28)


def test_players_are_not_mixed(book, start, answer, noon) -> None:
    book.add_player("Bo", created_utc=noon)
    for player in ("Ana", "Bo"):
        run = book.start_run(start(player))
        book.put_answer(run, assumed(answer(1)))
        book.end_run(run, end(), ended_utc=noon)
    assert dict(book.report("Ana").voided) == dict(VOIDED)
    assert book.report("Ana").notes == 20
    book.delete_player("Bo")
    assert rows_of(book, "voided_notes") == 2
    assert dict(book.report("Ana").voided) == dict(VOIDED)


def test_an_end_told_again_replaces_what_was_counted(book, start, answer, noon) -> None:
    run = book.start_run(start())
    book.put_answer(run, answer(1))
    book.end_run(run, end(), ended_utc=noon)
    book.end_run(run, end(21, ((Glitch.CROSSTALK, 1), (Glitch.PASSED, 0))), ended_utc=noon)
    report = book.report("Ana")
    assert (report.voided, report.notes) == (((Glitch.CROSSTALK, 1),), 21)
    assert rows_of(book, "voided_notes") == 1  # none for a kind that did not occur


def test_a_run_cut_off_has_none(book, start, answer, noon) -> None:
    run = book.start_run(start())
    book.put_answer(run, answer(1))
    assert book.end_abandoned(started_before_utc=noon + dt.timedelta(days=1)) == 1
    (figure,) = book.report("Ana").runs
    assert (figure.notes, figure.voided) == (None, ())
    assert book.report("Ana").notes == 0


def test_the_writer_hands_them_on(book, start, answer, noon) -> None:
    with BookWriter(book) as writer:
        writer.start_run(start())
        writer.answer(answer(1))
        writer.end_run(end(), ended_utc=noon)
    assert dict(book.report("Ana").voided) == dict(VOIDED)
    assert book.report("Ana").notes == 20


def test_a_rebuild_keeps_what_answers_do_not_tell_and_counts_what_they_do(book, start, answer, noon) -> None:
    run = book.start_run(start())
    book.put_answer(run, assumed(answer(1)))
    book.put_answer(run, answer(2))
    book.end_run(run, end(), ended_utc=noon)
    before = book.report("Ana")
    assert before.answers_by_pitch == 1
    with book._database.write() as connection:
        connection.exec_driver_sql("UPDATE runs SET answers_by_pitch = 99")
    book.rebuild()
    assert book.report("Ana") == before


def test_answers_by_pitch_follow_every_answer(book, start, answer) -> None:
    run = book.start_run(start())
    for n in (1, 2, 3):
        book.put_answer(run, assumed(answer(n)))
    assert book.report("Ana").answers_by_pitch == 3
    book.put_answer(run, answer(2))
    assert book.report("Ana").answers_by_pitch == 2
    book.withdraw_from(run, 2)
    assert book.report("Ana").answers_by_pitch == 1


def test_an_assumed_place_counts_where_one_place_was_asked_and_nowhere_else(book, start, answer) -> None:
    run = book.start_run(start())
    book.put_answer(run, assumed(answer(1)))
    book.put_answer(run, assumed(answer(2, Place(6, 6), Verdict.FRET_OFF), places=(Place(6, 5),)))
    several = (Place(6, 5), Place(5, 0))
    book.put_answer(run, assumed(answer(3), places=several))
    report = book.report("Ana")
    assert [(figure.place, figure.answers, figure.right) for figure in report.places] == [(Place(6, 5), 2, 1)]
    assert (report.answers, report.right) == (3, 2)
    # Where the guitar tells the string, the place that was played counts.
    heard = assumed(answer(4), places=several)
    assert heard.played is not None
    heard = Answer(
        heard.prompt, heard.verdict, 1.0, 2.0, 1.0, played=heard.played._replace(place_assumed=False)
    )
    book.put_answer(run, heard)
    assert book.report("Ana").places[0].answers == 3


def test_export_and_backup_carry_them(book, start, answer, noon, tmp_path: Path) -> None:
    run = book.start_run(start())
    book.put_answer(run, assumed(answer(1)))
    book.put_answer(run, answer(2))
    book.end_run(run, end(), ended_utc=noon)
    book.start_run(start())
    first, second = json.loads("".join(book.export("Ana")))["runs"]
    assert first["voided"] == {"false harmonic": 3, "lift-off": 2}
    assert first["notes"] == 20
    assert [one["played"]["place_assumed"] for one in first["answers"]] == [True, False]
    assert (second["notes"], second["voided"]) == (None, {})
    copy = tmp_path / "copy.sqlite"
    book.backup(copy)
    with Book.open(copy) as other:
        assert other.report("Ana") == book.report("Ana")
        assert other.answers_of(run) == book.answers_of(run)


def test_a_kind_of_glitch_fits_its_column() -> None:
    from midifret.book.tables import voided_notes

    assert max(len(glitch.value) for glitch in Glitch) <= voided_notes.c.glitch.type.length


@pytest.mark.parametrize("notes", [0, 5])
def test_a_run_without_glitches(book, start, answer, noon, notes: int) -> None:
    run = book.start_run(start())
    book.put_answer(run, answer(1))
    book.end_run(run, end(notes, ()), ended_utc=noon)
    assert book.report("Ana").runs[0].notes == notes
    assert book.report("Ana").voided == ()
