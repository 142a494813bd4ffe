// How what is begun next is to be played: one row of choices for all, kept while the page is open.
//
// Nothing is judged here: what does not go together the program says.

import { make, setText } from "./dom.js";
import { onPress } from "./keys.js";

const TITLE = "How it is played";
const LIMITS = { tempo_bpm: [1, 999], minutes: [1, 240], position: [0, 24] };
const WAYS = [
  ["once", "In the drill's own way"],
  ["free", "In free tempo"],
  ["find", "Search for the tempo that you own"],
  ["ladder", "Ladder: faster after clean passes, slower after bad ones, for 5 minutes or the time above"],
];
const OPEN_STRINGS = [
  ["", "where needed"], ["freely", "wherever they fit"], ["never", "never"],
];
const OCTAVES = [
  ["", "as the file tells"], ["written", "written: it sounds an octave lower"], ["sounding", "sounding: as it stands"],
];
const SHORT = {
  tempo_bpm: (value) => `${value} bpm`,
  minutes: (value) => `${value} ${value === 1 ? "minute" : "minutes"}`,
  position: (value) => `position ${value}`,
  way: (value) => ({ free: "free tempo", find: "search for the tempo", ladder: "ladder" })[value],
  anywhere: () => "whole neck",
  open_strings: (value) => `open strings ${value}`,
  fingered: () => "fingered",
  bars: (value) => `bars ${value}`,
  octave: (value) => `octave ${value}`,
};

export class Choices {
  constructor() {
    this.numbers = {
      tempo_bpm: number("tempo_bpm"), minutes: number("minutes"), position: number("position"),
    };
    this.ways = WAYS.map(([value]) => make("input", { type: "radio", name: "way", value }));
    this.open = select(OPEN_STRINGS);
    this.octave = select(OCTAVES);
    this.anywhere = make("input", { type: "checkbox" });
    this.fingered = make("input", { type: "checkbox" });
    this.bars = make("input", { type: "text", maxlength: 20, placeholder: "all", autocomplete: "off" });
    this.summary = make("summary", {}, TITLE);
    this.element = this.built();
    this.empty();
    this.element.addEventListener("input", () => this.tell());
  }

  /** What was chosen, by the names of a Begin; null where a field holds no number, which the browser then says. */
  chosen() {
    const wrong = Object.values(this.numbers).find((field) => !field.checkValidity());
    if (wrong !== undefined) {
      this.element.open = true;
      wrong.reportValidity();
      return null;
    }
    const found = {};
    for (const [name, field] of Object.entries(this.numbers)) {
      if (field.value !== "") found[name] = Number(field.value);
    }
    const way = this.ways.find((each) => each.checked).value;
    if (way !== "once") found.way = way;
    if (this.anywhere.checked) found.anywhere = true;
    if (this.open.value !== "") found.open_strings = this.open.value;
    if (this.fingered.checked) found.fingered = true;
    const bars = this.bars.value.trim();
    if (bars !== "") found.bars = bars;
    if (this.octave.value !== "") found.octave = this.octave.value;
    return found;
  }

  /** All as it is. */
  empty() {
    for (const field of [...Object.values(this.numbers), this.bars, this.open, this.octave]) field.value = "";
    for (const box of [this.anywhere, this.fingered]) box.checked = false;
    for (const way of this.ways) way.checked = way.value === "once";
    this.tell();
  }

  /** What holds is told on the line that is always to be seen. */
  tell() {
    const valid = Object.values(this.numbers).every((field) => field.checkValidity());
    const words = valid ? Object.entries(this.chosen()).map(([name, value]) => SHORT[name](value)) : [];
    setText(this.summary, words.length === 0 ? TITLE : `${TITLE}: ${words.join(", ")}`);
  }

  built() {
    const { tempo_bpm, minutes, position } = this.numbers;
    const away = make("button", { type: "button", class: "small" }, "Leave all as it is");
    onPress(away, () => this.empty());
    return make(
      "details", { class: "settings" }, this.summary,
      make("p", {}, "It holds for all that you begin until you change it; what you leave stays as the drill or the score has it."),
      group(
        "Anything", row(labelled("Tempo (beats a minute)", tempo_bpm), labelled("Time (minutes)", minutes)),
      ),
      group("A drill", ...this.ways.map((way, at) => ticked(way, WAYS[at][1]))),
      group(
        "A score or a melody",
        row(
          labelled("Position (fret of the first finger)", position), labelled("Open strings are right", this.open),
          labelled("Bars of a score (as 9-16)", this.bars), labelled("Octave of a score", this.octave),
        ),
        ticked(this.anywhere, "On the whole neck, in no position"),
        ticked(this.fingered, "Show a fingering; its places alone are right"),
      ),
      away,
    );
  }
}

function number(name) {
  const [least, most] = LIMITS[name];
  return make("input", {
    type: "number", inputmode: "numeric", min: least, max: most, step: 1, placeholder: "as it is",
  });
}

function select(options) {
  return make("select", {}, ...options.map(([value, words]) => make("option", { value }, words)));
}

function group(words, ...content) {
  return make("fieldset", {}, make("legend", {}, words), ...content);
}

function row(...fields) {
  return make("div", { class: "fields" }, ...fields);
}

function labelled(words, field) {
  return make("label", { class: "field" }, make("span", {}, words), field);
}

function ticked(box, words) {
  return make("label", { class: "choice" }, box, make("span", {}, words));
}
