// The neck with what is marked on it: string 1 on top, the nut on the left, or on the right for left hands.

import { byId, draw, show, whenNew } from "./dom.js";

const WIDE = 56; // of a fret
const HIGH = 34; // from string to string
const SIDE = 44; // for the open strings
const DOTS = new Set([3, 5, 7, 9, 12, 15, 17, 19, 21, 24]); // common practice, no source
const FEW_FRETS = 12; // shown where there is little room
const NARROW_PX = 640;

const WORDS = {
  right: "right", wrong: "wrong", asked: "asked was", shown: "shown", given: "given", held: "held", named: "to name",
};

/** Which frets are shown, [first, last]: all, or a part that has every spot where that can be. */
export function fretsShown(frets, spots, narrow) {
  if (!narrow || frets <= FEW_FRETS) return [0, frets];
  const used = spots.map((spot) => spot.fret);
  const highest = Math.max(0, ...used);
  if (highest <= FEW_FRETS) return [0, FEW_FRETS];
  const first = Math.min(frets - FEW_FRETS + 1, Math.max(1, Math.min(...used) - 1));
  return highest < first + FEW_FRETS ? [first, first + FEW_FRETS - 1] : [0, frets];
}

/** The spots in words. */
export function neckWords(spots) {
  const told = spots.map((spot) => {
    const fret = spot.fret === 0 ? "open" : `fret ${spot.fret}`;
    return `${WORDS[spot.mark] ?? spot.mark}: string ${spot.string}, ${fret}`;
  });
  return told.length === 0 ? "The neck, nothing marked" : `The neck. ${told.join("; ")}`;
}

export class NeckView {
  constructor() {
    this.spots = draw("g");
    this.narrow = innerWidth < NARROW_PX;
    this.last = null;
    addEventListener("resize", () => {
      const narrow = innerWidth < NARROW_PX;
      if (narrow === this.narrow) return;
      this.narrow = narrow;
      if (this.last !== null) this.render(this.last, true);
    });
  }

  render(screen, shown) {
    const place = byId("neck");
    show(place, shown);
    this.last = shown ? screen : null;
    if (!shown) return;
    const spots = screen.spots.filter((spot) => spot.string >= 1 && spot.string <= screen.strings);
    const strings = Math.min(Math.max(screen.strings, 1), 12);
    const frets = Math.min(Math.max(screen.frets, 1), 36);
    const [first, last] = fretsShown(frets, spots, this.narrow);
    const looks = { strings, first, last, left: screen.left_handed };
    whenNew(place, "neck", looks, () => this.board(place, looks));
    whenNew(place, "spots", [spots, looks], () => {
      const seen = spots.filter((spot) => spot.fret >= first && spot.fret <= last);
      this.spots.replaceChildren(...seen.map((spot) => this.spot(spot, looks)));
      this.svg.setAttribute("aria-label", neckWords(spots));
    });
  }

  /** Where a fret's middle is, from the left. */
  x(fret, { first, last, left }) {
    const before = first === 0 ? SIDE : SIDE / 2;
    const from = fret === 0 ? SIDE / 2 : before + (fret - Math.max(first, 1) + 0.5) * WIDE;
    return left ? this.width(first, last) - from : from;
  }

  width(first, last) {
    return (first === 0 ? SIDE : SIDE / 2) + (last - Math.max(first, 1) + 1) * WIDE + SIDE;
  }

  y(string) {
    return 20 + (string - 1) * HIGH;
  }

  board(room, looks) {
    const { strings, first, last, left } = looks;
    const width = this.width(first, last);
    const bottom = this.y(strings);
    this.svg = draw("svg", { viewBox: `0 0 ${width} ${bottom + 48}`, role: "img" });
    const edge = (fret) => {
      const from = (first === 0 ? SIDE : SIDE / 2) + (fret - Math.max(first, 1) + 1) * WIDE;
      return left ? width - from : from;
    };
    for (let fret = Math.max(first, 1) - 1; fret <= last; fret++) {
      const kind = fret === 0 ? "nut" : "wire";
      this.svg.append(draw("line", { class: kind, x1: edge(fret), x2: edge(fret), y1: this.y(1), y2: bottom }));
    }
    for (let string = 1; string <= strings; string++) {
      const y = this.y(string);
      const ends = [edge(Math.max(first, 1) - 1), edge(last)];
      const gauge = (1.2 + (string - 1) * 0.45).toFixed(2);
      const line = { class: "string", x1: ends[0], x2: ends[1], y1: y, y2: y, "stroke-width": gauge };
      this.svg.append(draw("line", line));
      const side = left ? 14 : width - 14;
      this.svg.append(draw("text", { class: "number", x: side, y: y + 6 }, String(string)));
    }
    for (let fret = Math.max(first, 1); fret <= last; fret++) {
      const strong = DOTS.has(fret) ? " strong" : "";
      const place = { class: `number${strong}`, x: this.x(fret, looks), y: bottom + 38 };
      this.svg.append(draw("text", place, String(fret)));
    }
    this.spots = draw("g");
    this.svg.append(this.spots);
    room.replaceChildren(this.svg);
  }

  spot(spot, looks) {
    const mark = Object.hasOwn(WORDS, spot.mark) ? spot.mark : "shown";
    const at = `translate(${this.x(spot.fret, looks)} ${this.y(spot.string)})`;
    // Shape before colour: right is round and full, wrong square and full, asked round and broken.
    const square = mark === "wrong" || mark === "given" || mark === "held";
    const shape = square
      ? draw("rect", { x: -15, y: -15, width: 30, height: 30, rx: mark === "wrong" ? 3 : 0 })
      : draw("circle", { r: 16 });
    const sign = draw("text", { y: 7 }, [...spot.sign].slice(0, 2).join(""));
    return draw("g", { class: `spot spot-${mark}`, transform: at }, shape, sign);
  }
}
