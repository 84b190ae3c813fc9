// @ts-check
// What comes next on one bowl's clock, and in how many seconds. Pure.

/**
 * @typedef {{break_s: number, skim_s: number, first_sip_s: number, rounds: Record<string, number | null>}} Clock
 * @typedef {{text: string, in_s: number | null, due: boolean}} Next
 */

/** For so long after its time a step is still shown as due. */
export const DUE_FOR_S = 25;

/**
 * @param {Clock} clock
 * @param {Array<{key: string, name: string}>} rounds in the order of the tasting
 * @returns {Array<{at_s: number, text: string}>} in the order of time
 */
export function stepsOf(clock, rounds) {
  const steps = [
    { at_s: clock.break_s, text: "break the crust" },
    { at_s: clock.skim_s, text: "skim" },
    { at_s: clock.first_sip_s, text: "small sips" },
  ];
  for (const { key, name } of rounds) {
    const at = clock.rounds[key];
    if (typeof at === "number" && at > clock.first_sip_s) steps.push({ at_s: at, text: name });
  }
  return steps.sort((a, b) => a.at_s - b.at_s);
}

/**
 * @param {number} since seconds since the pour
 * @param {Array<{at_s: number, text: string}>} steps
 * @returns {Next}
 */
export function nextStep(since, steps) {
  const due = steps.filter((step) => step.at_s <= since && since < step.at_s + DUE_FOR_S).at(-1);
  if (due) return { text: due.text, in_s: 0, due: true };
  const coming = steps.find((step) => step.at_s > since);
  if (coming) return { text: coming.text, in_s: coming.at_s - since, due: false };
  return { text: "all rounds ready", in_s: null, due: false };
}

/** @param {number} seconds @returns {string} such as 4:05 */
export function clockText(seconds) {
  const whole = Math.max(0, Math.floor(seconds));
  return `${Math.floor(whole / 60)}:${String(whole % 60).padStart(2, "0")}`;
}

/**
 * When a round is ready in every poured bowl.
 * @param {number | null | undefined} ready_s seconds after the pour
 * @param {Record<string, number | null>} poured
 * @param {number} now host's time in ms
 * @returns {number | null} seconds from now, null while a bowl has no clock or the round needs none
 */
export function roundReadyIn(ready_s, poured, now) {
  const pours = Object.values(poured);
  if (typeof ready_s !== "number" || pours.some((at) => at === null)) return null;
  return (Math.max(.../** @type {number[]} */ (pours)) - now) / 1000 + ready_s;
}
