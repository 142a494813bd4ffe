"""Calibrations, recall times, runs in tempo and owned tempos, as they are kept and read."""

import datetime as dt
import json
import math
import statistics
import tempfile
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from midifret.book.book import Book
from midifret.book.rows import MOST_TIME
from midifret.terms import BadInput, CueKind, Judged, Place, Verdict
from midifret.terms.calibration import CalibrationPart, Caveat, Measurement, Reading, Recall, ViewKind
from midifret.terms.figures import LateAnswer, OwnedTempoKept
from midifret.terms.record import RunEnd, RunStart

RAW = frozenset({Caveat.RAW})
TRAVELLED = frozenset({Caveat.WITH_TRAVEL})
FLOATS = st.floats(-MOST_TIME, MOST_TIME)
READINGS = st.builds(
    Reading,
    FLOATS,
    st.integers(0, 127),
    st.builds(Place, st.integers(1, 10), st.integers(0, 24)),
    st.booleans(),
)
NAMES = st.text(max_size=255)
MEASUREMENTS = st.builds(
    Measurement,
    st.sampled_from(CalibrationPart),
    NAMES,
    NAMES,
    st.datetimes(timezones=st.just(dt.UTC)),
    st.lists(READINGS, min_size=1, max_size=5).map(tuple),
    NAMES,
    NAMES,
)


def timed(answer, time_s: float, caveats: frozenset[Caveat] = TRAVELLED):
    """The same answer with a recall time."""
    return replace(answer, recall=Recall(time_s, None, None, caveats))


@pytest.fixture
def in_tempo(start):
    def make(tempo_bpm: float, **more) -> RunStart:
        window_ms = more.pop("window_ms", None)
        begun = start(**more)
        return replace(begun, tempo_bpm=tempo_bpm, port="port 1", names_cued=True, window_ms=window_ms)

    return make


# Calibrations


@settings(max_examples=50, deadline=None)
@given(st.lists(MEASUREMENTS, max_size=4))
def test_measurements_come_back_whole_and_newest_first(measurements) -> None:
    noon = dt.datetime(2026, 11, 25, 12, tzinfo=dt.UTC)
    with tempfile.TemporaryDirectory() as folder, Book.open(Path(folder) / "book.sqlite") as book:
        book.add_player("Ana", created_utc=noon)
        book.add_player("Bo", created_utc=noon)
        for one in measurements:
            book.put_measurement("Ana", one, {"b_periods": 2.0})
        found = book.measurements("Ana")
        assert sorted(found, key=repr) == sorted(measurements, key=repr)
        times = [one.measured_utc for one in found]
        assert times == sorted(times, reverse=True)
        assert book.measurements("Bo") == ()


def test_measurements_from_the_future_are_kept_as_they_are(book, noon) -> None:
    """Which of two clocks is wrong is not the book's to say."""
    late = Measurement(
        CalibrationPart.CLICK, "g", "p", noon + dt.timedelta(days=900), (Reading(-9.0, 40, Place(6, 0)),)
    )
    book.put_measurement("Ana", late)
    assert book.measurements("Ana") == (late,)


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ({"readings": ()}, "without a pluck.*1 pluck or more"),
        ({"readings": (Reading(0.1, 40, Place(6, 0)), Reading(math.nan, 40, Place(6, 0)))}, "pluck 2.*nan s"),
        ({"readings": (Reading(math.inf, 40, Place(6, 0)),)}, "pluck 1.*inf s"),
        ({"readings": (Reading(-1e300, 40, Place(6, 0)),)}, "pluck 1.*-1e.300 s"),
        ({"port": "p" * 256}, "name of the port is too long"),
    ],
)
def test_a_measurement_that_is_none_is_refused(book, noon, change, told) -> None:
    fair = Measurement(CalibrationPart.HANDS, "g", "p", noon, (Reading(0.2, 40, Place(6, 0)),))
    with pytest.raises(BadInput, match=told):
        book.put_measurement("Ana", replace(fair, **change))
    assert book.measurements("Ana") == ()


