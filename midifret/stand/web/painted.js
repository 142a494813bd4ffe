// When a cue appeared on the page.
//
// What is known. Where the browser has element timing, it says itself when the words of the cue were presented:
// on a screen that is when the system took the picture over. The figure is rounded to 4 ms where the page is not
// isolated, as on another device (seen in Chromium; the draft of the W3C allows it).
// Elsewhere: the browser begins each frame at the beat of the screen and calls requestAnimationFrame with that
// time. A change made before is drawn in that frame, which is ready to be shown from the next beat on. The time
// told is that of the following frame; where that one came late, because the page was busy meanwhile, the drawn
// frame was on its way already, and the time is one usual frame after its beginning.
//
// What is not known: how long system and screen take after that (a compositor may hold a picture back by one more
// frame, a panel answers after some milliseconds, a television after many). Nothing in a browser tells it; the
// calibration of reaction with the same page on the same screen contains it.

const PATIENCE_MS = 500; // no frame for so long: the page is covered, or the browser saves power
// After the frame: element timing is told when the browser has time, some 15 ms later if nothing else is to be done.
// Longer than this would be too late for who reacts quickly; then the frame's time is told.
const ELEMENT_PATIENCE_MS = 100;
const KEPT_FRAMES = 31;

/** Whether the browser says when an element was presented. */
export function hasElementTiming() {
  return typeof PerformanceObserver === "function" && (PerformanceObserver.supportedEntryTypes ?? []).includes("element");
}

/** Tells of each cue once when it appeared. tell: (run, n, painted_ms | null, frame_ms | null). */
export class Painted {
  constructor(tell) {
    this.tell = tell;
    this.open = null;
    this.frames = [];
    this.marks = 0;
    this.elements = hasElementTiming();
    if (this.elements) {
      const observer = new PerformanceObserver((list) => list.getEntries().forEach((entry) => this.presented(entry)));
      observer.observe({ type: "element" });
    }
    document.addEventListener("visibilitychange", () => document.hidden && this.unknown());
  }

  /** A new name for the words of a cue, by which element timing tells of them. */
  mark() {
    this.marks += 1;
    return `cue ${this.marks}`;
  }

  /** How long a frame lasts: the middle of the last ones, null before the first. */
  get frame_ms() {
    if (this.frames.length === 0) return null;
    const sorted = [...this.frames].sort((a, b) => a - b);
    return sorted[sorted.length >> 1];
  }

  /** A cue was put into the page just now. mark: name of its words. */
  appeared(run, n, mark) {
    this.unknown(); // one that was replaced before it was drawn
    const cue = { run, n, mark, presented_ms: null, framed_ms: null };
    this.open = cue;
    if (document.hidden) {
      this.unknown();
      return;
    }
    cue.timer = setTimeout(() => this.open === cue && this.unknown(), PATIENCE_MS);
    requestAnimationFrame((first) => {
      if (this.open !== cue) return;
      requestAnimationFrame((second) => {
        const took = second - first;
        if (took > 0 && took < PATIENCE_MS) this.learn(took);
        if (this.open === cue) this.framed(cue, this.shownAt(first, second));
      });
    });
  }

  shownAt(first, second) {
    const usual = this.frame_ms;
    return usual === null || second - first <= 1.5 * usual ? second : first + usual;
  }

  learn(took_ms) {
    this.frames.push(took_ms);
    if (this.frames.length > KEPT_FRAMES) this.frames.shift();
  }

  framed(cue, time_ms) {
    cue.framed_ms = time_ms;
    if (cue.presented_ms !== null || !this.elements) {
      this.close(cue.presented_ms ?? time_ms);
      return;
    }
    clearTimeout(cue.timer);
    cue.timer = setTimeout(() => this.open === cue && this.close(time_ms), ELEMENT_PATIENCE_MS);
  }

  presented(entry) {
    const cue = this.open;
    if (cue === null || entry.identifier !== cue.mark || !(entry.renderTime > 0)) return;
    cue.presented_ms = entry.renderTime;
    if (cue.framed_ms !== null) this.close(entry.renderTime);
  }

  unknown() {
    if (this.open !== null) this.close(null);
  }

  close(painted_ms) {
    const { run, n, timer } = this.open;
    clearTimeout(timer);
    this.open = null;
    this.tell(run, n, painted_ms, this.frame_ms);
  }
}
