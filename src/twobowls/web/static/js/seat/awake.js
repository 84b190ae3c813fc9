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
  let wanted = false;
  let busy = false;
  /** Something has changed since the browser was asked last. */
  let again = false;

  async function step() {
    if (!wanted) return lock?.release();
    if (lock || page.hidden || !browser.wakeLock) return;
    lock = await browser.wakeLock.request("screen");
    lock.addEventListener("release", () => { lock = null; });
  }

  /** One step at a time: while the browser is asked, the page may be hidden, shown or closed. */
  async function settle() {
    again = true;
    if (busy) return;
    busy = true;
    while (again) {
      again = false;
      await step().catch(() => {}); // a nearly empty battery, or a browser that says no
    }
    busy = false;
  }

  // A page out of sight loses its lock; it asks again when it is looked at.
  page.addEventListener("visibilitychange", settle);
  return (on) => {
    if (on === wanted) return;
    wanted = on;
    settle();
  };
}
