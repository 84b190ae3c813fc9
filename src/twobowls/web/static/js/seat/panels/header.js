// @ts-check
// The top of the page: which tasting, whose seat, and quietly what is saved where.

import { el, setAttribute, setText } from "../../dom.js";
import { savedWords } from "../wording.js";

/** @param {import("../session.js").Session} session @param {() => void} showRefused @param {() => void} showMore */
export function makeHeader({ store }, showRefused, showMore) {
  const name = el("h1", { class: "seat-name" });
  const who = el("p", { class: "seat-who" });
  const saved = el("p", { class: "seat-saved", role: "status", data: { saved: "all" } });
  const why = el("button", { type: "button", class: "seat-why", hidden: true, text: "Why?", "aria-label": "Why were some not accepted?", onclick: showRefused });
  const more = el("button", { type: "button", class: "seat-more", onclick: showMore });
  const called = el("div", { class: "seat-called" });
  const element = el("header", { class: "seat-header" }, name, more, called, el("div", { class: "seat-status" }, who, saved, why));

  function update() {
    const { table, saved: state } = store;
    setText(name, table?.tasting.name ?? "Tasting");
    setText(who, table ? `${table.seat.nickname}, seat ${table.seat.number}` : "");
    const { waiting, refused, reachable, unknown, full, keeps } = state;
    setText(saved, table ? savedWords({ waiting, refused: refused.length, reachable, unknown, full, keeps }) : "");
    saved.dataset.saved = refused.length ? "refused" : waiting ? "waiting" : reachable && !unknown ? "all" : "away";
    setText(more, `${store.round?.name ?? ""} ▾`);
    setAttribute(more, "aria-label", `${store.round?.name ?? ""}: rounds, walk and more`);
    why.hidden = refused.length === 0;
  }
  return { element, called, update };
}
