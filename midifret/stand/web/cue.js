// What is asked, as large as the room allows: a staff, a name, a string in its circle, a place, an interval.

import { byId, draw, make, setText, show, showText } from "./dom.js";

const BETWEEN_NAMES = " / ";

export class CueView {
  constructor(engravings) {
    this.engravings = engravings;
    this.shown = "";
  }

  /** Show a cue, or none. typed: letters of a name typed so far. mark: another one for each cue that appears. */
  render(cue, typed, mark) {
    show(byId("cue"), cue !== null);
    const drawn = cue !== null && cue.engraving !== "" ? this.engravings.drawings(cue.engraving) : null;
    const now = JSON.stringify([cue, typed, drawn !== null]);
    if (now === this.shown) return;
    this.shown = now;
    if (cue === null) {
      byId("cue-large").replaceChildren();
      byId("cue-words").replaceChildren();
      return;
    }
    const pieces = [];
    if (drawn !== null) pieces.push(staff(drawn[0].svg));
    const name = typed !== "" ? typed : cue.name;
    if (name !== "") pieces.push(...named(name));
    if (cue.interval !== "") pieces.push(piece("interval", wide(cue.interval), cue.interval));
    if (cue.string !== null && cue.string !== undefined) pieces.push(...placed(cue.string, cue.fret ?? null));
    const large = byId("cue-large");
    const row = make("div", { class: "pieces" }, ...pieces.map((each) => each.element));
    large.replaceChildren(row);
    show(large, pieces.length > 0);
    const stacked = pieces.filter((each) => !each.between);
    row.style.setProperty("--row", String(pieces.reduce((sum, each) => sum + each.width + 0.3, 0) || 1));
    row.style.setProperty("--widest", String(Math.max(1, ...stacked.map((each) => each.width))));
    row.style.setProperty("--pieces", String(stacked.length || 1));
    byId("cue").classList.toggle("bare", pieces.length === 0);
    byId("cue").classList.toggle("waits", cue.waits);
    this.words(cue.words, mark);
    showText(byId("cue-hint"), cue.hint);
  }

  /**
   * The words of a cue in an element of its own: of each the browser can say when it was presented. Of shapes it
   * cannot, so that a staff alone has a space that does not break for its words.
   */
  words(told, mark) {
    const place = byId("cue-words");
    const text = told === "" ? "\u00a0" : told;
    if (place.firstElementChild?.getAttribute("elementtiming") === mark) setText(place.firstElementChild, text);
    else place.replaceChildren(make("p", { elementtiming: mark }, text));
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
  const [first, ...rest] = name.split(BETWEEN_NAMES).map((part) => piece("name", wide(part), part));
  return [first, ...rest.flatMap((part) => [{ ...piece("or", 0.4, "/"), between: true }, part])];
}

function placed(string, fret) {
  const circle = draw("svg", { viewBox: "0 0 100 100", class: "circled" });
  const words = draw("text", { x: 50, y: 50, dy: "0.36em", "text-anchor": "middle" }, String(string));
  circle.append(draw("circle", { cx: 50, cy: 50, r: 44 }), words);
  const pieces = [piece("string", 1, circle)];
  if (fret === 0) pieces.push(piece("fret", 2.9, "open"));
  else if (fret !== null) {
    pieces.push(piece("fret", wide(String(fret)) + 0.8, make("span", { class: "unit" }, "fret"), String(fret)));
  }
  return pieces;
}

/** A staff without the margin on its left, which is for bar numbers. */
function staff(svg) {
  const box = (svg.getAttribute("viewBox") ?? "0 0 3 2").split(/[\s,]+/).map(Number);
  if (!svg.dataset.trimmed && box[2] > 60) {
    const left = /translate\((\d+)/.exec(svg.querySelector("svg > g")?.getAttribute("transform") ?? "");
    const spare = left === null ? 0 : Math.max(0, Number(left[1]) / 10 - 3);
    box[0] += spare;
    box[2] -= spare;
    svg.dataset.trimmed = "yes";
    svg.setAttribute("viewBox", box.join(" "));
  }
  const shape = box[2] > 0 && box[3] > 0 ? box[2] / box[3] : 1.5;
  return piece("staff engraved", shape, svg);
}
