// @ts-check
// What the laptop did not accept, each with its reason; kept until the taster has read it.

import { el } from "../../dom.js";
import { recordWords } from "../wording.js";

/** @param {import("../session.js").Session} session @param {() => void} close @returns {Node[]} */
export function refusedParts(session, close) {
  const { refused } = session.store.saved;
  return [
    el("p", { text: "These were not accepted. They stay on this phone until you let them go." }),
    el("ul", { class: "refused" }, ...refused.map(({ record, error }) =>
      el("li", { data: { refused: record.id } }, el("strong", { text: recordWords(record, session.store.table) }), el("p", { text: error })))),
    el("button", { type: "button", text: "Let them go", onclick: () => { session.dismiss(refused.map(({ record }) => record.id)); close(); } }),
  ];
}
