// @ts-check
// A bowl's tone: the same on the seat, on the wall and in the debrief, since it follows from the
// codes of the tasting alone. Knows no colour; the style sheets have --tone-1 to --tone-8.

/** How many tones the style sheets know. With more bowls than that the tones begin again. */
export const TONES = 8;

/**
 * @param {string} code of the bowl
 * @param {Iterable<string>} codes of all bowls of the tasting, in whatever order
 * @returns {string} "1" to "8": the code's place among the sorted codes; "1" for a code not among them
 */
export function toneOf(code, codes) {
  const place = [...codes].sort().indexOf(code);
  return String((Math.max(0, place) % TONES) + 1);
}
