// @ts-check
// The bowls of the flight in this seat's order, each with its own clock and warmth. The warmth
// that sinks in each bowl is the only thing on the page that moves by itself.

import { el, keepList, setText } from "../../dom.js";
import { bowlState, bowlWords, warmth } from "../cooling.js";

/** @param {string} code */
function makeBowl(code) {
  return el("li", { class: "bowl", data: { code } },
    el("span", { class: "bowl-shape", "aria-hidden": "true" }, el("span", { class: "bowl-warmth" })),
    el("span", { class: "code", text: code }),
    el("span", { class: "bowl-words" }, el("span", { class: "bowl-what" }), el("span", { class: "bowl-when" })));
}

/** @param {import("../session.js").Session} session */
export function makeBowls({ store, clock }) {
  const list = el("ol", { class: "bowls" });
  const note = el("p", { class: "quiet small bowls-note" });
  const heading = el("h2", { class: "bowls-title" });
  const element = el("section", { class: "bowls-panel", "aria-label": "Bowls and their clocks" }, heading, list, note);

  /** @param {string | undefined} next */
  function update(next) {
    const { table } = store;
    if (!table) return;
    const now = clock.now();
    setText(heading, table.flights.length > 1 ? `Your bowls, flight ${store.view.flight + 1}` : "Your bowls");
    const states = new Map(store.codes.map((code) => [code, bowlState(table.bowls[code]?.poured_at_ms, now, table.clock, table.cooling)]));
    keepList(list, store.codes, (code) => code, makeBowl, (node, code) => {
      const state = states.get(code) ?? { phase: "empty", celsius: null, seconds: null };
      node.dataset.phase = state.phase;
      node.classList.toggle("next", code === next);
      node.style.setProperty("--warmth", warmth(state.celsius).toFixed(3));
      const [, what, when] = /^([a-z]+ in )?(.*)$/.exec(table.set_aside?.includes(code) ? "set aside" : bowlWords(state)) ?? [];
      setText(/** @type {Element} */ (node.querySelector(".bowl-what")), what ?? ""); // a narrow phone shows the time alone
      setText(/** @type {Element} */ (node.querySelector(".bowl-when")), when ?? "");
    });
    setText(note, `Your own order, left to right. Sip at ${Math.round(table.clock.first_sip_c)} °C or below; warmth is estimated.`);
  }
  return { element, update };
}
