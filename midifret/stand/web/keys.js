// Keys of the page: the same as in the terminal, without taking from a browser what moves about in a page.
//
// Tab stays what it is in every page: it goes from button to button. What it does in a terminal, to go on to the
// next prompt while a name is typed, the right arrow does here, and the left one asks again. Space and enter work
// the button that has the focus, if one has; a button pressed by finger or mouse takes no focus.

const NAMED = { Enter: "enter", Backspace: "backspace", Escape: "escape", " ": " " };
const ARROWS = { ArrowRight: ["n", "tab"], ArrowLeft: ["a"] };
const FARTHEST_MS = 5000;

/** When an event happened, on the page's clock. */
export function happened(event) {
  const now = performance.now();
  const stamp = event.timeStamp; // in some old browsers of another clock
  return Math.abs(now - stamp) < FARTHEST_MS ? stamp : now;
}

/** Which key the program is told of; empty for none. offered: keys of the buttons that are there. */
export function keyOf(event, { offered, typing, letters }) {
  if (event.ctrlKey || event.altKey || event.metaKey || event.isComposing) return "";
  if (event.repeat && event.key !== "Backspace") return "";
  const target = event.target;
  const worked = target.closest?.("button, a, input, select, textarea, summary");
  if (target.closest?.("input, select, textarea")) return "";
  if (event.key in ARROWS) return ARROWS[event.key].find((key) => offered.includes(key)) ?? "";
  if (event.key in NAMED) return worked && "Enter ".includes(event.key) ? "" : NAMED[event.key];
  const single = [...event.key].length === 1;
  if (!single) return "";
  if (typing) return event.key; // whatever is typed belongs to the name
  return letters && offered.includes(event.key.toLowerCase()) ? event.key.toLowerCase() : "";
}

/** Let a button act when it is pressed and released, telling when it was first touched. */
export function onPress(button, act) {
  let touched = null;
  button.addEventListener("pointerdown", (event) => { touched = happened(event); });
  button.addEventListener("mousedown", (event) => event.preventDefault()); // the focus stays where it is
  button.addEventListener("click", (event) => {
    const at = event.detail > 0 && touched !== null ? touched : happened(event);
    touched = null;
    act(at);
  });
}
