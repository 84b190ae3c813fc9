// @ts-check
// A sheet that comes up from the lower edge: the guide, the other phone, the refusals.

import { el } from "../../dom.js";

/** @param {string} name for tests and styles */
export function makeSheet(name) {
  const title = el("h2", { id: `sheet-${name}` });
  const body = el("div", { class: "sheet-body" });
  const element = el("dialog", { class: "sheet", "aria-labelledby": `sheet-${name}`, data: { sheet: name } },
    title, body, el("button", { type: "button", class: "first sheet-close", text: "Close", onclick: () => element.close() }));
  // A tap beside the sheet closes it.
  element.addEventListener("click", (event) => { if (event.target === element) element.close(); });
  return {
    element,
    /** @param {string} heading @param {Node[]} content */
    open(heading, content) {
      title.textContent = heading;
      body.replaceChildren(...content);
      if (!element.open) element.showModal();
    },
    close: () => element.close(),
  };
}