def test_unknown_players_are_told(book, noon) -> None:
    fair = Measurement(CalibrationPart.HANDS, "g", "p", noon, (Reading(0.2, 40, Place(6, 0)),))
    tempo = OwnedTempoKept("d", noon.date(), "g", 80.0, 76.0, 84.0, 96, 12, "", False)
    for call in (
        lambda: book.put_measurement("Eva", fair),
        lambda: book.measurements("Eva"),
        lambda: book.newest_cued("Eva"),
        lambda: book.recall_by_run("Eva"),
        lambda: book.passes_on("Eva", "d", noon.date(), window_ms=150.0, most_moved=0.0),
        lambda: book.put_owned_tempo("Eva", tempo),
        lambda: book.owned_tempos("Eva"),
        lambda: book.tempo_runs("Eva"),
    ):
        with pytest.raises(BadInput, match=r"no player 'Eva'.*known: Ana"):
            call()


# Recall times


def test_the_newest_answers_to_a_cue(book, start, answer, noon) -> None:
    def run_on(day: int, *given_answers) -> None:
        run = book.start_run(start(started_utc=noon + dt.timedelta(days=day)))
        book.put_answers(run, given_answers)

    named = replace(answer(3), prompt=replace(answer(3).prompt, judged=Judged.NAME))
    uncued = replace(answer(4), prompt=replace(answer(4).prompt, cue=()))
    placeless = replace(answer(5), prompt=replace(answer(5).prompt, places=(Place(1, 0), Place(2, 5))))
    placeless = replace(placeless, verdict=Verdict.WRONG)
    due = replace(answer(6), due_s=60.0, late_ms=3.0, response_s=None)
    run_on(3, answer(1, Place(6, 3)), timed(answer(2, Place(6, 4)), -0.3), named, uncued, placeless, due)
    run_on(1, timed(answer(1, Place(6, 1)), 0.7))  # put later, but of an earlier day
    run_on(4, answer(1, verdict=Verdict.MISSED))
    found = book.newest_cued("Ana")
    assert [(row.day.day, row.right, row.recall and row.recall.time_s) for row in found] == [
        (29, False, None),
        (28, True, -0.3),  # kept as measured
        (28, True, 1.5),
        (26, True, 0.7),
    ]
    assert found[2].recall == Recall(1.5, None, None, RAW)
    assert found[3].recall.caveats == TRAVELLED
    assert all(row.cue == (CueKind.NAME,) for row in found)
    assert book.newest_cued("Ana", most=2) == found[:2]
    assert book.newest_cued("Ana", noon.date() + dt.timedelta(days=3)) == found[:3]


def test_however_many_runs_there_are_the_newest_are_found(book, start, answer, noon, monkeypatch) -> None:
    monkeypatch.setattr("midifret.book.times._RUNS_AT_ONCE", 3)
    for number in range(10):
        run = book.start_run(start(started_utc=noon + dt.timedelta(minutes=number)))
        book.put_answers(run, (answer(1, Place(6, number)), answer(2, Place(5, number))))
    frets = [(row.place.string, row.place.fret) for row in book.newest_cued("Ana", most=13)]
    assert frets == [(string, fret) for fret in range(9, 2, -1) for string in (5, 6)][:13]


TIMES = st.lists(st.tuples(st.sampled_from(["raw", "old", "timed", "uncued", "wrong"]), st.floats(-1, 9)))


@settings(max_examples=40, deadline=None)
@given(TIMES)
def test_a_run_knows_the_median_of_its_recall_times(start, answer, noon, times) -> None:
    """Whatever is kept of its answers; raw times are never mixed with others."""
    with tempfile.TemporaryDirectory() as folder, Book.open(Path(folder) / "book.sqlite") as book:
        book.add_player("Ana", created_utc=noon)
        run = book.start_run(start())
        for n, (kind, time_s) in enumerate(times, start=1):
            one = answer(n, response_s=time_s)
            if kind in ("timed", "wrong"):
                one = timed(one, time_s)
            if kind == "wrong":
                one = replace(one, verdict=Verdict.WRONG)
            if kind == "raw":
                one = timed(one, time_s, RAW)
            if kind == "uncued":
                one = replace(one, prompt=replace(one.prompt, cue=()))
            book.put_answer(run, one)
        freed_s = [time_s for kind, time_s in times if kind == "timed"]
        raw_s = [time_s for kind, time_s in times if kind in ("raw", "old")]
        found = book.recall_by_run("Ana")
        if not times or not (freed_s or raw_s):
            assert found == ()
            return
        (figure,) = found
        assert figure.median_recall_s == statistics.median(freed_s or raw_s)
        assert figure.answers == len(freed_s or raw_s)
        assert figure.cued == sum(kind != "uncued" for kind, _ in times)
        assert figure.caveats == (TRAVELLED if freed_s else RAW)
        book.rebuild()
        assert book.recall_by_run("Ana") == found


