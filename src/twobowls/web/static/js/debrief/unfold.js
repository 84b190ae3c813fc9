// @ts-check
// Opens every folded part that an element stands in.

/**
 * @param {Document} page
 * @param {string} id
 * @returns {boolean} whether there is such an element
 */
export function unfold(page, id) {
  const target = id ? page.getElementById(id) : null;
  if (!target) return false;
  let folded = false;
  for (let part = target.closest("details"); part; part = part.parentElement?.closest("details") ?? null) {
    folded ||= !part.open;
    part.open = true;
  }
  if (folded) target.scrollIntoView({ block: "center" });
  return true;
}
