// Engraved music, taken apart and built anew: only shapes and words get into the page, whoever sent them.

import { draw } from "./dom.js";

const XLINK = "http://www.w3.org/1999/xlink";
const SVG = "http://www.w3.org/2000/svg";

// Every element and attribute that an engraved page needs; anything else is left out.
const ELEMENTS = new Set([
  "svg", "g", "defs", "use", "path", "rect", "line", "polyline", "polygon", "ellipse", "circle", "text", "tspan",
]);
const ATTRIBUTES = new Set([
  "viewBox", "transform", "d", "x", "y", "x1", "y1", "x2", "y2", "cx", "cy", "r", "rx", "ry", "dx", "dy",
  "width", "height", "points", "text-anchor", "dominant-baseline", "overflow",
]);
// Looks, which also come inside a style attribute. The page's own rules forbid that one, so it is spelled out.
const LOOKS = new Set([
  "fill", "stroke", "stroke-width", "stroke-linecap", "stroke-linejoin", "stroke-dasharray", "font-family",
  "font-size", "font-style", "font-weight", "fill-opacity", "stroke-opacity", "opacity",
]);
// Groups for which run.css has rules; no other class gets in, so that none meets a rule of the page.
const CLASSES = new Set([
  "ending", "fing", "reh", "tempo", "dir", "dynam", "mNum", "label", "placeholder", "note", "measure", "system",
]);
// The engraver draws the edge of every such shape in the colour of the notes.
const EDGED = new Set(["ellipse", "path", "polygon", "polyline", "rect"]);
const PAPER = new Set(["#fff", "#ffffff", "white"]);
const DEEPEST = 40;
const MOST_ELEMENTS = 200_000;

let drawings = 0;

/** One engraved SVG built anew. Returns null for what is no SVG; else {svg, idents}: elements by their ids. */
export function rebuilt(source) {
  const found = new DOMParser().parseFromString(plain(source), "image/svg+xml");
  const root = found.documentElement;
  if (root === null || root.namespaceURI !== SVG || root.localName !== "svg") return null;
  if (found.getElementsByTagName("parsererror").length > 0) return null;
  drawings += 1;
  const making = { prefix: `d${drawings}-`, idents: new Map(), left: MOST_ELEMENTS, names: used(root) };
  const svg = copied(root, making, 0);
  svg.setAttribute("aria-hidden", "true"); // its words stand beside it
  svg.setAttribute("focusable", "false");
  return { svg, idents: making.idents };
}

/** The source without style sheets and with style attributes by another name: the page's policy forbids both. */
function plain(source) {
  return source.replace(/<style[\s>][\s\S]*?<\/style\s*>/g, "").replace(/\sstyle(\s*=\s*["'])/g, " looks$1");
}

/** Ids that a `use` in the drawing refers to. */
function used(root) {
  const names = new Set();
  for (const element of root.getElementsByTagNameNS(SVG, "use")) {
    const name = inner(element);
    if (name !== "") names.add(name);
  }
  return names;
}

/** The id inside this drawing that a `use` refers to; empty where it refers to anything else. */
function inner(element) {
  const target = element.getAttributeNS(XLINK, "href") ?? element.getAttribute("href") ?? "";
  return /^#[\w.-]+$/.test(target) ? target.slice(1) : "";
}

function copied(element, making, depth) {
  const name = element.localName;
  const made = draw(name);
  const ident = element.getAttribute("id");
  if (ident) {
    if (name === "g" && depth > 0) making.idents.set(ident, made);
    if (making.names.has(ident)) made.setAttribute("id", making.prefix + ident);
  }
  const looks = looksOf(element);
  if (EDGED.has(name) && !looks.has("stroke-of-style")) looks.set("stroke", "currentColor");
  looks.delete("stroke-of-style");
  for (const [look, value] of looks) setLook(made, look, value);
  for (const { name: attribute, value } of element.attributes) {
    if (ATTRIBUTES.has(attribute) && !/url|script/i.test(value)) made.setAttribute(attribute, value);
  }
  const classes = (element.getAttribute("class") ?? "").split(/\s+/).filter((each) => CLASSES.has(each));
  if (classes.length > 0) made.setAttribute("class", classes.join(" "));
  if (name === "use") {
    const target = inner(element);
    if (target !== "") made.setAttribute("href", `#${making.prefix}${target}`);
  }
  for (const child of element.childNodes) {
    if (child.nodeType === Node.TEXT_NODE && (name === "text" || name === "tspan")) made.append(child.data);
    if (child.nodeType !== Node.ELEMENT_NODE || child.namespaceURI !== SVG) continue;
    if (!ELEMENTS.has(child.localName) || depth >= DEEPEST || making.left <= 0) continue;
    making.left -= 1;
    made.append(copied(child, making, depth + 1));
  }
  return made;
}

function looksOf(element) {
  const looks = new Map();
  for (const look of LOOKS) {
    const value = element.getAttribute(look);
    if (value !== null) looks.set(look, value);
  }
  for (const part of (element.getAttribute("looks") ?? "").split(";")) {
    const at = part.indexOf(":");
    const look = part.slice(0, at).trim();
    if (at > 0 && LOOKS.has(look)) {
      looks.set(look, part.slice(at + 1).trim());
      if (look === "stroke") looks.set("stroke-of-style", "");
    }
  }
  return looks;
}

function setLook(made, look, value) {
  if (/url|script|\(/i.test(value)) return; // nothing of a drawing needs a function or a reference here
  if (look === "fill" && PAPER.has(value.toLowerCase())) made.classList.add("behind");
  else if ((look === "fill" || look === "stroke") && value.toLowerCase() === "black") return;
  else made.setAttribute(look, value);
}

/** The engravings that were told, the longest unused forgotten first. Each is rebuilt when it is first shown. */
export class Engravings {
  constructor(most = 400) {
    this.most = most;
    this.told = new Map();
    this.built = new Map();
  }

  take(message) {
    const before = this.told.get(message.name);
    if (before !== undefined && before.words === message.words && same(before.lines, message.lines)) return;
    this.told.delete(message.name);
    this.told.set(message.name, message);
    this.built.delete(message.name);
    if (this.told.size > this.most) {
      const oldest = this.told.keys().next().value;
      this.told.delete(oldest);
      this.built.delete(oldest);
    }
  }

  words(name) {
    return this.told.get(name)?.words ?? "";
  }

  /** The drawings of one engraving, each {svg, idents}; null where it is not there or cannot be read. */
  drawings(name) {
    if (!this.built.has(name)) {
      const told = this.told.get(name);
      if (told === undefined) return null;
      const drawn = told.lines.map(rebuilt);
      this.built.set(name, drawn.length > 0 && drawn.every((each) => each !== null) ? drawn : null);
    }
    return this.built.get(name);
  }

  /** Build what was told but never shown, a little at a time while nothing else is to be done. */
  prepare() {
    for (const name of this.told.keys()) {
      if (this.built.has(name)) continue;
      this.drawings(name);
      return true;
    }
    return false;
  }
}

function same(one, other) {
  return one.length === other.length && one.every((line, at) => line === other[at]);
}
