// @ts-check
// Making elements without any string of HTML: text is always text.

/**
 * @typedef {Record<string, any>} Props `text`, `data`, `on<event>` handlers, or attributes;
 *   true gives an empty attribute, false, null and undefined none
 */

/**
 * @param {Element} node
 * @param {Props} props
 */
function apply(node, props) {
  for (const [name, value] of Object.entries(props)) {
    if (name === "text") node.textContent = value;
    else if (name === "data") Object.assign(/** @type {HTMLElement} */ (node).dataset, value);
    else if (name.startsWith("on")) node.addEventListener(name.slice(2), value);
    else setAttribute(node, name, value);
  }
}

/**
 * @param {Element} node
 * @param {string} name
 * @param {any} value false, null and undefined remove it
 */
export function setAttribute(node, name, value) {
  if (value === false || value === null || value === undefined) node.removeAttribute(name);
  else if (node.getAttribute(name) !== String(value)) node.setAttribute(name, value === true ? "" : String(value));
}

/**
 * @template {keyof HTMLElementTagNameMap} T
 * @param {T} tag
 * @param {Props} [props]
 * @param {...(Node | string)} children
 * @returns {HTMLElementTagNameMap[T]}
 */
export function el(tag, props = {}, ...children) {
  const node = document.createElement(tag);
  apply(node, props);
  node.append(...children);
  return node;
}

/**
 * @template {keyof SVGElementTagNameMap} T
 * @param {T} tag
 * @param {Props} [props]
 * @returns {SVGElementTagNameMap[T]}
 */
export function svg(tag, props = {}) {
  const node = document.createElementNS("http://www.w3.org/2000/svg", tag);
  apply(node, props);
  return node;
}

/** Change text only when it differs, so that live regions speak once. @param {Node} node @param {string} text */
export function setText(node, text) {
  if (node.textContent !== text) node.textContent = text;
}

/**
 * Make a parent's children follow a list, keeping the elements (and the focus) of items that stay.
 * @template T
 * @param {Element} parent
 * @param {T[]} items
 * @param {(item: T) => string} keyOf
 * @param {(item: T) => HTMLElement} create
 * @param {(node: HTMLElement, item: T, index: number) => void} [update]
 */
export function keepList(parent, items, keyOf, create, update) {
  const had = new Map([...parent.children].map((child) => [/** @type {HTMLElement} */ (child).dataset.key, child]));
  const wanted = items.map((item, index) => {
    const key = keyOf(item);
    const node = /** @type {HTMLElement} */ (had.get(key) ?? create(item));
    node.dataset.key = key;
    update?.(node, item, index);
    return node;
  });
  for (const child of [...parent.children]) if (!wanted.includes(/** @type {HTMLElement} */ (child))) child.remove();
  wanted.forEach((node, index) => {
    if (parent.children[index] !== node) parent.insertBefore(node, parent.children[index] ?? null);
  });
}
