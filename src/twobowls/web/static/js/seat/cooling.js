// @ts-check
// One bowl's clock: how long since its pour, about how warm, and what to do when. Pure.

/**
 * @typedef {import("./types.js").BowlClock} BowlClock
 * @typedef {"empty" | "steeping" | "hot" | "ready"} Phase
 * @typedef {{phase: Phase, celsius: number | null, seconds: number | null}} BowlState
 *   `seconds` until the phase ends; null where nothing is to come
 */

/**
 * Temperature from the shared curve, by straight lines between its points.
 * @param {Array<[number, number]>} curve seconds and celsius, rising in time
 * @param {number} seconds since the pour
 * @returns {number | null} null without a curve
 */
export function temperatureAt(curve, seconds) {
  if (!curve.length) return null;
  const after = curve.findIndex(([at]) => at >= seconds);
  if (after === 0) return curve[0][1];
  if (after < 0) return curve[curve.length - 1][1];
  const [at0, c0] = curve[after - 1];
  const [at1, c1] = curve[after];
  return c0 + ((c1 - c0) * (seconds - at0)) / (at1 - at0);
}

/**
 * @param {number | null | undefined} pouredAtMs
 * @param {number} nowMs the host's time
 * @param {BowlClock} clock
 * @param {Array<[number, number]>} curve
 * @returns {BowlState}
 */
export function bowlState(pouredAtMs, nowMs, clock, curve) {
  if (pouredAtMs === null || pouredAtMs === undefined) return { phase: "empty", celsius: null, seconds: null };
  const since = Math.max(0, (nowMs - pouredAtMs) / 1000);
  const celsius = temperatureAt(curve, since);
  if (since < clock.break_s) return { phase: "steeping", celsius, seconds: clock.break_s - since };
  const sip = clock.first_sip_s;
  if (sip === null) return { phase: "hot", celsius, seconds: null };
  if (since < sip) return { phase: "hot", celsius, seconds: sip - since };
  return { phase: "ready", celsius, seconds: null };
}

/**
 * @param {number | null | undefined} pouredAtMs
 * @param {number} nowMs the host's time
 * @param {BowlClock} clock
 * @returns {string} how long until the bowl is cool enough for small sips, 2:10; empty when it is, or is not poured
 */
export function untilSip(pouredAtMs, nowMs, clock) {
  if (pouredAtMs === null || pouredAtMs === undefined || clock.first_sip_s === null) return "";
  const left = clock.first_sip_s - (nowMs - pouredAtMs) / 1000;
  return left > 0 ? minutes(left) : "";
}

/** @param {number} seconds @returns {string} minutes and seconds, 2:10; never negative */
export function minutes(seconds) {
  const whole = Math.max(0, Math.ceil(seconds));
  return `${Math.floor(whole / 60)}:${String(whole % 60).padStart(2, "0")}`;
}

/**
 * @param {BowlState} state
 * @returns {string} a few words below the bowl's code
 */
export function bowlWords({ phase, celsius, seconds }) {
  if (phase === "empty") return "not poured yet";
  if (phase === "steeping") return `crust in ${minutes(seconds ?? 0)}`;
  if (phase === "hot") return seconds === null ? "too hot to sip" : `sip in ${minutes(seconds)}`;
  return celsius === null ? "small sips" : `${Math.round(celsius)} °C: small sips`;
}

/** Warmth as a share of the way from room to just poured. @param {number | null} celsius @returns {number} 0-1 */
export function warmth(celsius) {
  return celsius === null ? 0 : Math.min(1, Math.max(0, (celsius - 25) / 65));
}
