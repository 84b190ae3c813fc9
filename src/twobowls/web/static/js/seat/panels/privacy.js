// @ts-check
// Who sees what a seat records, as it is: said before the first mark, and at the foot of the page.

import { el } from "../../dom.js";

/** @param {import("../types.js").TableState | null} table @returns {string} */
export const filesWords = (table) => (table?.tasting.names_in_files
  ? "The host can save the marks of this tasting to files with your name beside them."
  : "Files that the host saves carry the number of your seat and not your name.");

/** @param {import("../types.js").TableState | null} table @returns {Node[]} */
export const privacyParts = (table) => [
  el("p", { text: "During the tasting the host sees your name and how many places you have marked, not where." }),
  el("p", { text: "After it, the wall and the host’s debrief show the whole table’s marks without names." }),
  el("p", { text: "Your own debrief opens with your seat’s address, which the host can pass on to your next phone. No page of the host’s shows it." }),
  el("p", { text: filesWords(table) }),
];
