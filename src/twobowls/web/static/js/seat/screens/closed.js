// @ts-check
// The host has closed the tasting: thanks, and the way to the private debrief.

import { el, setText } from "../../dom.js";

/** @param {import("../session.js").Session} session @param {string} seat key */
export function makeClosed({ store }, seat) {
  const title = el("h2");
  const counts = el("p");
  const unsent = el("p", { class: "callout", role: "status", hidden: true });
  const element = el("div", { class: "screen", data: { screen: "closed" } },
    el("section", { class: "card closed" }, title, counts, unsent,
      el("p", {}, el("a", { class: "button first", href: `/seat/${encodeURIComponent(seat)}/debrief`, text: "See your own debrief" })),
      el("p", { class: "quiet small", text: "Your marks beside the table’s. No page of the host’s shows it." })));

  function update() {
    const { table, records, saved } = store;
    if (!table) return;
    const refused = new Set(saved.refused.map(({ record }) => record.id));
    const marks = records.filter(({ kind, id }) => kind === "mark" && !refused.has(id)).length;
    setText(title, `Thank you, ${table.seat.nickname}.`);
    setText(counts, `The tasting is closed. ${marks === 1 ? "1 mark of yours is" : `${marks || "No"} marks of yours are`} in it${table.tasting.state === "revealed" ? ", and the coffees are revealed." : "."}`);
    unsent.hidden = saved.waiting === 0;
    setText(unsent, saved.waiting ? `${saved.waiting} still wait on this phone. Keep this page open within reach of the laptop.` : "");
  }
  return { element, update };
}
