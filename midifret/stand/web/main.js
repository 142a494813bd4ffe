// The stand: composes link, screens, sound and keys.

import { byId, setText, show } from "./dom.js";
import { Engravings } from "./engraved.js";
import { HallView } from "./hall.js";
import { happened, keyOf, onPress } from "./keys.js";
import { Link, viewerName } from "./link.js";
import { Painted } from "./painted.js";
import { RunView } from "./run.js";
import { say, sayNow } from "./say.js";
import { canSound, Sound } from "./sound.js";
import { canStayAwake, stayAwake } from "./wake.js";

const BEGINNING = "Beginning …";
const NOTICE_MS = 12_000;
const SOUND_AFTER_MS = 150;
const VIEWS = ["waiting", "hall", "run"];
const PLAYED = new Set(["checking", "countdown", "asking", "paused"]);

const engravings = new Engravings();
let controls = false;
let last = null; // the last hall or screen
let wantsSound = false;
let noticeTimer = 0;

const tell = (message) => controls && link.tell(message);
const sound = new Sound(
  (sounding) => link.tell({ kind: "sounding", ...sounding }),
  () => showSound(),
);
const painted = new Painted((run, n, painted_ms, frame_ms) =>
  link.tell({ kind: "painted", run, n, painted_ms, frame_ms }));
const hall = new HallView((what, settings) => {
  if (tell({ kind: "begin", what, ...settings })) notice(BEGINNING, false); // engraving may take a moment
});
const run = new RunView(engravings, tell, painted);
const link = new Link(
  socketAddress(),
  () => ({ viewer: viewerName(), sounds: canSound() }),
  { message: heard, state: linkState },
);

function socketAddress() {
  const address = new URL("/socket", location.href);
  address.protocol = address.protocol === "https:" ? "wss:" : "ws:";
  address.hash = "";
  return address.href;
}

function heard(message) {
  try {
    WHAT_TO_DO[message.kind](message);
  } catch (error) {
    console.error(error);
    notice("This page could not show what the program told. If that goes on, load the page anew.", true);
  }
}

const WHAT_TO_DO = {
  welcome(message) {
    controls = message.controls;
    show(byId("watch-words"), !controls);
    setTimeout(() => { // opening the sound device takes some time: the page is shown first
      sound.open();
      sound.anew();
    }, SOUND_AFTER_MS);
    setText(byId("waiting-words"), "The program is there; in a moment it shows what can be played.");
    if (last !== null) redraw();
  },
  refused(message) {
    view("waiting");
    setText(byId("waiting-title"), "The stand is not shown here");
    setText(byId("waiting-words"), message.words);
    const again = byId("waiting-again");
    again.dataset.reload = message.reload ? "yes" : "";
    setText(again, message.reload ? "Load the page anew" : "Try again");
    show(again, true);
    sayNow(message.words);
    sound.silence();
    stayAwake(false);
  },
  sync() {
    sound.listen();
  },
  hall(message) {
    last = message;
    redraw();
  },
  screen(message) {
    last = message;
    redraw();
  },
  engraving(message) {
    engravings.take(message);
    prepareSoon();
    const shown = last?.kind === "screen" && [last.cue?.engraving, last.reading?.engraving].includes(message.name);
    if (shown) redraw();
  },
  clicks(message) {
    wantsSound = wantsSound || message.clicks.length > 0;
    sound.take(message);
    showSound();
  },
  notice(message) {
    notice(message.words, message.grave);
    if (last?.kind === "hall") redraw(); // the hall says nothing twice
  },
};

function redraw() {
  const played = last.kind === "screen";
  if (played) {
    view("run");
    run.render(last, controls);
    wantsSound = (last.beat ?? null) !== null;
    document.title = last.title === "" ? "midifret: the stand" : `${last.title}: midifret`;
  } else {
    run.away();
    hall.render(last, controls);
    view("hall");
    wantsSound = false;
    document.title = "midifret: the stand";
  }
  if (byId("notice-words").textContent === BEGINNING) notice("", false);
  stayAwake(played && PLAYED.has(last.stage));
  showSound();
}

