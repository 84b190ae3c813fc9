// @ts-check
// A sheet that comes up from the lower edge: the guide, the other phone, the refusals.

import { el } from "../../dom.js";

/** @param {string} name for tests and styles @param {...Node} content */
export function makeSheet(name, ...content) {
  const title = el("h2", { id: `sheet-${name}`, tabindex: -1 });
  const body = el("div", { class: "sheet-body" }, ...content);
  const element = el("dialog", { class: "sheet", "aria-labelledby": `sheet-${name}`, data: { sheet: name } },
    title, body, el("button", { type: "button", class: "first sheet-close", text: "Close", onclick: () => element.close() }));
  // A tap beside the sheet closes it.
  element.addEventListener("click", (event) => { if (event.target === element) element.close(); });
  return {
    element,
    /** @param {string} heading @param {Node[]} [content] what it holds from now on */
    open(heading, content) {
      title.textContent = heading;
      if (content) body.replaceChildren(...content);
      if (!element.open) element.showModal();
      title.focus({ preventScroll: true });
      element.scrollTop = 0;
    },
    close: () => element.close(),
  };
}
