// @ts-check
// Sends the forms of a live page without leaving it; what was typed stays until it was taken.

/** Not a refusal: the server wants to be told that it is meant so. */
const ASKED = "sure?";

/**
 * @param {HTMLElement} page
 * @param {HTMLElement} trouble where a refusal is said
 */
export function sendInPlace(page, trouble) {
  page.addEventListener("submit", async (event) => {
    const form = /** @type {HTMLFormElement} */ (event.target);
    if (!("live" in form.dataset)) return;
    event.preventDefault();
    const button = event.submitter;
    button?.setAttribute("aria-busy", "true");
    const sent = typedIn(form);
    const refusal = await send(form.action, sent);
    button?.removeAttribute("aria-busy");
    if (refusal === ASKED) { form.submit(); return; } // the server's page asks
    trouble.textContent = refusal;
    trouble.hidden = !refusal;
    if (!refusal && typedIn(form) === sent) { // else the next is being typed already
      if ("clear" in form.dataset) form.reset();
      form.closest("details")?.removeAttribute("open");
    }
  });
}

/** @param {HTMLFormElement} form @returns {string} */
const typedIn = (form) => new URLSearchParams(/** @type {any} */ (new FormData(form))).toString();

/** @param {string} action @param {string} typed @returns {Promise<string>} why not, or nothing */
async function send(action, typed) {
  const body = new URLSearchParams(typed);
  try {
    const response = await fetch(action, { method: "POST", body, headers: { Accept: "application/json" } });
    if (response.ok) return "";
    const answer = await response.json();
    return answer.error.field === "sure" ? ASKED : answer.error.message;
  } catch {
    return "The server does not answer. Nothing was changed; try again in a moment.";
  }
}
