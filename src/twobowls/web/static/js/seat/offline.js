// @ts-check
// Lets the browser keep this page for a reload out of reach. Browsers do that for addresses they
// trust only (encrypted, or this computer); everywhere else the seat lives without it.

/** @param {{serviceWorker?: ServiceWorkerContainer}} [browser] @param {boolean} [trusted] */
export async function keepPage(browser = navigator, trusted = isSecureContext) {
  if (!trusted || !browser.serviceWorker) return;
  try {
    await browser.serviceWorker.register("/seat-worker.js", { scope: "/seat/", updateViaCache: "none" });
  } catch {
    // Forbidden, full, or an older server: then the page is fetched anew at each reload.
  }
}
