// @ts-check
// The cards of the bowls: elapsed time, what comes next, about how warm.

import { setText } from "../dom.js";
import { temperatureAt } from "../seat/cooling.js";
import { clockText, nextStep, stepsOf } from "./bowl-clock.js";

/** @param {Element} card @param {string} name */
const part = (card, name) => card.querySelector(`[data-${name}]`);

/** @param {Element} card @param {string} name @param {string} text */
function write(card, name, text) {
  const node = part(card, name);
  if (node) setText(node, text);
}

/**
 * @param {ParentNode} page
 * @param {import("./table.js").Bench} bench
 * @param {import("./table.js").Clocks} clocks
 * @param {number} now
 * @param {Array<{key: string, name: string}>} rounds
 */
export function showBowls(page, bench, clocks, now, rounds) {
  const steps = stepsOf(clocks, rounds);
  for (const card of page.querySelectorAll("[data-bowl]")) {
    const at = bench.poured[/** @type {HTMLElement} */ (card).dataset.bowl ?? ""];
    const running = typeof at === "number";
    card.classList.toggle("running", running);
    const pour = /** @type {HTMLElement | null} */ (part(card, "pour"));
    const correct = /** @type {HTMLElement | null} */ (part(card, "correct"));
    if (pour) pour.hidden = running;
    if (correct) correct.hidden = !running;
    if (!running) {
      write(card, "elapsed", "not poured");
      write(card, "next", "");
      write(card, "temperature", "");
      card.classList.remove("due");
      continue;
    }
    const since = (now - at) / 1000;
    const next = nextStep(since, steps);
    const celsius = temperatureAt(clocks.cooling, since);
    write(card, "elapsed", clockText(since));
    write(card, "next", next.due || next.in_s === null ? next.text : `${next.text} in ${clockText(next.in_s + 0.999)}`);
    write(card, "temperature", celsius === null ? "" : `≈ ${Math.round(celsius)} °C`);
    card.classList.toggle("due", next.due);
  }
}
