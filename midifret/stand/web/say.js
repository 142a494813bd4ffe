// What is read aloud by a screen reader: short, and never the same moment twice.

import { byId } from "./dom.js";

let calm = "";
let timer = 0;
const MERGE_MS = 120; // verdict and next cue come in one sentence, even if in two messages

/** Say something when there is a pause. */
export function say(words) {
  const line = words.trim();
  if (line === "" || calm.endsWith(line)) return;
  calm = calm === "" ? line : `${calm} ${line}`;
  clearTimeout(timer);
  timer = setTimeout(spoken, MERGE_MS);
}

function spoken() {
  const place = byId("say-calm");
  // A space makes a new text of one that is said again, such as two right answers one after the other.
  place.textContent = place.textContent === calm ? `${calm}\u00a0` : calm;
  calm = "";
}

/** Say something at once. */
export function sayNow(words) {
  byId("say-now").textContent = words;
}
