// @ts-check
// Keeps the screen on while there is something to mark or to wait for, where the browser lets a
// page ask for that; elsewhere the phone locks as it always does, and the seat goes on afterwards.

/**
 * @param {{wakeLock?: WakeLock}} [browser]
 * @param {Document} [page]
 * @returns {(on: boolean) => void}
 */
export function makeAwake(browser = navigator, page = document) {
  /** @type {WakeLockSentinel | null} */
  let lock = null;
  let asking = false;
  let wanted = false;

  async function settle() {
    if (asking || !browser.wakeLock) return;
    if (!wanted && lock) await lock.release().catch(() => {});
    if (!wanted || lock || page.hidden) return;
    asking = true;
    try {
      lock = await browser.wakeLock.request("screen");
      lock.addEventListener("release", () => { lock = null; });
    } catch {
      // A nearly empty battery, or a browser that says no.
    }
    asking = false;
    if (!wanted) settle();
  }

  // A page out of sight loses its lock; it asks again when it is looked at.
  page.addEventListener("visibilitychange", settle);
  return (on) => {
    if (on === wanted) return;
    wanted = on;
    settle();
  };
}
