"""The report: every figure of the value is in it, within the width, in words, and as a document."""

import dataclasses
import datetime as dt
import io
import json

import pytest
from rich.console import Console

from midifret.show.report import bar, day_words, print_rows, report_document, report_rows
from midifret.show.rows import plain, width_of
from midifret.show.time_document import time_document
from midifret.terms import Glitch, Place, Verdict
from midifret.terms.calibration import Caveat
from midifret.terms.figures import DayFigure, PlaceFigure, Report, RunFigure

ZONE = dt.timezone(dt.timedelta(hours=1))
REPORT = Report(
    "Anna",
    False,
    1234,
    1050,
    tuple(PlaceFigure(Place(s, f), 10, 10 - f % 4, 0.8 + f / 10) for s in range(1, 7) for f in range(13)),
    tuple(
        DayFigure(dt.date(2026, 11, 1) + dt.timedelta(days=i), 60, 30 + i, 1.5 - i / 50, 0.4 + i)
        for i in range(20)
    ),
    tuple(
        RunFigure(
            30 - i,
            dt.datetime(2026, 11, 24 - i, 18, 5, tzinfo=ZONE),
            "open/naturals",
            "Open position: the naturals in order, up and back again",
            17,
            17 - i,
            0.8,
            (True, False, None)[i % 3],
            i == 4,
        )
        for i in range(10)
    ),
    ((Verdict.RIGHT, 1050), (Verdict.ELSEWHERE, 24), (Verdict.FRET_OFF, 100), (Verdict.WRONG, 60)),
)
EMPTY = Report("me", False, 0, 0, (), (), (), ())


def text(report: Report, width: int = 80, days: int | None = None) -> str:
    return "\n".join(plain(line) for line in report_rows(report, width, days=days))


@pytest.mark.parametrize("width", [60, 80, 100, 200])
@pytest.mark.parametrize("report", [REPORT, EMPTY])
def test_it_fits_the_width(report: Report, width: int) -> None:
    assert max(width_of(line) for line in report_rows(report, width)) <= width


def test_what_a_student_reads() -> None:
    shown = text(REPORT)
    for part in (
        "Anna: 1,234 answers, 85% right at the first try",
        "Right at the first try, in per cent",
        "Median time of the right answers, in seconds",
        "Fri 20 Nov",
        "19 min",
        "24 Nov 18:05",
        "17/17",
        "gate met",
        "gate not yet",
        "ended early",
        "one fret off",
        "string right; find the nearest landmark",
    ):
        assert part in shown
    assert "simulated" not in shown


def test_days_are_shown_oldest_first_and_no_more_than_fit() -> None:
    shown = [line for line in text(REPORT).splitlines() if " Nov " in line and "answers" in line]
    assert len(shown) == 14
    assert shown[0].split()[1] == "7"
    assert shown[-1].split()[1] == "20"
    assert "Day by day, the last 14 with practice" in text(REPORT)


def test_mistakes_are_shown_by_number_the_most_frequent_first() -> None:
    shown = text(REPORT)
    assert shown.index("one fret off") < shown.index("wrong note") < shown.index("right note, other place")


def test_a_simulated_player_is_marked() -> None:
    assert "(simulated player)" in text(dataclasses.replace(REPORT, simulated=True))


def test_an_empty_book_says_what_to_do() -> None:
    shown = text(EMPTY)
    assert "nothing in this practice book yet" in shown
    assert "midifret drill" in shown
    assert "midifret demo" in shown
    assert "last 7 days" in text(EMPTY, days=7)


def test_the_document_has_every_figure() -> None:
    document = json.loads(json.dumps(report_document(REPORT), allow_nan=False))
    own = {"accuracy", "voided_per_100_notes"} | set(time_document(None))
    assert set(document) == {field.name for field in dataclasses.fields(Report)} | own
    for name, kind in (("days", DayFigure), ("runs", RunFigure)):
        fields = {field.name.replace("_caveats", "_flags") for field in dataclasses.fields(kind)}
        assert set(document[name][0]) == fields | {"accuracy"}
    assert len(document["places"]) == 78
    assert document["places"][0] == {
        "string": 1,
        "fret": 0,
        "answers": 10,
        "right": 10,
        "accuracy": 1.0,
        "median_response_s": 0.8,
    }
    assert document["runs"][0]["started"] == "2026-11-24T18:05:00+01:00"
    assert document["days"][0]["day"] == "2026-11-01"
    assert document["by_verdict"]["fret-off"] == 100
    assert report_document(EMPTY)["accuracy"] == 0.0


