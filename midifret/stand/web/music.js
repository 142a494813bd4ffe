// Music being read: all its lines, how each note was played, and the line being played kept in view.

import { byId, draw, make, show } from "./dom.js";

// Signs drawn in a square from -1 to 1, so that they look alike whatever letters the device has.
const SIGNS = {
  "✓": "M-0.8 0.1 L-0.2 0.7 L0.8 -0.7",
  "✗": "M-0.7 -0.7 L0.7 0.7 M-0.7 0.7 L0.7 -0.7",
  "–": "M-0.8 0 H0.8",
  "○": "M-0.7 0 A0.7 0.7 0 1 0 0.7 0 A0.7 0.7 0 1 0 -0.7 0",
};
const SIDE = 150; // half a sign, in the engraver's units: 180 to a space of the staff
const ROOM = 70;

const calm = matchMedia("(prefers-reduced-motion: reduce)");

/** right, other or wrong: how a verdict looks. */
export function looksOf(mark) {
  if (mark.sign === "✓") return "is-right";
  return mark.sign === "○" ? "is-other" : "is-wrong";
}

export class MusicView {
  constructor(engravings) {
    this.engravings = engravings;
    this.name = "";
    this.drawn = null;
    this.marks = new Map(); // by ident of the note: {key, note, looks, place}
    this.cursor = draw("rect", { class: "cursor" });
    this.at = "";
    this.line = -1;
  }

  render(reading) {
    const place = byId("music");
    show(place, reading !== null);
    if (reading === null) return;
    const drawn = this.engravings.drawings(reading.engraving);
    if (drawn === null) {
      this.forget();
      place.replaceChildren(make("p", { class: "told-plainly" }, "The music has not come yet."));
      return;
    }
    if (drawn !== this.drawn) {
      this.forget();
      this.drawn = drawn;
      this.idents = new Map(drawn.flatMap((each) => [...each.idents]));
      place.replaceChildren(...drawn.map((each) => make("div", { class: "line engraved" }, each.svg)));
    }
    this.mark(reading);
    this.point(reading.cursor);
    this.keepInView(place, reading.line);
  }

  forget() {
    for (const ident of [...this.marks.keys()]) this.unmark(ident);
    this.cursor.remove();
    this.drawn = null;
    this.at = "";
    this.line = -1;
  }

  mark(reading) {
    const wanted = new Map(reading.marks.map((mark) => [mark.ident, mark]));
    if (reading.whole) {
      for (const ident of [...this.marks.keys()]) if (!wanted.has(ident)) this.unmark(ident);
    }
    for (const [ident, mark] of wanted) {
      const key = `${mark.verdict} ${mark.sign}`;
      if (this.marks.get(ident)?.key === key) continue;
      this.unmark(ident);
      const note = this.idents.get(ident);
      if (note === undefined) continue;
      const looks = looksOf(mark);
      note.classList.add(looks);
      const place = this.placeOf(ident, note);
      place.append(sign(mark, looks));
      this.marks.set(ident, { key, note, looks, place });
    }
  }

  /** The group in which a note's sign goes: the engraver left one for it, or above the note. */
  placeOf(ident, note) {
    const number = /^n(\d+)/.exec(ident);
    const left = number === null ? undefined : this.idents.get(`m${number[1]}`);
    if (left !== undefined) return left;
    const box = note.getBBox();
    const made = draw("g", { transform: `translate(${box.x + box.width / 2} ${box.y - 2 * SIDE})` });
    note.parentNode.append(made);
    return made;
  }

  unmark(ident) {
    const mark = this.marks.get(ident);
    if (mark === undefined) return;
    mark.note.classList.remove(mark.looks);
    mark.place.replaceChildren();
    this.marks.delete(ident);
  }

  point(ident) {
    if (ident === this.at) return;
    this.at = ident;
    this.cursor.remove();
    const note = this.idents.get(ident);
    const bar = note?.closest(".measure") ?? note?.parentNode;
    if (!bar) return;
    const [head, all] = [note.getBBox(), bar.getBBox()];
    for (const [name, value] of Object.entries({
      x: head.x - ROOM, width: head.width + 2 * ROOM, y: all.y - ROOM, height: all.height + 2 * ROOM,
    })) this.cursor.setAttribute(name, String(value));
    bar.prepend(this.cursor); // behind the notes
    const place = byId("music");
    if (place.scrollWidth <= place.clientWidth) return;
    const [box, frame] = [note.getBoundingClientRect(), place.getBoundingClientRect()];
    const off = box.left - frame.left;
    if (off < 40 || off > frame.width * 0.7) scroll(place, place.scrollLeft + off - frame.width * 0.25, null);
  }

  keepInView(place, line) {
    if (line === this.line) return;
    this.line = line;
    const at = Math.min(Math.max(line, 0), place.children.length - 1);
    const element = place.children[at];
    if (element === undefined) return;
    // With the line before on top, where there is room for the one that comes next besides.
    const before = place.children[at - 1];
    const fits = before !== undefined && before.offsetHeight + 2 * element.offsetHeight <= place.clientHeight;
    scroll(place, null, (fits ? before : element).offsetTop);
  }
}

function scroll(place, left, top) {
  const to = { behavior: calm.matches ? "instant" : "smooth" };
  if (left !== null) to.left = left;
  if (top !== null) to.top = top;
  place.scrollTo(to);
}

function sign(mark, looks) {
  const path = SIGNS[mark.sign];
  const group = draw("g", { class: `sign ${looks}` });
  if (path === undefined) group.append(draw("text", { "text-anchor": "middle", y: 110, "font-size": 360 }, mark.sign));
  else group.append(draw("path", { d: path, transform: `scale(${SIDE})`, "stroke-width": 0.3 }));
  return group;
}
