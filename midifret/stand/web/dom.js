// Small helpers for elements: made, filled and shown only where something changes.

const SVG = "http://www.w3.org/2000/svg";

/** The element with this id; it stands in index.html. */
export function byId(id) {
  return document.getElementById(id);
}

/** Make an HTML element. attributes: strings by name. children: elements or text. */
export function make(tag, attributes = {}, ...children) {
  return filled(document.createElement(tag), attributes, children);
}

/** Make an SVG element, as `make`. */
export function draw(tag, attributes = {}, ...children) {
  return filled(document.createElementNS(SVG, tag), attributes, children);
}

function filled(element, attributes, children) {
  for (const [name, value] of Object.entries(attributes)) element.setAttribute(name, String(value));
  element.append(...children);
  return element;
}

/** Set the text of an element, if it is another one. */
export function setText(element, text) {
  if (element.textContent !== text) element.textContent = text;
}

/** Show an element or hide it from everybody. */
export function show(element, shown) {
  if (element.hidden === shown) element.hidden = !shown;
}

/** Set the text and show the element; hide it where there is no text. */
export function showText(element, text) {
  setText(element, text);
  show(element, text !== "");
}

/** Run `build` only where `value` differs from that of the last call with this element and name. */
export function whenNew(element, name, value, build) {
  const known = seen.get(element) ?? {};
  const text = JSON.stringify(value);
  if (known[name] === text) return;
  known[name] = text;
  seen.set(element, known);
  build(value);
}

const seen = new WeakMap();
