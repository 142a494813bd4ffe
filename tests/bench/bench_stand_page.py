"""The page of the stand in headless Chromium: ready, told to painted, time to draw a moment, memory.

    python -m tests.bench.bench_stand_page

Ready: from the beginning of the navigation to the hall being there, nothing cached. Told to painted: from the
program's sending to the frame that the page names, both on the program's clock. Memory: after garbage was
collected, over many moments of a drill and of a reading, each of them different from the one before.
"""

import argparse
import json
import shutil
from dataclasses import replace
from statistics import median, quantiles
from time import perf_counter
from typing import Any

from playwright.sync_api import sync_playwright

from midifret.stand.messages import NoteMark, Painted, Spot, Told, dump
from tests.stand_page.moments import NAME, hall, music, reading, running, staff_cue, staff_note
from tests.stand_page.scripted import Stand

READY = """
new MutationObserver(() => {
  if (document.body?.dataset.shown === "hall" && !window.ready_ms) window.ready_ms = performance.now();
}).observe(document, {subtree: true, attributes: true, childList: true});
"""
# A socket that is fed by hand, so that no moment is left out as it would be for a page that is behind.
FED = """
window.WebSocket = class {
  static CONNECTING = 0; static OPEN = 1; readyState = 1;
  constructor() { window.fed = this; setTimeout(() => this.onopen(), 0); }
  send() {}
  close() {}
};
"""
FEED = """async (texts) => {
  const took = [];
  for (const text of texts) {
    const from = performance.now();
    window.fed.onmessage({data: text});
    took.push(performance.now() - from);
    if (took.length % 20 === 0) await new Promise(requestAnimationFrame);
  }
  return took;
}"""


def ready(stand: Stand, times: int) -> list[float]:
    """Milliseconds until the hall is there, in a new browser each time."""
    stand.server.send(hall())
    found = []
    for _ in range(times):
        page = stand.page(init=READY)
        page.locator("#hall").wait_for()
        found.append(float(page.evaluate("window.ready_ms")))
        page.context.close()
    return found


def painted(stand: Stand, times: int) -> tuple[list[float], float]:
    """Milliseconds from sending to the frame told, and how long a frame lasts."""
    page = stand.page()
    page.wait_for_timeout(1500)
    (viewer,) = stand.server.viewers
    found = []
    frame_ms = 0.0
    stand.server.send(staff_note())
    for n in range(1, times + 1):
        cue = replace(staff_cue() if n % 2 else NAME, n=n)
        sent_s = perf_counter()
        stand.server.send(running(cue=cue))
        told: Painted = stand.of_kind(page, Painted)
        assert told.painted_ms is not None
        at = stand.server.to_run_s(viewer.ident, told.painted_ms)
        assert at is not None
        found.append((at.time_s - sent_s) * 1000)
        frame_ms = told.frame_ms or frame_ms
        page.wait_for_timeout(20 + n * 7 % 40)  # at any moment of a frame
    page.context.close()
    return found, frame_ms


def texts(first: int, count: int) -> list[str]:
    """Moments of a run, none like the one before; every hundredth begins another stage."""
    made = []
    for number in range(first, first + count):
        if number % 3 == 0:
            n = number % 60 + 2
            shown = reading(n, n % 5, clock=str(number))
            assert shown.reading is not None
            if number % 2:
                mark = NoteMark(music()[1][n], "wrong", "✗")
                shown = replace(shown, reading=replace(shown.reading, marks=(mark,), whole=False))
            made.append(dump(shown))
            continue
        told = Told(number, "right", True, "✓", f"Right. {number}", f"{number} s")
        cue = replace(staff_cue() if number % 2 else NAME, n=number, words=f"cue {number}")
        spots = (Spot(number % 6 + 1, number % 19, "right", "✓"),)
        stage = "paused" if number % 100 == 1 else "asking"
        rows = (f"row {number}",) if stage == "paused" else ()
        made.append(dump(running(cue=cue, told=told, spots=spots, clock=str(number), stage=stage, rows=rows)))
    return made


def memory(stand: Stand, moments: int) -> tuple[list[tuple[int, float, int, int]], list[float]]:
    """(moments so far, heap in MB, nodes, listeners) after each fifth, and milliseconds to draw each."""
    page = stand.page(open_it=False, init=FED)
    page.goto(stand.server.address())
    page.wait_for_timeout(500)
    welcome = {"kind": "welcome", "schema": 1, "version": "1", "controls": True, "language": "en"}
    page.evaluate(FEED, [json.dumps(welcome), dump(staff_note()), dump(music()[0])])
    session = page.context.new_cdp_session(page)
    session.send("HeapProfiler.enable")
    session.send("Performance.enable")
    figures, took = [], []
    step = moments // 5
    page.evaluate(FEED, texts(0, 300))
    for part in range(6):
        if part:
            for at in range((part - 1) * step, part * step, 500):
                took += page.evaluate(FEED, texts(at, min(500, part * step - at)))
        for _ in range(2):
            session.send("HeapProfiler.collectGarbage")
        told = {each["name"]: each["value"] for each in session.send("Performance.getMetrics")["metrics"]}
        figures.append(
            (part * step, told["JSHeapUsedSize"] / 1e6, int(told["Nodes"]), int(told["JSEventListeners"]))
        )
    page.context.close()
    return figures, took


def spread(values: list[float]) -> str:
    """Median and 99th percentile."""
    return f"median {median(values):.1f}, 99% {quantiles(values, n=100)[98]:.1f}, most {max(values):.1f} ms"


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    options.add_argument("--moments", type=int, default=20_000)
    options.add_argument("--cues", type=int, default=200)
    options.add_argument("--pages", type=int, default=20)
    asked = options.parse_args()
    with sync_playwright() as started:
        browser: Any = started.chromium.launch(
            executable_path=shutil.which("chromium"),
            args=["--no-sandbox", "--autoplay-policy=no-user-gesture-required"],
        )
        stand = Stand(browser)
        print(f"ready: {spread(ready(stand, asked.pages))}")
        found, frame_ms = painted(stand, asked.cues)
        frames = [value / frame_ms for value in found]
        print(f"told to painted: {spread(found)}; a frame is {frame_ms:.1f} ms")
        print(f"  in frames: median {median(frames):.2f}, 99% {quantiles(frames, n=100)[98]:.2f}")
        figures, took = memory(stand, asked.moments)
        print(f"a moment drawn (without layout): {spread(took)}")
        for done, heap, nodes, listeners in figures:
            print(f"  after {done:6,}: {heap:.2f} MB, {nodes} nodes, {listeners} listeners")
        print(f"faults: {stand.faults}")
        stand.contexts.clear()
        browser.close()
        stand.server.stop()


if __name__ == "__main__":
    main()
