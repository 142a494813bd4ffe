"""What changed since a day: told from chance, and only times with the same things in them compared."""

import datetime as dt
from collections.abc import Mapping, Sequence

from midifret.cli.progress import _times
from midifret.report_page import Progress
from midifret.report_page.change import change_section
from midifret.report_page.parts import Numbers, Picture, Section, Text
from midifret.terms import CueKind, Place
from midifret.terms.calibration import Caveat, Recall
from midifret.terms.figures import CuedRow, PlaceFigure, Report

DAY = dt.date(2026, 11, 19)
A, B, C = Place(6, 5), Place(5, 5), Place(4, 5)


def progress(
    before: Sequence[PlaceFigure],
    since: Sequence[PlaceFigure],
    before_s: Mapping[Place, Sequence[float]] | None = None,
    since_s: Mapping[Place, Sequence[float]] | None = None,
) -> Progress:
    answers = sum(figure.answers for figure in since)
    report = Report("me", False, answers, 0, tuple(since), (), (), ())
    return Progress(
        report,
        None,
        DAY,
        since=DAY,
        earlier=tuple(before),
        times_before_s=before_s or {},
        times_since_s=since_s or {},
    )


def parts(section: Section | None) -> tuple[list[str], list[str], list[Numbers]]:
    """All words, pictures and tables of a section."""
    assert section is not None
    words: list[str] = []
    pictures: list[str] = []
    tables: list[Numbers] = []
    for part in section.parts:
        match part:
            case Text(text):
                words.append(text)
            case Picture(svg):
                pictures.append(svg)
            case Numbers():
                tables.append(part)
            case Section():
                for mine, theirs in zip((words, pictures, tables), parts(part), strict=True):
                    mine += theirs  # type: ignore[arg-type]
    return words, pictures, tables


def test_more_than_chance_is_told_from_chance() -> None:
    """2 of 20 and 18 of 20 differ by any test of shares, 10 and 11 of 20 by none (scipy's fisher_exact gives
    p < 1e-5 and p = 1).
    """
    before = [PlaceFigure(A, 20, 2, None), PlaceFigure(B, 20, 10, None), PlaceFigure(C, 20, 18, None)]
    since = [PlaceFigure(A, 20, 18, None), PlaceFigure(B, 20, 11, None), PlaceFigure(C, 20, 2, None)]
    words, (picture,), _ = parts(change_section(progress(before, since)))
    assert "3 places were asked both before and since: 50% right before, 52% since." in words
    assert any("1 is surer, 1 less sure" in each for each in words)
    for shade, number in ((3, "+80"), (1, "+5"), (0, "−80")):
        assert f'class="on{shade}" x="52" y="' in picture
        assert f">{number}</text>" in picture


def test_times_of_few_answers_are_not_compared() -> None:
    figures = [PlaceFigure(place, 9, 9, None) for place in (A, B)]
    before_s = {A: [2.0, 2.1, 2.2, 2.3, 2.4, 2.5], B: [2.0, 2.1, 2.2, 2.3]}
    since_s = {A: [1.0, 1.1, 1.2, 1.3, 1.4, 1.5], B: [1.0, 1.1, 1.2, 1.3]}
    words, pictures, tables = parts(change_section(progress(figures, figures, before_s, since_s)))
    assert any("Of 1 place with at least 5 times before and since, 1 came sooner" in each for each in words)
    assert ">−1.0</text>" in pictures[1]
    assert tables[-1].rows[1][-2:] == ("2.15 s", "1.15 s")  # the teacher sees them all the same


def test_nothing_in_common_is_told() -> None:
    section = change_section(progress([PlaceFigure(A, 3, 3, None)], [PlaceFigure(B, 3, 3, None)]))
    words, pictures, _ = parts(section)
    assert "nothing can be compared" in words[0]
    assert not pictures


def row(place: Place, time_s: float, *caveats: Caveat) -> CuedRow:
    return CuedRow(place, (CueKind.NAME,), True, time_s, Recall(time_s, 0.0, 0.0, frozenset(caveats)), DAY)


def test_a_calibration_between_is_no_progress() -> None:
    """Before it 0.4 s of reaction and hand are in the times; since then they are not."""
    before = [row(A, 1.4, Caveat.RAW)] * 8
    since = [row(A, 1.0, Caveat.WITH_TRAVEL)] * 8
    assert _times(before, since, 20) == ({}, {})
    assert _times([*before, row(A, 1.1, Caveat.WITH_TRAVEL)], since, 20) == ({A: [1.1]}, {A: [1.0] * 8})
    assert _times(before, [*since, *before], 20) == ({A: [1.4] * 8}, {A: [1.4] * 8})
