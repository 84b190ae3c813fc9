// @ts-check
// The foot of the page: going on with another phone, practising again, the cautions.

import { el } from "../../dom.js";

/** @param {string} seat key @returns {Node[]} */
export function otherPhoneParts(seat) {
  const address = new URL(`/seat/${encodeURIComponent(seat)}`, location.href).href;
  return [
    el("p", { text: "Open this address on the other phone. It is your seat: keep it to yourself." }),
    el("p", { class: "seat-address code", data: { seatAddress: "" }, text: address }),
    el("p", { class: "quiet small", text: "What this phone has not yet sent stays on this phone, and is sent as soon as it can be." }),
  ];
}

/** @param {import("../types.js").Caution[]} cautions @returns {HTMLElement} */
export const cautionList = (cautions) => el("ul", { class: "cautions" }, ...cautions.map(({ text, source, key }) =>
  el("li", { data: { caution: key } }, el("p", { text }), el("details", {}, el("summary", { class: "small quiet", text: "Source" }), el("p", { class: "small quiet", text: source })))));

/** @param {{otherPhone: () => void, practise: () => void, cautions: () => void}} on */
export function makeSeatCard(on) {
  const button = (/** @type {string} */ text, /** @type {() => void} */ onclick) => el("button", { type: "button", class: "plain", text, onclick });
  return el("footer", { class: "seat-card" },
    button("Go on with another phone", on.otherPhone), button("Practise again", on.practise), button("Cautions", on.cautions));
}
