// What the program may tell, by kinds and fields, so that nothing else gets as far as the screen.

/** Number of the schema that this page was written for. */
export const SCHEMA = 2;

const text = (value) => typeof value === "string";
const number = (value) => typeof value === "number" && Number.isFinite(value);
const flag = (value) => typeof value === "boolean";
const orNone = (check) => (value) => value === null || value === undefined || check(value);
const several = (check) => (value) => Array.isArray(value) && value.every(check);
const oneOf = (...values) => (value) => values.includes(value);
const shaped = (fields) => (value) =>
  typeof value === "object" && value !== null && !Array.isArray(value) &&
  Object.entries(fields).every(([name, check]) => check(value[name]));
const pair = (first, second) => (value) =>
  Array.isArray(value) && value.length === 2 && first(value[0]) && second(value[1]);

const OFFER = { name: text, title: text, detail: text, group: text, minutes: orNone(number) };
const SPOT = { string: number, fret: number, mark: text, sign: text };
const CUE = {
  n: number, name: text, string: orNone(number), fret: orNone(number), interval: text, engraving: text,
  words: text, hint: text, waits: flag,
};
const TOLD = { n: number, verdict: text, right: flag, sign: text, words: text, time: text };
const BEAT = { number: number, a_bar: number, counts_in: number, struck: flag, tempo_bpm: number };
const BUTTON = { key: text, words: text };
const MARK = { ident: text, verdict: text, sign: text };
const READING = {
  engraving: text, cursor: text, line: number, marks: several(shaped(MARK)), whole: flag,
};

/** Each kind of message with its fields and what each has to be. */
export const KINDS = {
  welcome: { schema: number, version: text, controls: flag, language: text },
  refused: { words: text, reload: flag },
  sync: { number: number },
  hall: {
    player: text, notice: text, today: several(shaped(OFFER)), offers: several(shaped(OFFER)), report: text,
  },
  screen: {
    run: number, stage: oneOf("checking", "countdown", "asking", "paused", "ended"), title: text,
    player: text, progress: pair(number, number), right: orNone(number), clock: text, count: orNone(number),
    cue: orNone(shaped(CUE)), told: orNone(shaped(TOLD)), beat: orNone(shaped(BEAT)),
    reading: orNone(shaped(READING)), message: text, rows: several(text), typed: text,
    naming: several(several(text)), spots: several(shaped(SPOT)), strings: number, frets: number,
    left_handed: flag, buttons: several(shaped(BUTTON)), block: text,
    counted: oneOf("prompts", "blocks"),
  },
  engraving: { name: text, lines: several(text), words: text },
  clicks: { clicks: several(pair(number, number)), volume: number, forget: flag },
  notice: { words: text, grave: flag },
};

/** Fields of the values inside messages, by the names that the program gives them. */
export const PARTS = {
  Offer: OFFER, Spot: SPOT, Cue: CUE, Told: TOLD, BeatShown: BEAT, Button: BUTTON, NoteMark: MARK,
  Reading: READING,
};

/** Read one message. Returns null for anything that the program cannot have meant. */
export function parsed(data) {
  if (typeof data !== "string") return null;
  let message;
  try {
    message = JSON.parse(data);
  } catch {
    return null;
  }
  if (typeof message !== "object" || message === null) return null;
  const known = typeof message.kind === "string" && Object.hasOwn(KINDS, message.kind);
  const fields = known ? KINDS[message.kind] : null;
  return fields !== null && shaped(fields)(message) ? message : null;
}
