// @ts-check
// Rounds and flights: where the table is, and going back to an earlier round.

import { el, keepList, setAttribute, setText } from "../../dom.js";
import { roundProgress } from "../records.js";
import { openRounds } from "../screens.js";
import { backWords, progressWords } from "../wording.js";

/** @type {Array<["sensations" | "bowls", string]>} */
const WALKS = [["sensations", "sensation by sensation"], ["bowls", "bowl by bowl"]];

/** @param {import("../session.js").Session} session @param {() => void} done something has been chosen */
export function makeRounds(session, done) {
  const { store } = session;
  const rounds = el("div", { class: "chips", role: "group", "aria-label": "Rounds" });
  const flights = el("div", { class: "chips flights", role: "group", "aria-label": "Flights" });
  const back = el("p", { class: "callout rounds-back", hidden: true });
  const progress = el("p", { class: "quiet small rounds-progress" });
  const walks = el("div", { class: "choices walks", role: "group", "aria-label": "Your walk" }, ...WALKS.map(([walk, text]) =>
    el("button", { type: "button", class: "choice", text, data: { walk }, onclick: () => { session.look({ walk }); done(); } })));
  const mode = el("button", { type: "button", class: "plain", onclick: () => { session.look({ mode: store.view.mode === "pad" ? "sliders" : "pad" }); done(); } });
  const element = el("div", { class: "rounds-panel" }, back, rounds, progress, flights, el("p", { class: "quiet small walk-note", text: "The button onward goes:" }), walks, mode);

  function update() {
    const { table, view } = store;
    if (!table) return;
    const open = openRounds(table).map(({ key }) => key);
    keepList(rounds, table.rounds, ({ key }) => key,
      ({ key, name }) => el("button", { type: "button", class: "chip", text: name, data: { round: key }, onclick: () => { session.look({ round: key }); done(); } }),
      (node, { key }) => {
        setAttribute(node, "disabled", !open.includes(key));
        setAttribute(node, "aria-pressed", key === view.round ? "true" : "false");
        node.classList.toggle("current", key === table.round);
      });
    flights.hidden = table.flights.length < 2;
    keepList(flights, table.flights.map((codes, place) => ({ codes, place })), ({ place }) => String(place),
      ({ codes, place }) => el("button", {
        type: "button", class: "chip", text: `Flight ${place + 1} · ${codes.length} bowls`, data: { flight: String(place) },
        onclick: () => { session.look({ flight: place, bowl: null }); done(); },
      }),
      (node, { place }) => setAttribute(node, "aria-pressed", place === view.flight ? "true" : "false"));
    setText(mode, view.mode === "pad" ? "Use sliders instead" : "Use the pad instead");
    for (const button of walks.querySelectorAll("button")) setAttribute(button, "aria-pressed", String(button.dataset.walk === store.walk));
    const current = table.rounds.find(({ key }) => key === table.round);
    setText(progress, progressWords(roundProgress(store.index, table.flights, store.sensations, view.round ?? ""), view.round === table.round));
    back.hidden = view.stays !== table.round || view.round === table.round;
    setText(back, back.hidden ? "" : backWords(store.round?.name ?? "", current?.name ?? ""));
  }
  return { element, update };
}
