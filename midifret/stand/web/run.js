// One moment of a run: it is complete in itself, and only what changed is drawn anew.

import { byId, make, setText, show, showText, whenNew } from "./dom.js";
import { CueView } from "./cue.js";
import { MusicView } from "./music.js";
import { NeckView } from "./neck.js";
import { onPress } from "./keys.js";
import { say, sayNow } from "./say.js";

const TITLES = {
  checking: "Pluck the open strings", countdown: "Ready?", asking: "", paused: "Paused", ended: "",
};
const KEY_WORDS = { " ": "space", tab: "→", backspace: "⌫", escape: "esc" };
const MOST_DOTS = 12;

/** The words of a stage as a heading and the lines below it; the heading is not said again in them. */
export function headed(stage, rows) {
  const title = TITLES[stage];
  const [first = "", ...rest] = rows;
  if (title === "") return [first.replace(/\.$/, ""), rest];
  const more = first.startsWith(`${title}.`) ? first.slice(title.length + 1).trim() : first;
  return [title, more === "" ? rest : [more, ...rest]];
}

export class RunView {
  /** tell: sends a message. painted: told where a cue appeared. */
  constructor(engravings, tell, painted) {
    this.cue = new CueView(engravings);
    this.music = new MusicView(engravings);
    this.neck = new NeckView();
    this.tell = tell;
    this.painted = painted;
    this.cueOn = ""; // run and number of the cue that is to be seen
    this.mark = "";
    this.said = { cue: "", told: "", stage: "", message: "" };
  }

  /** Nothing of a run is shown any longer. */
  away() {
    this.cueOn = "";
    this.said = { cue: "", told: "", stage: "", message: "" };
    this.music.forget();
  }

  render(screen, controls) {
    const asking = screen.stage === "asking";
    const reading = screen.reading ?? null;
    byId("run").dataset.stage = screen.stage;
    byId("run").classList.toggle("reads", reading !== null);
    byId("run").classList.toggle("asks-name", controls && screen.naming.length > 0);
    const cue = asking ? screen.cue ?? null : null;
    const appears = this.appears(screen, cue);
    this.cue.render(cue, screen.typed, this.mark);
    this.music.render(reading);
    this.head(screen);
    this.words(screen, asking);
    this.verdict(screen.told ?? null, asking);
    this.neck.render(screen, asking && reading === null);
    whenNew(byId("naming"), "all", [screen.naming, controls], () => this.naming(screen.naming, controls));
    whenNew(byId("buttons"), "all", [screen.buttons, controls], () => this.buttons(screen.buttons, controls));
    this.speak(screen, cue);
    if (appears) this.painted.appeared(screen.run, cue.n, this.mark);
  }

  /** Whether a cue is to be seen that was not before: also one that comes again after a pause. */
  appears(screen, cue) {
    const now = cue === null || cue.waits ? "" : `${screen.run} ${cue.n}`;
    if (now === this.cueOn) return false;
    this.cueOn = now;
    this.mark = this.painted.mark();
    return now !== "";
  }

  head(screen) {
    setText(byId("run-title"), screen.title);
    showText(byId("run-block"), screen.block);
    const [done, all] = screen.progress;
    showText(byId("run-clock"), screen.clock);
    const judges = typeof screen.right === "number"; // between the blocks of a practice nothing is
    const blocks = screen.counted === "blocks";
    const counted = all > 0 ? `${done} of ${all}${blocks ? " blocks done" : ""}` : `${done}`;
    showText(byId("run-count"), judges || all > 0 ? counted : "");
    showText(byId("run-right"), judges ? `${screen.right} right` : "");
    const bar = byId("run-bar");
    show(bar, judges || all > 0);
    bar.setAttribute("aria-label", blocks ? "Blocks done" : "Prompts done");
    const most = Math.max(all, 1);
    if (bar.max !== most) bar.max = most;
    const value = Math.min(Math.max(done, 0), most);
    if (bar.value !== value) bar.value = value;
    showText(byId("run-message"), screen.message);
    const beat = screen.beat ?? null;
    show(byId("beat"), beat !== null);
    if (beat !== null) this.beat(beat);
  }

