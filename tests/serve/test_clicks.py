"""The click on a page: planned on its clock, silenced, and what is said where it cannot be heard."""

import pytest

from midifret.clock import SimulatedClock
from midifret.serve.clicks import (
    AHEAD_S,
    NO_CLOCK,
    NO_LATENCY,
    NO_PAGE,
    NO_SOUND,
    NOT_READY,
    StandClick,
)
from midifret.serve.pages import Pages
from midifret.stand.messages import Clicks, Sounding
from midifret.tempo import Click
from midifret.tempo.beats import ClickKind

from .paging import PAGE_AHEAD_MS, Paging


@pytest.fixture
def paging() -> Paging:
    made = Paging(SimulatedClock())
    made.connect()
    made.tell(Sounding(ready=True, output_latency_ms=32.0, late=0))
    return made


@pytest.fixture
def pages(paging: Paging) -> Pages:
    made = Pages(paging)
    made.look()
    return made


@pytest.fixture
def click(pages: Pages) -> StandClick:
    return StandClick(pages, volume_percent=20)


BAR, BEAT, PART = (
    Click(0.3, ClickKind.BAR, -1, 0),
    Click(0.8, ClickKind.BEAT, 0, 0),
    Click(5.0, ClickKind.SUBDIVISION, 1, 1),
)


def told(paging: Paging) -> list[tuple[str, Clicks]]:
    return [(viewer, message) for viewer, message in paging.sent_to if isinstance(message, Clicks)]


def test_clicks_that_come_soon_go_to_the_page_on_its_clock(click: StandClick, paging: Paging) -> None:
    click.plan([BAR, BEAT, PART])
    click.due(0.0)
    click.due(0.001)
    assert told(paging) == [("a", Clicks(((PAGE_AHEAD_MS + 300, 2), (PAGE_AHEAD_MS + 800, 1)), 0.2))]
    click.due(5.0 - AHEAD_S)
    assert told(paging)[1:] == [("a", Clicks(((PAGE_AHEAD_MS + 5000, 0),), 0.2))]
    assert click.trouble == ""
    assert (click.figures().sent, click.figures().output_latency_ms) == (3, 32.0)


def test_stopping_silences_the_page_and_forgets(click: StandClick, paging: Paging) -> None:
    click.plan([BAR, PART])
    click.due(0.0)
    click.stop()
    click.due(5.0)
    click.stop()
    assert told(paging)[1:] == [("a", Clicks((), 0.2, forget=True))]


def test_a_click_that_comes_too_late_is_left_out(click: StandClick, paging: Paging) -> None:
    click.plan([BAR, BEAT])
    click.due(0.7)
    assert told(paging) == [("a", Clicks(((PAGE_AHEAD_MS + 800, 1),), 0.2))]
    assert (click.figures().sent, click.figures().skipped) == (1, 1)


def test_what_the_page_played_too_late_is_counted(click: StandClick, paging: Paging, pages: Pages) -> None:
    click.plan([BAR])
    click.due(0.0)
    paging.tell(Sounding(ready=True, output_latency_ms=32.0, late=2))
    pages.look()
    assert click.figures().skipped == 2


def test_the_page_that_goes_on_clicks_alone(click: StandClick, paging: Paging) -> None:
    click.plan([BAR])
    click.due(0.0)
    paging.connect("b")
    paging.leave("a")
    click.plan([BEAT])
    click.due(0.1)
    assert told(paging)[1:] == [
        ("a", Clicks((), 0.2, forget=True)),
        ("b", Clicks(((PAGE_AHEAD_MS + 800, 1),), 0.2)),
    ]


def test_what_is_said_where_no_click_can_be_heard(click: StandClick, paging: Paging, pages: Pages) -> None:
    click.due(0.0)
    assert click.trouble == ""
    paging.error_s = None
    click.due(0.1)
    assert click.trouble == NO_CLOCK
    paging.error_s = 0.001
    paging.tell(Sounding(ready=False, output_latency_ms=None, late=0))
    pages.look()
    click.due(0.2)
    assert click.trouble == NOT_READY
    paging.leave()
    click.due(0.3)
    assert click.trouble == NO_PAGE
    paging.connect("old", sounds=False)
    click.due(0.4)
    assert click.trouble == NO_SOUND


def test_a_browser_that_never_tells_its_latency(click: StandClick, paging: Paging, pages: Pages) -> None:
    paging.tell(Sounding(ready=True, output_latency_ms=None, late=0))
    pages.look()
    click.due(0.0)
    assert click.trouble == ""  # none tells it just after the sound was opened
    click.due(3.5)
    assert click.trouble == NO_LATENCY
    assert click.figures().output_latency_ms is None


def test_without_a_page_clicks_are_counted_as_left_out(click: StandClick, paging: Paging) -> None:
    paging.leave()
    click.plan([BAR])
    click.due(0.0)
    assert (click.figures().sent, click.figures().skipped) == (0, 1)
