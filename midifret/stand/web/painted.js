// When a cue appeared on the page.
//
// What is known: the browser begins each frame at the beat of the screen and calls requestAnimationFrame with
// that time. A change made before is drawn in that frame, which is ready to be shown from the next beat on. The
// time told is therefore that of the following frame. Where that one came late, because the page was busy
// meanwhile, the drawn frame was on its way already, and the time is one usual frame after its beginning.
//
// What is not known: how long the browser, the system and the screen itself take after that beat (a compositor
// may hold a frame back by one more, a panel answers after some milliseconds, a television after many). Nothing
// in a browser tells it; the calibration of reaction with the same page on the same screen contains it.
// Clocks of browsers are coarse on purpose, by 0.1 ms or, in some, 1 ms.
//
// The other figure that browsers offer, element timing, is rounded to 4 ms and comes late; it is not used.

const PATIENCE_MS = 500; // no frame for so long: the page is covered, or the browser saves power
const KEPT_FRAMES = 31;

/** Tells of each cue once when it appeared. tell: (run, n, painted_ms | null, frame_ms | null). */
export class Painted {
  constructor(tell) {
    this.tell = tell;
    this.open = null;
    this.frames = [];
    document.addEventListener("visibilitychange", () => document.hidden && this.unknown());
  }

  /** How long a frame lasts: the middle of the last ones, null before the first. */
  get frame_ms() {
    if (this.frames.length === 0) return null;
    const sorted = [...this.frames].sort((a, b) => a - b);
    return sorted[sorted.length >> 1];
  }

  /** A cue was put into the page just now. */
  appeared(run, n) {
    this.unknown(); // one that was replaced before it was drawn
    const cue = { run, n };
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
        if (this.open === cue) this.close(this.shownAt(first, second));
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
