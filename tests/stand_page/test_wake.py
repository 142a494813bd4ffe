"""The screen is kept awake while something is played, and no longer; where it cannot be, the page says so."""

from typing import Any

from tests.stand_page.moments import hall, moments, running
from tests.stand_page.scripted import Stand

# A lock as browsers give it (Screen Wake Lock, W3C): the system takes it away when the page is hidden.
LOCK = """
window.locks = [];
class Lock extends EventTarget {
  released = false;
  async release() { this.released = true; this.dispatchEvent(new Event("release")); }
}
Object.defineProperty(navigator, "wakeLock", {value: {request: async (kind) => {
  if (kind !== "screen" || document.hidden) throw new Error("no");
  const lock = new Lock();
  window.locks.push(lock);
  return lock;
}}});
"""
HELD = "window.locks.filter((lock) => !lock.released).length"


def held(stand: Stand, page: Any, moment: Any) -> int:
    """How many locks are held a little after a moment was shown."""
    stand.server.send(moment)
    page.wait_for_timeout(120)
    return int(page.evaluate(HELD))


def test_it_is_awake_from_the_check_to_the_end(stand: Stand) -> None:
    page = stand.page(init=LOCK)
    assert held(stand, page, hall()) == 0
    for name in ("checking", "countdown", "name", "paused", "staff"):
        assert held(stand, page, moments()[name]) == 1, name
    assert held(stand, page, moments()["ended"]) == 0
    assert held(stand, page, running(run=2)) == 1
    assert held(stand, page, hall()) == 0


def test_it_is_asked_for_again_when_the_page_is_looked_at_again(stand: Stand) -> None:
    page = stand.page(init=LOCK)
    assert held(stand, page, running()) == 1
    page.evaluate("window.locks[0].release()")  # as the system does when the page is hidden
    assert page.evaluate(HELD) == 0
    page.evaluate("document.dispatchEvent(new Event('visibilitychange'))")
    page.wait_for_timeout(50)
    assert page.evaluate(HELD) == 1


def test_a_browser_that_cannot_says_what_to_do(stand: Stand) -> None:
    stand.server.send(hall())
    words = "tell the device not to sleep"
    able = stand.page(init=LOCK)
    able.locator("#hall").wait_for()
    assert able.get_by_text(words).is_hidden()
    page = stand.page(init="delete Navigator.prototype.wakeLock;")
    page.get_by_text(words).wait_for()
    stand.server.send(running())
    page.locator("#cue").wait_for()  # it goes on all the same
    assert stand.faults == []
