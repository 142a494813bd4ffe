"""The stand as a view: what it hands over, and what it makes of what pages tell."""

import dataclasses

import pytest

from midifret.clock import SimulatedClock
from midifret.gear.guitar import Guitar, channel_map
from midifret.neck import Accidentals, Language, Neck, Tuning
from midifret.serve.pages import BUSY, Pages
from midifret.serve.view import MOST_ERROR_S, RELOAD_S, SILENT_S, StandView
from midifret.session.screen import Press, Screen, Stage
from midifret.stand.messages import Begin, Named, Notice, Painted, Pressed, RunScreen
from midifret.stand.screens import Engraved
from midifret.terms import CueKind, Exercise, Judged, Place, Prompt, SpelledPitch, Verdict, Wiring
from midifret.terms.score import Score

from .paging import PAGE_AHEAD_MS, Paging

NECK = Neck(Tuning("standard", "Standard", (64, 59, 55, 50, 45, 40)))
GUITAR = Guitar("g", "G", NECK, Wiring(channel_map(tuple(range(6)))))
PROMPTS = tuple(
    Prompt(n, (CueKind.NAME,), Judged.PLACE, (Place(5, 3),), (48,), SpelledPitch("C", 0, 3))
    for n in range(1, 4)
)
EXERCISE = Exercise("x", "X", "s", "t", (3, 5), Judged.PLACE, PROMPTS)
ASKING = Screen(
    Stage.ASKING, EXERCISE, GUITAR, "Ada", False, Language.ENGLISH, Accidentals.SHARPS, prompt=PROMPTS[0]
)


@pytest.fixture
def clock() -> SimulatedClock:
    return SimulatedClock()


@pytest.fixture
def paging(clock: SimulatedClock) -> Paging:
    made = Paging(clock)
    made.connect()
    return made


@pytest.fixture
def view(paging: Paging, clock: SimulatedClock) -> StandView:
    made = StandView(Pages(paging), clock)
    made.begin()
    return made


def told(paging: Paging) -> list[RunScreen]:
    return [message for message in paging.sent if isinstance(message, RunScreen)]


def test_a_moment_is_told_once(view: StandView, paging: Paging) -> None:
    view.show(ASKING)
    view.show(dataclasses.replace(ASKING, elapsed_s=0.4))  # the clock shows whole seconds
    assert len(told(paging)) == 1
    view.show(dataclasses.replace(ASKING, elapsed_s=1.0))
    assert [screen.clock for screen in told(paging)] == ["0:00", "0:01"]


def test_each_run_has_a_number_and_is_told_from_the_beginning(view: StandView, paging: Paging) -> None:
    view.show(ASKING)
    view.block = "Rows: the fifth fret"
    assert view.begin() == 2
    view.show(ASKING)
    assert [screen.run for screen in told(paging)] == [1, 2]
    assert [screen.block for screen in told(paging)] == ["", "Rows: the fifth fret"]


def test_keys_are_dated_by_the_page(view: StandView, paging: Paging) -> None:
    paging.tell(Pressed(" ", PAGE_AHEAD_MS + 1_250))
    paging.tell(Named("F♯", PAGE_AHEAD_MS + 1_500))
    assert view.presses() == [Press(" ", 1.25), Press("F♯", 1.5, is_name=True)]
    assert view.presses() == []


def test_a_moment_that_is_not_well_known_is_none(view: StandView, paging: Paging) -> None:
    for error_s in (None, MOST_ERROR_S * 1.01):
        paging.error_s = error_s
        paging.tell(Pressed("n", PAGE_AHEAD_MS))
        paging.tell(Painted(1, 1, PAGE_AHEAD_MS, 16.7))
        assert view.presses() == [Press("n", None, sure=False)]
        assert view.painted() == [(1, None)]


@pytest.mark.parametrize("key", ["ctrl-c", "", "F5", "up"])
def test_no_page_presses_what_is_no_key_of_a_run(view: StandView, paging: Paging, key: str) -> None:
    paging.tell(Pressed(key, PAGE_AHEAD_MS))
    assert view.presses() == []


def test_cues_that_appeared(view: StandView, paging: Paging) -> None:
    paging.tell(Painted(1, 1, PAGE_AHEAD_MS + 40, 16.7))
    paging.tell(Painted(1, 2, None, None))
    paging.tell(Painted(7, 1, PAGE_AHEAD_MS + 60, 16.7))  # of another run
    assert view.painted() == [(1, pytest.approx(0.04)), (2, None)]
    assert view.painted() == []


