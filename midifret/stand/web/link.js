// The link to the program: opened again whenever it is lost, with the exchange that compares the clocks.

import { parsed, SCHEMA } from "./shapes.js";

// Waits between attempts: soon at first, then seldom enough to trouble nobody.
const FIRST_WAIT_MS = 250;
const LONGEST_WAIT_MS = 5000;
// The program sends an exchange of clocks each second or so: after this silence the link is dead, whatever
// the browser says of it (a tablet that slept does not notice).
const SILENCE_MS = 10000;
const MOST_UNREAD = 5;
const NOT_LET_IN = 403;

/** A name of this page, the same over a lost link and a reload of the tab. */
export function viewerName(storage = sessionStorage) {
  try {
    const kept = storage.getItem("viewer");
    if (kept) return kept;
    const made = drawnName();
    storage.setItem("viewer", made);
    return made;
  } catch {
    return drawnName(); // storage is forbidden: a reload then is another viewer
  }
}

function drawnName() {
  const bytes = crypto.getRandomValues(new Uint8Array(12)); // randomUUID wants a secure address
  return Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");
}

/** Keeps a socket open. on: {message, state}; state is told "linked", "lost" or "refused". */
export class Link {
  constructor(address, hello, on) {
    this.address = address;
    this.hello = hello;
    this.on = on;
    this.socket = null;
    this.wait = FIRST_WAIT_MS;
    this.timer = 0;
    this.refused = false;
    this.unread = 0;
    this.heard = 0;
    const atOnce = () => this.wanted();
    addEventListener("online", atOnce);
    addEventListener("pageshow", atOnce);
    document.addEventListener("visibilitychange", () => document.hidden || atOnce());
    setInterval(() => this.listen(), 1000);
  }

  get open() {
    return this.socket !== null && this.socket.readyState === WebSocket.OPEN;
  }

  /** Open the link, unless it is open or was refused. */
  start() {
    clearTimeout(this.timer);
    if (this.refused || this.socket !== null) return;
    let socket;
    try {
      socket = new WebSocket(this.address);
    } catch {
      this.later();
      return;
    }
    this.socket = socket;
    this.heard = performance.now();
    socket.onopen = () => {
      if (socket !== this.socket) return;
      this.heard = performance.now();
      this.tell({ kind: "hello", schema: SCHEMA, ...this.hello() });
    };
    socket.onmessage = (event) => {
      const came_ms = performance.now(); // before anything else
      if (socket === this.socket) this.heardOf(event.data, came_ms);
    };
    socket.onclose = () => {
      if (socket === this.socket) this.gone();
    };
  }

  heardOf(data, came_ms) {
    this.heard = came_ms;
    const message = parsed(data);
    if (message === null) {
      this.unread = Math.min(this.unread + 1, MOST_UNREAD);
      this.on.state("unread");
      return;
    }
    if (message.kind === "sync") {
      this.tell({ kind: "synced", number: message.number, came_ms, went_ms: performance.now() });
      this.on.message(message); // after the answer, which must not wait
      return;
    }
    if (message.kind === "welcome") {
      this.wait = FIRST_WAIT_MS;
      this.on.state("linked");
    }
    if (message.kind === "refused") this.refused = true;
    this.on.message(message);
  }

  gone() {
    this.socket = null;
    if (this.refused) {
      this.on.state("refused");
      return;
    }
    this.on.state("lost");
    this.later();
    this.askWhy();
  }

  /** A browser does not say why a link was refused; a request beside it tells whether this page is let in. */
  async askWhy() {
    let words;
    try {
      const answer = await fetch(import.meta.url, { cache: "no-store", redirect: "manual" });
      if (answer.status !== NOT_LET_IN) return;
      words = (await answer.text()).trim();
    } catch {
      return; // nobody answers: it is tried again
    }
    if (this.open || this.refused) return;
    clearTimeout(this.timer);
    this.refused = true;
    this.on.message({ kind: "refused", words, reload: true });
    this.on.state("refused");
  }

  later() {
    clearTimeout(this.timer);
    // A part of chance, so that several pages do not all come at once after a restart.
    this.timer = setTimeout(() => this.start(), this.wait * (0.75 + Math.random() / 2));
    this.wait = Math.min(this.wait * 2, LONGEST_WAIT_MS);
  }

  /** Somebody looks at the page again: try at once. */
  wanted() {
    if (this.open || this.refused) return;
    if (this.socket !== null && this.socket.readyState === WebSocket.CONNECTING) return;
    this.wait = FIRST_WAIT_MS;
    this.start();
  }

  /** Try again after a refusal. */
  again() {
    this.refused = false;
    this.wanted();
  }

  listen() {
    if (this.socket === null || performance.now() - this.heard < SILENCE_MS) return;
    const socket = this.socket;
    socket.onclose = null;
    socket.close(); // may take long, or never come to an end
    this.gone();
  }

  /** Tell the program something; lost where there is no link, as it will have asked for all anew. */
  tell(message) {
    if (!this.open) return false;
    this.socket.send(JSON.stringify(message));
    return true;
  }
}