/** Show one of the three views; its heading gets the focus, so that keys and readers begin there. */
function view(name) {
  if (document.body.dataset.shown === name) return;
  document.body.dataset.shown = name;
  for (const each of VIEWS) show(byId(each), each === name);
  scrollTo(0, 0);
  byId(`${name}-title`).focus({ preventScroll: true });
  if (name !== "hall") return;
  const came = byId("hall-notice").hidden ? "" : byId("hall-notice").textContent; // what came of the run
  say(`${came} ${byId("hall-title").textContent}`.trim());
}

function showSound() {
  show(byId("sound"), wantsSound && !sound.ready && !sound.failed);
}

function notice(words, grave) {
  clearTimeout(noticeTimer);
  const line = byId("notice");
  show(line, words !== "");
  line.classList.toggle("grave", grave);
  setText(byId("notice-sign"), grave ? "!" : "i");
  setText(byId("notice-words"), words);
  if (words === "") return;
  if (grave) sayNow(words);
  else {
    say(words);
    noticeTimer = setTimeout(() => show(line, false), NOTICE_MS);
  }
}

function linkState(state) {
  if (state === "unread") {
    notice("The program told something that this page does not understand: load the page anew.", true);
    return;
  }
  document.body.dataset.link = state;
  const lost = state === "lost";
  const words = last === null
    ? "No answer from the program. Is midifret stand still running? Trying again …"
    : "The link to the program is lost: what you see is old. Trying again …";
  show(byId("link-words"), lost);
  for (const id of ["buttons", "naming", "hall-today", "hall-offers", "hall-report"]) byId(id).inert = state !== "linked";
  if (!lost) return;
  if (byId("link-words").textContent !== words || byId("say-now").textContent === "") sayNow(words);
  setText(byId("link-words"), words);
  sound.silence();
}

let preparing = false;

/** Build engravings before they are needed, a few at a time, never in the way of a cue. */
function prepareSoon() {
  if (preparing) return;
  preparing = true;
  const idle = window.requestIdleCallback ?? ((work) => setTimeout(() => work({ timeRemaining: () => 5 }), 50));
  const work = (deadline) => {
    let more = true;
    while (more && deadline.timeRemaining() > 3) more = engravings.prepare();
    preparing = false;
    if (more) prepareSoon();
  };
  idle(work);
}

function letterKeys() {
  const box = byId("letters");
  try {
    box.checked = localStorage.getItem("letters") !== "off";
    box.addEventListener("change", () => localStorage.setItem("letters", box.checked ? "on" : "off"));
  } catch {
    // storage is forbidden: the box holds until the page is loaded anew
  }
}

addEventListener("keydown", (event) => {
  sound.allow();
  if (!controls || last?.kind !== "screen" || document.body.dataset.shown !== "run") return;
  const offered = last.buttons.map((button) => button.key);
  const key = keyOf(event, { offered, typing: last.naming.length > 0, letters: byId("letters").checked });
  if (key === "") return;
  event.preventDefault(); // a space would scroll
  tell({ kind: "pressed", key, pressed_ms: happened(event) });
});
addEventListener("pointerdown", () => sound.allow(), { passive: true });

onPress(byId("sound-allow"), () => sound.allow());
onPress(byId("notice-away"), () => {
  show(byId("notice"), false);
  if (last?.kind === "hall") redraw();
});
onPress(byId("waiting-again"), () => {
  if (byId("waiting-again").dataset.reload === "yes") location.reload();
  else link.again();
});
letterKeys();
show(byId("awake-words"), !canStayAwake());
setText(byId("waiting-do"), ""); // it stays where this file cannot be understood
if (typeof WebSocket === "function") link.start();
else setText(byId("waiting-words"), "This browser cannot be told anything live: open the page in a newer one.");