def test_the_page_that_the_player_looks_at_counts(view: StandView, paging: Paging) -> None:
    paging.connect("b")
    paging.tell(Pressed("n", PAGE_AHEAD_MS), "b")
    view.presses()
    paging.tell(Painted(1, 1, PAGE_AHEAD_MS + 10, 16.7), "a")
    paging.tell(Painted(1, 1, PAGE_AHEAD_MS + 50, 16.7), "b")
    assert view.painted() == [(1, pytest.approx(0.05))]
    paging.leave("b")
    paging.tell(Painted(1, 2, PAGE_AHEAD_MS + 90, 16.7), "a")
    assert view.painted() == [(2, pytest.approx(0.09))]


def test_what_was_told_before_a_run_belongs_to_none(view: StandView, paging: Paging) -> None:
    paging.tell(Pressed("q", PAGE_AHEAD_MS))
    view.begin()
    assert view.presses() == []


def test_nothing_else_is_begun_meanwhile(view: StandView, paging: Paging) -> None:
    paging.tell(Begin("drill rows/row-5"))
    assert view.presses() == []
    assert paging.sent_to == [("a", Notice(BUSY, grave=False))]


# --- pages that go --------------------------------------------------------------------------------


def test_a_page_that_closes_is_gone_but_one_that_reloads_is_not(
    view: StandView, paging: Paging, clock: SimulatedClock
) -> None:
    assert view.gone_s is None
    paging.leave()
    closed_s = clock.now_s()
    clock.wait_s(RELOAD_S * 0.9)
    assert view.gone_s is None
    clock.wait_s(RELOAD_S * 0.2)
    assert view.gone_s == closed_s
    paging.connect()
    assert view.gone_s is None


def test_a_page_that_answers_no_more_is_gone_since_its_last_answer(
    view: StandView, paging: Paging, clock: SimulatedClock
) -> None:
    answered_s = paging.pages[0].answered_s
    clock.wait_s(SILENT_S * 0.9)
    assert view.gone_s is None
    clock.wait_s(SILENT_S * 0.2)
    assert view.gone_s == answered_s


def test_one_who_only_watches_keeps_no_run_going(
    view: StandView, paging: Paging, clock: SimulatedClock
) -> None:
    paging.connect("teacher", controls=False)
    assert view.gone_s is None
    paging.leave("a")
    clock.wait_s(RELOAD_S * 1.1)
    assert view.gone_s is not None


# --- readings -------------------------------------------------------------------------------------

READING = dataclasses.replace(ASKING, exercise=dataclasses.replace(EXERCISE, score=Score("T", "", "t", ())))
MUSIC = Engraved(music="music", heads={1: "n1", 2: "n2", 3: "n3"}, lines={1: 0, 2: 0, 3: 0})


def read(*verdicts: tuple[int, Verdict], stage: Stage = Stage.ASKING) -> Screen:
    return dataclasses.replace(READING, verdicts=verdicts, stage=stage)


def marks(screen: RunScreen) -> tuple[bool, list[str]]:
    assert screen.reading is not None
    return screen.reading.whole, [mark.ident for mark in screen.reading.marks]


def test_marks_are_told_as_they_change(view: StandView, paging: Paging) -> None:
    view.begin(MUSIC)
    view.show(read())
    view.show(read((1, Verdict.RIGHT)))
    view.show(read((1, Verdict.RIGHT), (2, Verdict.WRONG)))
    view.show(read((1, Verdict.RIGHT), (2, Verdict.RIGHT), (3, Verdict.RIGHT)))
    assert [marks(screen) for screen in told(paging)] == [
        (True, []),
        (True, ["n1"]),
        (False, ["n2"]),
        (False, ["n2", "n3"]),
    ]


def test_marks_taken_back_and_marks_after_a_pause_are_told_whole(view: StandView, paging: Paging) -> None:
    view.begin(MUSIC)
    view.show(read((1, Verdict.RIGHT), (2, Verdict.WRONG)))
    view.show(read((1, Verdict.RIGHT)))
    assert marks(told(paging)[-1]) == (True, ["n1"])
    view.show(read((1, Verdict.RIGHT), stage=Stage.PAUSED))
    view.show(read((1, Verdict.RIGHT), (2, Verdict.RIGHT)))
    assert marks(told(paging)[-1]) == (True, ["n1", "n2"])