def test_recall_follows_answers_withdrawn_and_replaced(book, start, answer) -> None:
    run = book.start_run(start())
    book.put_answers(run, (timed(answer(1), 0.5), timed(answer(2), 0.9)))
    book.put_answer(run, timed(answer(2), 1.1, TRAVELLED | {Caveat.STALE}))
    (figure,) = book.recall_by_run("Ana")
    assert (figure.median_recall_s, figure.caveats) == (0.8, TRAVELLED | {Caveat.STALE})
    book.withdraw_from(run, 2)
    (figure,) = book.recall_by_run("Ana")
    assert (figure.median_recall_s, figure.caveats) == (0.5, TRAVELLED)
    book.withdraw_from(run, 1)
    assert book.recall_by_run("Ana") == ()
    assert book.newest_cued("Ana") == ()


# In tempo


def test_answers_in_tempo_count_for_places_without_a_time(book, in_tempo, answer) -> None:
    run = book.start_run(in_tempo(90.0))
    for n in (1, 2):
        late = replace(answer(n), response_s=None, due_s=10.0 * n, late_ms=4.0)
        book.put_answer(run, late if n == 1 else replace(late, verdict=Verdict.MISSED, late_ms=None))
    (place,) = book.report("Ana").places
    assert (place.answers, place.right, place.median_response_s) == (2, 1, None)
    assert book.recall_by_run("Ana") == ()


def test_passes_of_a_day(book, in_tempo, start, answer, noon) -> None:
    def played(
        begin: RunStart,
        verdicts: str,
        *,
        early: bool = False,
        ended: bool = True,
        moved: float | None = None,
    ) -> None:
        run = book.start_run(begin)
        for n, verdict in enumerate(verdicts, start=1):
            right = Verdict.RIGHT if verdict == "r" else Verdict.MISSED
            book.put_answer(run, replace(answer(n, verdict=right), due_s=10.0 * n, response_s=None))
        if ended:
            book.end_run(run, RunEnd(early, 20.0, None, tempo_moved=moved), ended_utc=noon)

    def passes(drill: str = "rows/row-5", *, days: int = 0, window_ms: float = 150.0) -> object:
        day = noon.date() + dt.timedelta(days=days)
        return book.passes_on("Ana", drill, day, window_ms=window_ms, most_moved=0.025)

    played(in_tempo(80.0), "rrrm")  # of a book that knew neither window nor movement
    played(in_tempo(84.0, window_ms=150.0), "rrrr", moved=0.02)
    played(in_tempo(86.0, window_ms=150.0), "rrr", moved=0.03)
    played(in_tempo(86.0, window_ms=60.0), "mmm", moved=0.0)
    played(in_tempo(88.0), "r", early=True)
    played(in_tempo(88.0), "r", ended=False)
    played(in_tempo(88.0), "")
    played(start(), "rr")  # in free tempo
    played(in_tempo(60.0, drill="other"), "rr")
    played(in_tempo(60.0, started_utc=noon + dt.timedelta(days=1)), "rm")
    assert passes() == ((80.0, 4, 3), (84.0, 4, 4))
    assert passes(window_ms=60.0) == ((80.0, 4, 3), (86.0, 3, 0))
    assert passes(days=1) == ((60.0, 2, 1),)
    assert passes("none") == ()


def test_runs_in_tempo_with_their_lateness(book, in_tempo, start, answer, noon) -> None:
    for minute in range(3):
        run = book.start_run(in_tempo(80.0 + minute, started_utc=noon + dt.timedelta(minutes=minute)))
        early = replace(answer(1), due_s=10.0, late_ms=-20.0 - minute)
        missed = replace(answer(2, verdict=Verdict.MISSED), due_s=11.0)
        book.put_answers(run, (early, missed))
    book.put_answer(book.start_run(start()), answer(1))
    found = book.tempo_runs("Ana", most=2)
    assert [(run.tempo_bpm, run.drill, run.day) for run in found] == [
        (82.0, "rows/row-5", noon.date()),
        (81.0, "rows/row-5", noon.date()),
    ]
    assert found[0].answers == (
        LateAnswer(1, Verdict.RIGHT, 10.0, -22.0),
        LateAnswer(2, Verdict.MISSED, 11.0, None),
    )
    assert book.tempo_runs("Ana", noon.date() + dt.timedelta(days=1)) == ()


