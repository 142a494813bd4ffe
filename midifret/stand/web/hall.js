// Where nothing is being played: what can be begun, today's practice first.

import { byId, make, show, showText, whenNew } from "./dom.js";
import { Choices } from "./choices.js";
import { onPress } from "./keys.js";

export class HallView {
  /** begin: called with a name and the settings. */
  constructor(begin) {
    this.begin = begin;
    this.choices = new Choices();
  }

  render(hall, controls) {
    showText(byId("hall-player"), hall.player === "" ? "" : `Player: ${hall.player}`);
    const said = byId("notice").hidden ? "" : byId("notice-words").textContent;
    showText(byId("hall-notice"), hall.notice === said ? "" : hall.notice);
    whenNew(byId("hall-today"), "all", [hall.today, controls], () => this.today(hall.today, controls));
    whenNew(byId("hall-offers"), "all", [hall.offers, controls], () => this.offers(hall.offers, controls));
    const link = byId("hall-report-link");
    const address = reportAddress(hall.report);
    show(byId("hall-report"), address !== "");
    if (address !== "" && link.getAttribute("href") !== address) link.setAttribute("href", address);
  }

  today(offers, controls) {
    const place = byId("hall-today");
    place.replaceChildren();
    if (offers.length === 0) return;
    const minutes = offers.reduce((sum, offer) => sum + (offer.minutes ?? 0), 0);
    place.append(make("h2", {}, minutes > 0 ? `Today, ${words(minutes)}` : "Today"));
    const list = make("ol", { class: "blocks" });
    // Where all blocks have one name they are begun as one, by one button.
    const together = offers.every((offer) => offer.name === offers[0].name);
    for (const offer of offers) {
      const item = make("li", {}, offerText(offer, { minutes: false }));
      if (offer.minutes) item.append(" ", make("span", { class: "minutes" }, words(offer.minutes)));
      if (controls && !together) item.append(this.button(offer, `Begin ${offer.title}`, "Begin", {}));
      list.append(item);
    }
    place.append(list);
    if (!controls) return;
    const first = make("button", { type: "button", class: "primary wide" }, "Begin today's practice");
    onPress(first, () => {
      const chosen = this.choices.chosen();
      if (chosen !== null) this.begin(offers[0].name, chosen.minutes === undefined ? {} : { minutes: chosen.minutes });
    });
    if (together) list.after(first);
    else list.before(first);
  }

  offers(offers, controls) {
    const place = byId("hall-offers");
    const open = new Set([...place.querySelectorAll("details[open] > summary")].map((each) => each.textContent));
    const chosen = this.choices.element.contains(document.activeElement) ? document.activeElement : null;
    place.replaceChildren();
    if (offers.length === 0) return;
    const groups = new Map();
    for (const offer of offers) groups.set(offer.group, [...(groups.get(offer.group) ?? []), offer]);
    place.append(make("h2", {}, "Or choose"));
    if (controls) place.append(this.choices.element);
    chosen?.focus({ preventScroll: true });
    for (const [name, members] of groups) {
      const list = make("ul", { class: "offers" });
      for (const offer of members) {
        const item = make("li");
        if (controls) item.append(this.button(offer, "", "", null));
        else item.append(offerText(offer));
        list.append(item);
      }
      const group = make("details", {}, make("summary", {}, name || "More"), list);
      group.open = open.has(name || "More") || groups.size === 1;
      place.append(group);
    }
  }

  /** label: for who listens, where the button's own words are not enough. settings: null for those typed. */
  button(offer, label, text, settings) {
    const button = make("button", { type: "button", class: text === "" ? "offer" : "small" });
    button.dataset.name = offer.name;
    if (text === "") button.append(offerText(offer));
    else button.append(text);
    if (label !== "") button.setAttribute("aria-label", label);
    onPress(button, () => {
      const chosen = settings ?? this.choices.chosen();
      if (chosen !== null) this.begin(offer.name, chosen);
    });
    return button;
  }
}

function words(minutes) {
  const whole = Math.round(minutes);
  return `${whole} ${whole === 1 ? "minute" : "minutes"}`;
}

function offerText(offer, { minutes: wanted = true } = {}) {
  const parts = [make("span", { class: "offer-title" }, offer.title)];
  const minutes = wanted && offer.minutes && !/minute/.test(offer.detail) ? words(offer.minutes) : "";
  const between = /[.!?]$/.test(offer.detail) ? " " : ", ";
  const detail = [offer.detail, minutes].filter((part) => part !== "").join(between);
  if (detail !== "") parts.push(" ", make("span", { class: "offer-detail" }, detail));
  return make("span", { class: "offer-text" }, ...parts);
}

/** The address of the report, if it is one of this program; else empty. */
export function reportAddress(address, base = location.href) {
  if (address === "") return "";
  try {
    const found = new URL(address, base);
    return found.origin === new URL(base).origin ? found.href : "";
  } catch {
    return "";
  }
}
