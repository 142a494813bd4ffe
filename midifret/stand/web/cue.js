// What is asked, as large as the room allows: a staff, a name, a string in its circle, a place, an interval.

import { byId, draw, make, setText, show, showText } from "./dom.js";

const BETWEEN_NAMES = " / ";

export class CueView {
  constructor(engravings) {
    this.engravings = engravings;
    this.shown = "";
  }

  /** Show a cue, or none. typed: letters of a name typed so far. Returns whether anything changed. */
  render(cue, typed) {
    show(byId("cue"), cue !== null);
    const drawn = cue !== null && cue.engraving !== "" ? this.engravings.drawings(cue.engraving) : null;
    const now = JSON.stringify([cue, typed, drawn !== null]);
    if (now === this.shown) return false;
    this.shown = now;
    if (cue === null) {
      byId("cue-large").replaceChildren();
      return true;
    }
    const pieces = [];
    if (drawn !== null) pieces.push(staff(drawn[0].svg));
    const name = typed !== "" ? typed : cue.name;
    if (name !== "") pieces.push(named(name));
    if (cue.interval !== "") pieces.push(piece("interval", wide(cue.interval), cue.interval));
    if (cue.string !== null && cue.string !== undefined) pieces.push(...placed(cue.string, cue.fret ?? null));
    const large = byId("cue-large");
    large.replaceChildren(...pieces.map((each) => each.element));
    show(large, pieces.length > 0);
    const widths = pieces.map((each) => each.width);
    large.style.setProperty("--row", String(widths.reduce((sum, width) => sum + width + 0.35, 0) || 1));
    large.style.setProperty("--widest", String(Math.max(1, ...widths)));
    large.style.setProperty("--pieces", String(pieces.length || 1));
    byId("cue").classList.toggle("bare", pieces.length === 0);
    byId("cue").classList.toggle("waits", cue.waits);
    setText(byId("cue-words"), cue.words);
    showText(byId("cue-hint"), cue.hint);
    return true;
  }

  /** The cue in words, for who listens to the page. */
  spoken(cue) {
    const engraved = cue.engraving === "" ? "" : this.engravings.words(cue.engraving);
    return [engraved, cue.words, cue.hint].filter((part) => part !== "").join(", ");
  }
}

/** About how wide a text is, in its own font size: letters vary, so with something to spare. */
function wide(text) {
  return Math.max(1, [...text].length * 0.72);
}

// The words under the large form say the same: who listens to the page hears those.
function piece(kind, width, ...children) {
  return { element: make("div", { class: `piece ${kind}`, "aria-hidden": "true" }, ...children), width };
}

function named(name) {
  const parts = name.split(BETWEEN_NAMES).map((part) => make("span", { class: "whole" }, part));
  const children = parts.flatMap((part, at) => (at === 0 ? [part] : [make("span", { class: "or" }, "/"), part]));
  return piece("name", wide(name), ...children);
}

function placed(string, fret) {
  const circle = draw("svg", { viewBox: "0 0 100 100", class: "circled" });
  const words = draw("text", { x: 50, y: 50, dy: "0.36em", "text-anchor": "middle" }, String(string));
  circle.append(draw("circle", { cx: 50, cy: 50, r: 44 }), words);
  const pieces = [piece("string", 1, circle)];
  if (fret === 0) pieces.push(piece("fret", 2.9, make("span", { class: "whole" }, "open")));
  else if (fret !== null) {
    const number = make("span", { class: "whole" }, String(fret));
    pieces.push(piece("fret", wide(String(fret)) + 0.8, make("span", { class: "unit" }, "fret"), number));
  }
  return pieces;
}

function staff(svg) {
  const [, , width, height] = (svg.getAttribute("viewBox") ?? "0 0 3 2").split(/[\s,]+/).map(Number);
  const shape = width > 0 && height > 0 ? width / height : 1.5;
  return piece("staff engraved", shape, svg);
}
