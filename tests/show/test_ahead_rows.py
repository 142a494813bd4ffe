"""Words of a forecast: plain, with its interval, never a promise; nothing where nothing can be said."""

import datetime as dt
import json

import pytest

from midifret.practice.ahead import Ahead, Outlook, Sooner, StageAhead
from midifret.show.ahead_rows import about_words, ahead_document, ahead_rows, outlook_rows, sooner_words
from midifret.show.rows import plain, width_of

DAY = dt.date(2026, 12, 20)


def after(days):
    return DAY + dt.timedelta(days=days)


def forecast(neck, *stages, minutes=15.0):
    return Ahead(DAY, minutes, 5.9, 5.0, 6, stages, neck)


ROW = StageAhead("row-5", "Row 5", Outlook.DATED, 6, 2, after(6), after(2), after(20), Sooner(1.0, 0.2, 4.0))
HOLDS = StageAhead("row-7", "Row 7", Outlook.HOLDS, 6, 6)
ALL = StageAhead("all-places", "All places", Outlook.DATED, 78, 20, after(30), after(9), None)
NECK = StageAhead(
    "neck", "The whole neck", Outlook.DATED, 78, 20, after(30), after(9), after(90), Sooner(6.0, 1.2, 19.0)
)


def shown(ahead, width=80):
    lines = ahead_rows(ahead, width)
    assert all(width_of(line) <= width for line in lines)
    return " ".join(" ".join(plain(line) for line in lines).split())


def test_days_are_said_with_their_interval_and_no_promise():
    said = shown(forecast(NECK, ROW, HOLDS, ALL))
    assert "At 15 minutes a day on 6 days a week" in said
    assert "Nobody can promise it" in said
    assert "Row 5: between 22 December and 9 January 2027, as likely before as after 26 December." in said
    assert "The whole neck: between 29 December and 20 March 2027" in said
    assert "With 5 minutes more a day it may come 1 to 19 days sooner." in said
    assert "Row 7" not in said  # it holds
    assert "All places" not in said  # the same places as the whole neck
    assert "!" not in said


@pytest.mark.parametrize("width", [20, 40, 50, 80, 200])
def test_it_fits(width):
    lines = ahead_rows(forecast(NECK, ROW, HOLDS, ALL), width)
    assert all(width_of(line) <= max(width, 40) for line in lines)


def test_the_page_has_every_stage():
    rows = dict(outlook_rows(forecast(NECK, ROW, HOLDS, ALL)))
    assert list(rows) == ["Row 5", "Row 7", "The whole neck"]
    assert rows["Row 7"] == "holds now, as far as is known"
    assert rows["The whole neck"].endswith("sooner.")


@pytest.mark.parametrize("outlook", [Outlook.EARLY, Outlook.IDLE])
def test_where_nothing_can_be_said_one_sentence_says_so(outlook):
    neck = StageAhead("neck", "The whole neck", outlook, 78, 0)
    ahead = forecast(neck, StageAhead("row-5", "Row 5", outlook, 6, 0), minutes=0.0)
    assert outlook_rows(ahead) == ()
    said = about_words(ahead)
    assert said[0].isupper()
    assert said.endswith(".")
    assert "promise" not in said
    assert shown(ahead).endswith(said)


def test_far_days_are_not_dated():
    beyond = StageAhead("neck", "The whole neck", Outlook.BEYOND, 78, 3)
    assert "not within 6 months at this rate" in shown(forecast(beyond))
    late = StageAhead("neck", "The whole neck", Outlook.DATED, 78, 3, None, after(100), None)
    assert "not before 30 March 2027, and perhaps not within 6 months" in shown(forecast(late))


@pytest.mark.parametrize(
    ("sooner", "words"),
    [
        (Sooner(0.1, -0.2, 0.3), "it would hardly come sooner"),
        (Sooner(1.0, 0.2, 4.0), "it may come up to 4 days sooner, or no sooner at all"),
        (Sooner(0.5, 0.1, 1.0), "it may come up to 1 day sooner, or no sooner at all"),
    ],
)
def test_more_minutes_are_no_promise_either(sooner, words):
    neck = StageAhead("neck", "The whole neck", Outlook.DATED, 78, 3, after(9), after(3), after(30), sooner)
    assert words in sooner_words(forecast(neck))


def test_the_document_is_plain_and_has_its_units():
    document = ahead_document(forecast(NECK, ROW, HOLDS, ALL))
    assert json.loads(json.dumps(document)) == document
    assert document["neck"]["first_day"] == "2026-12-29"
    assert document["neck"]["sooner"] == {"first_days": 1.2, "middle_days": 6.0, "last_days": 19.0}
    assert [stage["stage"] for stage in document["stages"]] == ["row-5", "row-7", "all-places"]
    assert document["interval"] == 0.9