def test_an_owned_tempo_a_day_and_drill(book, noon) -> None:
    day = noon.date()
    first = OwnedTempoKept("rows/row-5", day, "default", 80.0, 70.0, 95.0, 40, 5, "faster", False)
    better = replace(first, tempo_bpm=84.0, low_bpm=80.0, high_bpm=88.0, notes=96, passes=12, doubt="")
    next_day = replace(better, day=day + dt.timedelta(days=1), tempo_bpm=86.0)
    other = replace(first, drill="other", names_cued=True)
    for kept in (first, other, better, next_day):
        book.put_owned_tempo("Ana", kept)
    assert book.owned_tempos("Ana") == (other, next_day, better)
    assert book.owned_tempos("Ana", day + dt.timedelta(days=1)) == (next_day,)


@pytest.mark.parametrize(
    "change",
    [
        {"tempo_bpm": math.nan},
        {"tempo_bpm": -80.0, "low_bpm": -90.0},
        {"high_bpm": math.inf},
        {"low_bpm": 0.0},
        {"low_bpm": 81.0},
        {"high_bpm": 79.0},
    ],
)
def test_an_owned_tempo_that_is_none_is_refused(book, noon, change) -> None:
    fair = OwnedTempoKept("d", noon.date(), "default", 80.0, 76.0, 84.0, 96, 12, "", False)
    with pytest.raises(BadInput, match=r"cannot be kept.*finite numbers above 0"):
        book.put_owned_tempo("Ana", replace(fair, **change))
    assert book.owned_tempos("Ana") == ()


# Taking out and away


def test_the_document_of_a_player_holds_them(book, in_tempo, answer, noon) -> None:
    run = book.start_run(in_tempo(80.0))
    recall = Recall(0.6, 0.01, 0.03, TRAVELLED | {Caveat.OTHER_PORT})
    book.put_answer(run, replace(answer(1), recall=recall, late_ms=-4.0, due_s=9.0))
    reading = Reading(-0.02, 40, Place(6, 0), right=False)
    book.put_measurement(
        "Ana",
        Measurement(CalibrationPart.CLICK, "g", "p", noon, (reading,), "c.mid", "midi", ViewKind.STAND),
        {"b_periods": {"value": 2.0}},
    )
    tempo = OwnedTempoKept("rows/row-5", noon.date(), "default", 80.0, 76.0, 84.0, 96, 12, "", True)
    book.put_owned_tempo("Ana", tempo)
    document = json.loads("".join(book.export("Ana")))
    assert document["version"] == 1
    (run_document,) = document["runs"]
    assert (run_document["port"], run_document["tempo_bpm"], run_document["names_cued"]) == (
        "port 1",
        80.0,
        True,
    )
    (one,) = run_document["answers"]
    assert (one["recall_s"], one["recall_shared_s"], one["recall_own_s"]) == (0.6, 0.01, 0.03)
    assert one["recall_flags"] == ["includes travel", "other port"]
    assert (one["due_s"], one["late_ms"], one["interval_s"]) == (9.0, -4.0, None)
    assert document["calibrations"] == [
        {
            "part": "click",
            "guitar": "g",
            "port": "p",
            "click": "midi",
            "measured_utc": "2026-11-25T12:00:00+00:00",
            "take_file": "c.mid",
            "readings": [{"time_s": -0.02, "midi": 40, "string": 6, "fret": 0, "right": False}],
            "result": {"b_periods": {"value": 2.0}},
            "view": "stand",
        }
    ]
    (owned,) = document["owned_tempos"]
    assert (owned["day"], owned["low_bpm"], owned["names_cued"]) == ("2026-11-25", 76.0, True)


def test_deleting_takes_calibrations_too(book, noon, path) -> None:
    book.add_player("Zoe", created_utc=noon)
    fair = Measurement(CalibrationPart.HANDS, "g", "p", noon, (Reading(0.2, 40, Place(6, 0)),), "cal.mid")
    book.put_measurement("Zoe", fair)
    book.put_measurement("Ana", replace(fair, take_file="kept.mid"))
    assert book.delete_player("Zoe").take_files == ("cal.mid",)
    assert book.measurements("Ana")[0].take_file == "kept.mid"
    assert b"cal.mid" not in path.read_bytes()
