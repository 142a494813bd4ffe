// The click, played on the audio clock.
//
// A click is to be heard at a time of the page's clock. The browser tells which moment of the audio clock is
// heard at which time of the page (getOutputTimestamp): that contains the delay of the device, as far as the
// browser knows it. Where it tells nothing of use, the moment is reckoned from currentTime and the delays that
// the browser gives. What neither knows, such as a loudspeaker without a cable, stays unknown: the program is
// told what the browser reports, and None where it reports nothing.

// The same tones as those of the program: see wire/sound_track.py. Hz and share of the volume, by strength.
const TONES = [[1400, 0.5], [1800, 0.8], [2400, 1.0]];
const CLICK_S = 0.018;
const ATTACK_S = 0.0005;
const DECAY_S = 0.004;
const FADE_S = 0.003;
// A click so little late is still played at once; more would be heard off the beat [ours].
const LATE_S = 0.005;
const KEPT = 15;
const FARTHEST_MS = 60_000;
const TOLD_ALIKE_MS = 0.5;

/** Whether this browser can play sound so. */
export function canSound() {
  return typeof AudioContext === "function";
}

/** Samples of one click, from -1 to 1. */
export function clickSamples(strength, rate_hz) {
  const [tone_hz, share] = TONES[strength];
  const count = Math.floor(CLICK_S * rate_hz);
  const samples = new Float32Array(count);
  let loudest = 0;
  for (let n = 0; n < count; n++) {
    const at_s = n / rate_hz;
    const rise = Math.min(at_s / ATTACK_S, 1);
    const fade = Math.min((count - 1 - n) / (FADE_S * rate_hz), 1);
    samples[n] = rise * fade * Math.exp(-at_s / DECAY_S) * Math.sin(2 * Math.PI * tone_hz * at_s);
    loudest = Math.max(loudest, Math.abs(samples[n]));
  }
  return samples.map((sample) => (sample * share) / loudest);
}

/** The middle of some numbers. */
function middle(numbers) {
  const sorted = [...numbers].sort((a, b) => a - b);
  return sorted[sorted.length >> 1];
}

/** Plays clicks. tell: {ready, output_latency_ms, late}. changed: called when sound is allowed or no longer. */
export class Sound {
  constructor(tell, changed, make = () => new AudioContext({ latencyHint: "interactive" })) {
    this.tell = tell;
    this.changed = changed;
    this.make = make;
    this.context = null;
    this.failed = !canSound();
    this.planned = new Set();
    this.lags = []; // seconds of the page's clock less those of the audio clock, by what is heard
    this.starts = []; // the same by currentTime
    this.late = 0;
    this.told = "";
  }

  get ready() {
    return this.context !== null && this.context.state === "running";
  }

  /** Open the sound; in most browsers it stays silent until a finger or key allows it. */
  open() {
    if (this.context !== null || this.failed) return;
    try {
      this.context = this.make();
    } catch {
      this.failed = true; // no sound device, or too many pages have one
      return;
    }
    this.volume = this.context.createGain();
    this.volume.connect(this.context.destination);
    this.sounds = TONES.map((_, strength) => {
      const samples = clickSamples(strength, this.context.sampleRate);
      const buffer = this.context.createBuffer(1, samples.length, this.context.sampleRate);
      buffer.copyToChannel(samples, 0);
      return buffer;
    });
    this.context.addEventListener("statechange", () => {
      this.lags = [];
      this.starts = [];
      this.report();
      this.changed();
    });
  }

  /** A finger or key was used: sound may be allowed now. */
  allow() {
    this.open();
    if (this.context !== null && this.context.state !== "running") this.context.resume().catch(() => {});
  }

  /** The delay that the browser reports, in ms; null for none, or 0 as it says just after the beginning. */
  get output_latency_ms() {
    const latency_s = this.context?.outputLatency;
    return typeof latency_s === "number" && latency_s > 0 && latency_s < 10 ? latency_s * 1000 : null;
  }

  /** Note how the clocks stand; to be called each second or so, and before clicks are planned. */
  listen(now_ms = performance.now()) {
    if (!this.ready) return;
    const keep = (list, value) => {
      list.push(value);
      if (list.length > KEPT) list.shift();
    };
    keep(this.starts, now_ms / 1000 - this.context.currentTime);
    const stamp = this.context.getOutputTimestamp?.();
    const valid =
      stamp && stamp.contextTime > 0 && stamp.performanceTime > 0 &&
      Math.abs(now_ms - stamp.performanceTime) < 1000 && stamp.contextTime <= this.context.currentTime + 0.01;
    if (valid) keep(this.lags, stamp.performanceTime / 1000 - stamp.contextTime);
    else this.lags = [];
    this.report();
  }

  /** Which moment of the audio clock is heard at a time of the page's clock. */
  moment(page_ms) {
    if (this.lags.length > 0) return page_ms / 1000 - middle(this.lags);
    // currentTime goes on in steps: the least difference is of a moment just after one.
    const delay_s = (this.output_latency_ms ?? (this.context.baseLatency || 0) * 1000) / 1000;
    return page_ms / 1000 - Math.min(...this.starts) - delay_s;
  }

  /** Take a message with clicks. */
  take(message, now_ms = performance.now()) {
    if (message.forget) this.silence();
    if (message.clicks.length === 0) return;
    this.open();
    if (!this.ready) {
      this.missed(message.clicks.length);
      return;
    }
    this.listen(now_ms);
    this.volume.gain.value = Math.min(Math.max(message.volume, 0), 1);
    let missed = 0;
    for (const [page_ms, strength] of message.clicks) {
      const at_s = this.moment(page_ms);
      const now_s = this.context.currentTime;
      if (at_s < now_s - LATE_S || page_ms > now_ms + FARTHEST_MS) missed += 1; // never a burst of late ones
      else this.plan(Math.max(at_s, 0), this.sounds[strength] ?? this.sounds[1]);
    }
    if (missed > 0) this.missed(missed);
  }

  plan(at_s, buffer) {
    const source = new AudioBufferSourceNode(this.context, { buffer });
    source.connect(this.volume);
    source.onended = () => {
      source.disconnect();
      this.planned.delete(source);
    };
    source.start(at_s);
    this.planned.add(source);
  }

  /** Be silent at once and forget what was planned. */
  silence() {
    for (const source of this.planned) {
      source.onended = null;
      source.stop();
      source.disconnect();
    }
    this.planned.clear();
  }

  missed(count) {
    this.late += count;
    this.report();
  }

  /** Tell the program how the sound goes, where that changed. */
  report() {
    const latency_ms = this.output_latency_ms;
    const rounded = latency_ms === null ? null : Math.round(latency_ms / TOLD_ALIKE_MS) * TOLD_ALIKE_MS;
    const now = JSON.stringify([this.ready, rounded, this.late]);
    if (now === this.told) return;
    if (this.tell({ ready: this.ready, output_latency_ms: latency_ms, late: this.late })) this.told = now;
  }

  /** The program knows nothing of before: tell all again. */
  anew() {
    this.told = "";
    this.report();
  }
}