def test_a_run_in_tempo_shows_its_tempo_and_one_with_a_recall_time_its_flags() -> None:
    in_tempo = dataclasses.replace(REPORT.runs[0], tempo_bpm=92.0, median_response_s=None)
    freed = dataclasses.replace(
        REPORT.runs[1],
        median_recall_s=0.41236,
        recall_caveats=frozenset({Caveat.OTHER_PORT, Caveat.WITH_TRAVEL}),
    )
    report = dataclasses.replace(REPORT, runs=(in_tempo, freed))
    assert "92 bpm" in text(report)
    first, second = report_document(report)["runs"]
    assert (first["tempo_bpm"], first["median_recall_s"], first["recall_flags"]) == (92.0, None, [])
    assert (second["median_recall_s"], second["recall_flags"]) == (0.4124, ["includes travel", "other port"])


def test_places_without_a_time_have_no_map_of_times() -> None:
    """As where all was played on a beat."""
    places = tuple(dataclasses.replace(figure, median_response_s=None) for figure in REPORT.places)
    assert "Median time of the right answers" in text(REPORT)
    assert "Median time of the right answers" not in text(dataclasses.replace(REPORT, places=places))


def test_bars_are_empty_and_full_only_where_it_is_so() -> None:
    assert bar(0, 4) == "░░░░"
    assert bar(1, 4) == "████"
    assert bar(0.001, 4) == "█░░░"
    assert bar(0.999, 4) == "███░"
    assert bar(0.5, 4) == "██░░"


def test_days_by_name() -> None:
    # 2026-11-25 is a Wednesday (datetime.date.isoweekday).
    assert day_words(dt.date(2026, 11, 25)) == "Wed 25 Nov"


def test_printed_without_colour_and_in_ascii(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("NO_COLOR", "1")
    raw = io.BytesIO()
    out = io.TextIOWrapper(raw, encoding="ascii", errors="strict", write_through=True)
    print_rows(Console(file=out, width=80), report_rows(REPORT, 80))
    lines = raw.getvalue().decode("ascii").splitlines()
    assert max(map(len, lines)) <= 80
    assert "\x1b" not in raw.getvalue().decode("ascii")
    assert any("#" in line for line in lines)


def test_control_codes_in_names_are_taken_out() -> None:
    nasty = dataclasses.replace(REPORT, player="A\x1b[2Jb")
    assert "\x1b" not in text(nasty)


def with_glitches(*runs: tuple[int | None, tuple[tuple[Glitch, int], ...]], notes: int = 1000) -> Report:
    """The report with so many notes and glitches in its last runs, newest first."""
    return dataclasses.replace(
        REPORT,
        notes=notes,
        voided=((Glitch.FALSE_HARMONIC, 1200), (Glitch.LIFT_OFF, 30)),
        runs=tuple(
            dataclasses.replace(REPORT.runs[i], notes=heard, voided=voided)
            for i, (heard, voided) in enumerate(runs)
        ),
    )


def test_without_glitches_nothing_is_said_of_them() -> None:
    assert "Left out" not in text(REPORT)
    assert "by pitch" not in text(REPORT)
    assert report_document(REPORT)["voided"] == {}
    assert report_document(REPORT)["voided_per_100_notes"] is None


def test_glitches_are_told_by_kind_and_for_every_100_notes() -> None:
    shown = " ".join(text(with_glitches((100, ()))).split())
    assert "the converter's doing: 1,230 notes, 123 for every 100" in shown
    assert "false harmonic 1,200" in shown
    assert "lift-off 30" in shown
    document = report_document(with_glitches((100, ((Glitch.LIFT_OFF, 4),)), (None, ())))
    assert document["voided"] == {"false harmonic": 1200, "lift-off": 30}
    assert (document["notes"], document["voided_per_100_notes"]) == (1000, 123.0)
    assert [(run["notes"], run["voided"]) for run in document["runs"]] == [(100, {"lift-off": 4}), (None, {})]


def test_setting_up_is_advised_by_the_last_runs_alone() -> None:
    """All the time before would go on advising it after it was done."""
    many, few = ((Glitch.LIFT_OFF, 30),), ((Glitch.LIFT_OFF, 2),)
    assert "midifret setup" in text(with_glitches((50, many), (50, few)))
    assert "32 for every 100 notes played" in text(with_glitches((50, many), (50, few)))
    assert "midifret setup" not in text(with_glitches((50, few), (50, few)))
    assert "midifret setup" not in text(with_glitches((100, ((Glitch.PASSED, 90),))))  # slides
    assert "midifret setup" not in text(with_glitches((None, ()), (None, ())))


def test_answers_by_pitch_alone_are_told() -> None:
    told = dataclasses.replace(REPORT, answers_by_pitch=17)
    assert "17 answers judged by pitch alone: the guitar tells no strings." in text(told)
    assert report_document(told)["answers_by_pitch"] == 17


@pytest.mark.parametrize("width", [60, 80])
def test_every_kind_of_glitch_at_once_fits(width: int) -> None:
    every = tuple((glitch, 123_456) for glitch in Glitch)
    shown = report_rows(dataclasses.replace(REPORT, voided=every, notes=1), width)
    assert max(width_of(line) for line in shown) <= width
    if width == 80:
        assert all(glitch.value in " ".join(plain(line) for line in shown) for glitch in Glitch)
