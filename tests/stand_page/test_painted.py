"""When a cue appeared: told once for each, as of the frame in which it did, or not at all."""

from dataclasses import replace
from time import perf_counter
from typing import Any

from midifret.stand.messages import Painted
from tests.stand_page.moments import NAME, PAUSED, WAITS, running, staff_cue, staff_note
from tests.stand_page.scripted import Stand

# Notes of each frame what it shows: the words of the cue that are in the page when the frame begins.
WATCH = """
window.frames_seen = [];
const watch = (at) => {
  const cue = document.getElementById("cue-words");
  window.frames_seen.push([at, cue === null || cue.closest("[hidden]") ? "" : cue.textContent]);
  requestAnimationFrame(watch);
};
requestAnimationFrame(watch);
"""
# What the browser itself says of the words of each cue.
PRESENTED = """
window.presented = {};
new PerformanceObserver((list) => {
  for (const entry of list.getEntries()) window.presented[entry.element.textContent] = entry.renderTime;
}).observe({type: "element"});
"""
NO_ELEMENTS = "Object.defineProperty(PerformanceObserver, 'supportedEntryTypes', {get: () => ['mark']});"


def cue(n: int) -> Any:
    """The n-th cue."""
    return replace(NAME, n=n, words=f"cue {n}")


def told(stand: Stand, page: Any, **changes: Any) -> Painted:
    stand.server.send(running(**changes))
    painted = stand.of_kind(page, Painted)
    assert isinstance(painted, Painted)
    return painted


def test_it_is_when_the_browser_says_it_was_presented(stand: Stand) -> None:
    """Element Timing, W3C draft: renderTime of the element that holds the words."""
    page = stand.page(init=PRESENTED)
    found = [told(stand, page, cue=cue(n)) for n in range(1, 31)]
    presented = page.evaluate("window.presented")
    off = [painted.painted_ms - presented[f"cue {n}"] for n, painted in enumerate(found, 1)]
    # A browser that has no time to tell of it, on a busy machine, leaves the frame's time.
    assert sum(each == 0 for each in off) >= 20
    assert max(map(abs, off)) < 50
    stand.server.send(staff_note())
    told(stand, page, cue=replace(staff_cue(), words="", n=31))  # a staff and no word
    page.wait_for_timeout(200)
    assert page.evaluate("window.presented['\\u00a0']") > 0


def test_without_element_timing_it_is_the_frame_after_the_one_begun_with_the_cue(stand: Stand) -> None:
    page = stand.page(init=WATCH + NO_ELEMENTS)
    figures = []
    for n in range(1, 31):
        painted = told(stand, page, cue=cue(n))
        assert (painted.run, painted.n) == (1, n)
        assert painted.painted_ms is not None
        figures.append(painted)
        page.wait_for_timeout(30)
    frames = page.evaluate("window.frames_seen")
    off = []
    for painted in figures:
        first = next(at for at, (_, words) in enumerate(frames) if words == f"cue {painted.n}")
        off.append(painted.painted_ms - frames[first + 1][0])
    frame_ms = figures[-1].frame_ms
    assert frame_ms is not None
    assert 1 < frame_ms < 100
    # Where a frame came late the time is that of the one before and a usual frame: never later.
    assert max(off) < 1.0
    assert sorted(off)[len(off) // 2] == 0


def test_it_lies_between_what_was_told_and_what_came_back(stand: Stand) -> None:
    page = stand.page()
    page.wait_for_timeout(700)  # until the clocks are known
    (viewer,) = stand.server.viewers
    for n in range(1, 6):
        before_s = perf_counter()
        painted = told(stand, page, cue=cue(n))
        after_s = perf_counter()
        assert painted.painted_ms is not None
        found = stand.server.to_run_s(viewer.ident, painted.painted_ms)
        assert found is not None
        assert before_s - found.error_s < found.time_s < after_s + found.error_s


def test_a_cue_is_told_once_while_it_stays(stand: Stand) -> None:
    page = stand.page()
    told(stand, page, cue=cue(1))
    for second in range(5):
        stand.server.send(running(cue=cue(1), clock=f"0:0{second}", typed="g"))
        page.wait_for_timeout(30)
    assert stand.told_of(page, Painted) == []


def test_a_cue_that_comes_back_after_a_pause_is_told_again(stand: Stand) -> None:
    page = stand.page()
    first = told(stand, page, cue=cue(1))
    stand.server.send(running(cue=None, stage="paused", buttons=PAUSED))
    page.get_by_role("heading", name="Paused").wait_for()
    second = told(stand, page, cue=cue(1))
    assert second.n == first.n
    assert second.painted_ms > first.painted_ms  # type: ignore[operator]


def test_nothing_is_told_while_it_waits_for_its_cue(stand: Stand) -> None:
    page = stand.page()
    stand.server.send(running(cue=WAITS, told=None, spots=()))
    page.locator("#cue-words", has_text="Wait for it.").wait_for()
    assert stand.told_of(page, Painted) == []
    assert told(stand, page, cue=cue(12)).n == 12


def test_the_same_number_of_another_run_is_another_cue(stand: Stand) -> None:
    page = stand.page()
    assert told(stand, page, cue=cue(1), run=1).run == 1
    assert told(stand, page, cue=cue(1), run=2).run == 2


def test_a_staff_is_there_when_it_is_told(stand: Stand) -> None:
    page = stand.page()
    stand.server.send(staff_note())
    assert told(stand, page, cue=staff_cue()).painted_ms is not None
    assert page.locator("#cue-large svg use").count() >= 3  # clef, sharp, head


def test_nobody_can_tell_in_a_hidden_page(stand: Stand) -> None:
    hide = "Object.defineProperty(document, 'hidden', {get: () => window.hides === true});"
    page = stand.page(init=hide)
    page.evaluate("window.hides = true")
    assert told(stand, page, cue=cue(1)).painted_ms is None
    page.evaluate("window.hides = false")
    assert told(stand, page, cue=cue(2)).painted_ms is not None


def test_nobody_can_tell_where_no_frames_are_drawn(stand: Stand) -> None:
    page = stand.page(init="window.requestAnimationFrame = () => 0;")
    assert told(stand, page, cue=cue(1)).painted_ms is None


def test_a_cue_that_was_replaced_before_it_was_drawn_has_no_time(stand: Stand) -> None:
    slow = (
        "const real = requestAnimationFrame;"
        "window.requestAnimationFrame = (work) => setTimeout(() => real(work), 150);"
    )
    page = stand.page(init=slow)
    stand.server.send(running(cue=cue(1)))
    page.locator("#cue-words", has_text="cue 1").wait_for()
    stand.server.send(running(cue=cue(2)))
    first, second = stand.of_kind(page, Painted), stand.of_kind(page, Painted)
    assert (first.n, first.painted_ms) == (1, None)
    assert second.n == 2
    assert second.painted_ms is not None
