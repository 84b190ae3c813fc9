// @ts-check
// A free note on one bowl. What is half typed is kept on the phone with every letter; a record
// is made when the typing rests.

import { el, setText } from "../../dom.js";

const REST_MS = 1500;
const LONGEST = 2000;

/** @param {import("../session.js").Session} session */
export function makeNote(session) {
  const { store, memory } = session;
  const drafts = memory.drafts();
  const label = el("label", { for: "note" });
  const area = el("textarea", { id: "note", rows: 3, maxlength: LONGEST, autocomplete: "off" });
  const element = el("div", { class: "note field" }, label, area);
  /** @type {string | null} */
  let bowl = null;
  /** @type {any} */
  let timer = null;
  /** When the last letter was typed, by bowl. @type {Record<string, number>} */
  const typed = {};

  /** @param {string} code */
  const saved = (code) => store.index.notes.get(code)?.text ?? "";

  /** @param {string} code */
  function settle(code) {
    const text = drafts[code];
    const round = store.view.round;
    if (text === undefined || !round) return;
    delete drafts[code];
    memory.keepDrafts(drafts);
    if (text !== saved(code)) session.record({ kind: "note", bowl: code, text, round }, typed[code]);
  }

  area.addEventListener("input", () => {
    if (!bowl) return;
    const code = bowl;
    drafts[code] = area.value;
    typed[code] = performance.now();
    memory.keepDrafts(drafts);
    clearTimeout(timer);
    timer = setTimeout(() => settle(code), REST_MS);
  });
  area.addEventListener("blur", () => { if (bowl) settle(bowl); });

  function update() {
    if (store.view.bowl !== bowl) {
      if (bowl) settle(bowl);
      bowl = store.view.bowl;
      area.value = bowl ? (drafts[bowl] ?? saved(bowl)) : "";
    } else if (bowl && document.activeElement !== area && drafts[bowl] === undefined) {
      area.value = saved(bowl);
    }
    setText(label, `Note on ${bowl ?? ""}`);
    for (const code of Object.keys(drafts)) if (code !== bowl) settle(code);
  }
  return { element, update, flush: () => { if (bowl) settle(bowl); } };
}
