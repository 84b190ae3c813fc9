// @ts-check
// Who sees what a seat records, as it is: said before the first mark, and at the foot of the page.

import { el } from "../../dom.js";

/** @param {import("../types.js").TableState | null} table @returns {string} */
export const filesWords = (table) => (table?.tasting.names_in_files
  ? "The host can save the marks of this tasting to files with your name beside them."
  : "Files that the host saves carry the number of your seat and not your name.");

/** @param {import("../types.js").TableState | null} table @returns {Node[]} */
export const privacyParts = (table) => [
  el("p", { text: "While the tasting is open the host sees your name and how many places you have marked, not where." }),
  el("p", { text: "Once it has closed, the wall and the host’s debrief show what the whole table marked, with nobody’s name." }),
  el("p", { text: "Your own debrief opens with the address of your seat. No page of the host’s shows it, but whoever has your address can open it, as the host could by moving your seat to another phone: keep it to yourself." }),
  el("p", { text: filesWords(table) }),
];
