// @ts-check
// The row of pads: which there are in this round, which is open, how far each has come.

import { el, keepList, setAttribute, setText } from "../../dom.js";
import { placedCount } from "../records.js";

/** @param {import("../session.js").Session} session */
export function makeSensations(session) {
  const { store } = session;
  const list = el("div", { class: "pads-row", onkeydown: arrows });
  const element = el("nav", { class: "pads-nav", "aria-label": "Pads of this round" }, list);
  let shown = "";

  /** @param {import("../types.js").Sensation} sensation */
  const make = ({ key, name }) => el("button", { type: "button", class: "pads-tab", data: { pad: key }, onclick: () => session.look({ sensation: key }) },
    el("span", { text: name }), el("span", { class: "pads-count" }));

  /** One stop of the Tab key for the whole row. @param {KeyboardEvent} event */
  function arrows(event) {
    const by = { ArrowLeft: -1, ArrowRight: 1 }[event.key] ?? 0;
    const place = [...list.children].indexOf(/** @type {Element} */ (document.activeElement)) + by;
    const tab = by ? list.children[place] : undefined;
    if (tab instanceof HTMLElement) tab.focus();
  }

  function update() {
    const { view, codes, index } = store;
    keepList(list, store.sensations, ({ key }) => key, make, (node, { key, name }) => {
      const done = placedCount(index, codes, key, view.round ?? "");
      const all = done === codes.length;
      setAttribute(node, "aria-current", key === view.sensation ? "step" : false);
      setAttribute(node, "aria-label", `${name}, ${all ? "all" : done} of ${codes.length} bowls placed`);
      setAttribute(node, "tabindex", key === view.sensation ? 0 : -1);
      node.classList.toggle("done", all);
      setText(/** @type {Element} */ (node.querySelector(".pads-count")), all ? "✓" : `${done}/${codes.length}`);
    });
    if (view.sensation !== shown) reveal(view.sensation);
  }

  /** Keep the open pad's name in sight in a narrow row. @param {string | null} key */
  function reveal(key) {
    const tab = [...list.children].find((child) => /** @type {HTMLElement} */ (child).dataset.pad === key);
    if (!(tab instanceof HTMLElement) || !element.clientWidth) return;
    shown = key ?? "";
    list.scrollTo({ left: tab.offsetLeft - (list.clientWidth - tab.offsetWidth) / 2, behavior: "auto" });
  }
  return { element, update };
}
