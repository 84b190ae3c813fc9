// @ts-check
// What can be said about one bowl besides its places: words and a note. The bowl is the one
// whose token was touched last, or another chosen here.

import { el, keepList, setAttribute } from "../../dom.js";
import { makeNote } from "./note.js";
import { makeWords } from "./words.js";

/** @param {import("../session.js").Session} session */
export function makeBowlWords(session) {
  const { store } = session;
  const words = makeWords(session);
  const note = makeNote(session);
  const bowls = el("div", { class: "chips", role: "group", "aria-label": "Which bowl" });
  const ask = el("p", { class: "quiet", text: "Choose a bowl." });
  const rest = el("div", {}, words.element, note.element);
  const element = el("div", { class: "bowl-words-panel" }, bowls, ask, rest);

  function update() {
    const { codes, view } = store;
    keepList(bowls, codes, (code) => code,
      (code) => el("button", { type: "button", class: "chip code", text: code, data: { words: code }, onclick: () => session.look({ bowl: code }) }),
      (node, code) => {
        setAttribute(node, "aria-pressed", String(code === view.bowl));
        node.classList.toggle("has", Boolean(store.index.words.get(code)?.size || store.index.notes.get(code)?.text));
      });
    ask.hidden = view.bowl !== null;
    rest.hidden = view.bowl === null;
    words.update();
    note.update();
  }
  return { element, update, flush: note.flush };
}
