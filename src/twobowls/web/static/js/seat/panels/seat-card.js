// @ts-check
// The foot of the page: going on with another phone, practising again, the cautions.

import { el } from "../../dom.js";

/** In groups of four, for typing. @param {string} key */
const grouped = (key) => key.replace(/.{4}(?=.)/g, "$& ");

/** @param {string} seat key @param {string} address what the other phone opens @returns {Node[]} */
export function otherPhoneParts(seat, address) {
  const away = el("p", { class: "callout", hidden: true, text: "The code to scan cannot be fetched now. The address below leads to the same place." });
  const code = el("img", { class: "seat-qr", src: `/seat/${encodeURIComponent(seat)}/code.svg`, alt: "QR code of the address below", width: 240, height: 240, onerror: () => { code.hidden = true; away.hidden = false; } });
  return [
    el("p", { text: "Scan this with the other phone. It is your seat: keep it to yourself." }),
    code, away,
    el("p", { class: "seat-address code", data: { seatAddress: "" }, text: address }),
    el("p", {}, `Or open ${new URL("/join", address).href} there, and type this key: `, el("strong", { class: "seat-key code", text: grouped(seat) })),
    el("p", { class: "quiet small", text: "What this phone has not yet sent stays on this phone, and is sent as soon as it can be." }),
  ];
}

/** @param {import("../types.js").Caution[]} cautions @returns {HTMLElement} */
export const cautionList = (cautions) => el("ul", { class: "cautions" }, ...cautions.map(({ text, source, key }) =>
  el("li", { data: { caution: key } }, el("p", { text }), el("details", {}, el("summary", { class: "small quiet", text: "Source" }), el("p", { class: "small quiet", text: source })))));

/** @param {{otherPhone: () => void, practise: () => void, cautions: () => void, privacy: () => void}} on */
export function makeSeatCard(on) {
  const button = (/** @type {string} */ text, /** @type {() => void} */ onclick) => el("button", { type: "button", class: "plain", text, onclick });
  return el("footer", { class: "seat-card" },
    button("Go on with another phone", on.otherPhone), button("Practise again", on.practise), button("Cautions", on.cautions), button("Who sees my marks", on.privacy));
}