  beat(beat) {
    const place = byId("beat");
    const dots = beat.a_bar >= 1 && beat.a_bar <= MOST_DOTS ? beat.a_bar : 0;
    whenNew(place, "dots", dots, () => {
      const row = make("span", { class: "dots", "aria-hidden": "true" });
      for (let number = 1; number <= dots; number++) row.append(make("span", { class: "dot" }, String(number)));
      const counts = make("span", { class: "counts", "aria-hidden": "true" });
      place.replaceChildren(row, counts, make("span", { class: "bpm" }));
    });
    whenNew(place, "now", [dots, beat.number, beat.struck], () => {
      [...place.querySelectorAll(".dot")].forEach((dot, at) => {
        dot.classList.toggle("now", at + 1 === beat.number);
        dot.classList.toggle("struck", at + 1 === beat.number && beat.struck);
      });
    });
    const number = dots === 0 ? `${beat.number}` : ""; // too many for dots
    setText(place.querySelector(".counts"), beat.counts_in > 0 ? `in ${beat.counts_in}` : number);
    setText(place.querySelector(".bpm"), `${Math.round(beat.tempo_bpm)} bpm`);
  }

  words(screen, asking) {
    const place = byId("words");
    show(place, !asking);
    if (asking) return;
    const [title, lines] = headed(screen.stage, screen.rows);
    showText(byId("words-title"), title);
    const counts = screen.count !== null && screen.count !== undefined;
    showText(byId("words-count"), counts ? String(screen.count) : "");
    whenNew(place, "rows", lines, () => {
      byId("words-rows").replaceChildren(...lines.map((line) => make("li", {}, line)));
    });
    show(byId("words-rows"), lines.length > 0);
  }

  /** asking: the room for it is kept, so that nothing jumps when it comes. */
  verdict(told, asking) {
    const place = byId("verdict");
    show(place, told !== null || asking);
    place.classList.toggle("none", told === null);
    if (told === null) return;
    place.dataset.looks = told.right ? "right" : told.sign === "○" ? "other" : "wrong";
    setText(byId("verdict-sign"), told.sign);
    setText(byId("verdict-words"), told.words);
    setText(byId("verdict-time"), told.time);
  }

  naming(rows, controls) {
    const place = byId("naming");
    show(place, controls && rows.length > 0);
    const focus = place.contains(document.activeElement) ? document.activeElement.textContent : null;
    place.replaceChildren(...rows.map((row) => {
      const line = make("div", { class: "names" });
      for (const name of row) {
        const button = make("button", { type: "button", class: "note-name" }, name);
        onPress(button, (pressed_ms) => this.tell({ kind: "named", name, pressed_ms }));
        line.append(button);
      }
      return line;
    }));
    if (focus !== null) refocus(place, (button) => button.textContent === focus);
  }

  buttons(buttons, controls) {
    const place = byId("buttons");
    show(place, controls && buttons.length > 0);
    const focus = place.contains(document.activeElement) ? document.activeElement.dataset.key : null;
    place.replaceChildren(...buttons.map(({ key, words }) => {
      const button = make("button", { type: "button" }, make("span", {}, words));
      button.dataset.key = key;
      button.append(" ", make("kbd", { "aria-hidden": "true" }, KEY_WORDS[key] ?? key));
      onPress(button, (pressed_ms) => this.tell({ kind: "pressed", key, pressed_ms }));
      return button;
    }));
    if (focus !== null) refocus(place, (button) => button.dataset.key === focus);
  }

  /** What is said aloud: each moment once, verdict before cue; notes that go by in tempo are not. */
  speak(screen, cue) {
    const { said } = this;
    const told = screen.told ?? null;
    const inTempo = (screen.beat ?? null) !== null;
    const reads = (screen.reading ?? null) !== null;
    const nowTold = told === null ? "" : `${screen.run} ${told.n} ${told.verdict} ${told.words}`;
    if (nowTold !== said.told) {
      said.told = nowTold;
      if (told !== null && !inTempo && !(reads && told.right)) say(told.words);
    }
    const nowCue = cue === null ? "" : `${screen.run} ${cue.n} ${cue.words}`;
    if (nowCue !== said.cue) {
      said.cue = nowCue;
      if (cue !== null && !inTempo) say(this.cue.spoken(cue));
    }
    const nowStage = `${screen.run} ${screen.stage}`;
    if (nowStage !== said.stage) {
      said.stage = nowStage;
      if (screen.stage !== "asking") say(spokenWords(screen));
    }
    if (screen.message !== said.message) {
      said.message = screen.message;
      if (screen.message !== "") sayNow(screen.message);
    }
  }
}

function spokenWords(screen) {
  const [title, lines] = headed(screen.stage, screen.rows);
  const said = [title, ...lines].filter((line) => line !== "");
  return said.map((line) => (/[.?!:]$/.test(line) ? line : `${line}.`)).join(" ");
}

/** Keep the focus on the button that does the same, or on the first there is. */
function refocus(place, alike) {
  const buttons = [...place.querySelectorAll("button")];
  (buttons.find(alike) ?? buttons[0] ?? byId("run-title")).focus({ preventScroll: true });
}
