"""The report: every figure of the value is in it, within the width, in words, and as a document."""

import dataclasses
import datetime as dt
import io
import json

import pytest
from rich.console import Console

from midifret.show.report import bar, day_words, print_rows, report_document, report_rows
from midifret.show.rows import plain, width_of
from midifret.terms import Place, Verdict
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
    own = {"accuracy", "voided_per_100_notes"}
    assert set(document) == {field.name for field in dataclasses.fields(Report)} | own
    for name, kind in (("days", DayFigure), ("runs", RunFigure)):
        assert set(document[name][0]) == {field.name for field in dataclasses.fields(kind)} | {"accuracy"}
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
