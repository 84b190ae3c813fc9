// @ts-check
// How warm each bowl is in the round that runs: the large figure on its card while people taste.

import { setText } from "../dom.js";
import { temperatureAt } from "../seat/cooling.js";
import { warmthWords } from "./wall-words.js";

/**
 * @param {HTMLElement} place the cards
 * @param {import("./table.js").Bench} bench
 * @param {import("./table.js").Clocks} clocks
 * @param {number} now the host's time, milliseconds
 * @param {import("./wall-words.js").WallRound[]} rounds
 */
export function showWarmth(place, bench, clocks, now, rounds) {
  const current = rounds.find(({ key }) => key === bench.round);
  place.classList.toggle("tasted", typeof current?.target === "number");
  for (const card of place.querySelectorAll("[data-bowl]")) {
    const at = bench.poured[/** @type {HTMLElement} */ (card).dataset.bowl ?? ""];
    const celsius = typeof at === "number" ? temperatureAt(clocks.cooling, (now - at) / 1000) : null;
    setText(/** @type {Element} */ (card.querySelector("[data-warmth]")), warmthWords(celsius, rounds, bench.round));
  }
}
