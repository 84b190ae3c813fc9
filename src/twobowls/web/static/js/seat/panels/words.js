// @ts-check
// Words for one bowl: broad families first, finer words inside; each liked, disliked or neutral.

import { el, keepList, setAttribute, setText } from "../../dom.js";
import { wordKey } from "../records.js";

/** @typedef {import("../types.js").Family} Family @typedef {import("../types.js").Feeling} Feeling */

/** @type {Array<[Feeling, string]>} */
const FEELINGS = [["liked", "like"], ["neutral", "neutral"], ["disliked", "dislike"]];

/** @param {import("../session.js").Session} session */
export function makeWords(session) {
  const { store } = session;
  const chosen = el("ul", { class: "words-chosen" });
  const families = el("div", { class: "chips", role: "group", "aria-label": "Families of words" });
  const finer = el("div", { class: "words-finer", hidden: true });
  const element = el("div", { class: "words" }, chosen, families, finer);
  /** @type {string | null} */
  let open = null;

  /** @param {string} family @param {string} term @param {Feeling} feeling */
  function say(family, term, feeling) {
    const { bowl, round } = store.view;
    if (bowl && round) session.record({ kind: "word", bowl, family, term, feeling, round });
  }

  /** @param {string} family @param {string} term */
  function nameOf(family, term) {
    const found = store.table?.families.find(({ key }) => key === family);
    return (term && found?.terms.find(({ key }) => key === term)?.name) || found?.name || family;
  }

  /** @param {import("../types.js").WordRecord} word */
  function makeChosen({ family, term }) {
    const name = nameOf(family, term);
    return el("li", { class: "word", data: { family, term } },
      el("span", { class: "word-name", text: name }),
      el("button", { type: "button", class: "word-remove", "aria-label": `Remove ${name}`, text: "×", onclick: () => say(family, term, "removed") }),
      el("div", { class: "choices", role: "group", "aria-label": `${name}: do you like it here?` }, ...FEELINGS.map(([feeling, text]) =>
        el("button", { type: "button", class: "choice", text, data: { feeling }, onclick: () => say(family, term, feeling) }))));
  }

  /** @param {Family} family */
  const makeFamily = ({ key, name }) => el("button", {
    type: "button", class: "chip", text: name, data: { family: key }, "aria-controls": "words-finer", onclick: () => { open = open === key ? null : key; update(); },
  });

  /** @param {string} key of the chip @param {string} text @param {string} family @param {string} term */
  const makeTerm = (key, text, family, term) => el("button", { type: "button", class: "chip", text, data: { key, family, term }, onclick: () => toggle(family, term) });

  /** @param {string} family @param {string} term */
  function toggle(family, term) {
    say(family, term, words().has(wordKey(family, term)) ? "removed" : "neutral");
  }

  /** @returns {Map<string, import("../types.js").WordRecord>} */
  const words = () => store.index.words.get(store.view.bowl ?? "") ?? new Map();

  /** @param {Family | undefined} family */
  function showFiner(family) {
    finer.hidden = !family;
    finer.id = "words-finer";
    if (!family) return;
    if (finer.dataset.family !== family.key) {
      finer.dataset.family = family.key;
      const plain = makeTerm("", `${family.name}, no finer`, family.key, "");
      finer.replaceChildren(el("p", { class: "quiet small", text: family.hint ?? "" }),
        el("div", { class: "chips", role: "group", "aria-label": `Words of the family ${family.name}` }, plain, ...family.terms.map(({ key, name }) => makeTerm(key, name, family.key, key))));
    }
    for (const chip of finer.querySelectorAll("button")) setAttribute(chip, "aria-pressed", String(words().has(wordKey(family.key, chip.dataset.term ?? ""))));
  }

  function update() {
    const all = store.table?.families ?? [];
    keepList(chosen, [...words().values()], ({ bowl, family, term }) => `${bowl} ${family} ${term}`, makeChosen, (node, { feeling }) => {
      for (const button of node.querySelectorAll(".choice")) setAttribute(button, "aria-pressed", String(/** @type {HTMLElement} */ (button).dataset.feeling === feeling));
    });
    keepList(families, all, ({ key }) => key, makeFamily, (node, { key, name }) => {
      const count = [...words().values()].filter(({ family }) => family === key).length;
      setAttribute(node, "aria-expanded", String(key === open));
      setText(node, count ? `${name} · ${count}` : name);
    });
    showFiner(all.find(({ key }) => key === open));
  }
  return { element, update };
}
