// @ts-check
/**
 * Builds the page's elements. Text always goes in as text: nothing here parses markup.
 *
 * @typedef {Node | string | number | null | undefined | false} Child
 */

/**
 * Make an element. Of `props`, a function under `on…` listens to that event, `value` and `checked` are set as the
 * element's state, true gives a bare attribute, and null, undefined and false give none.
 *
 * @template {keyof HTMLElementTagNameMap} T
 * @param {T} tag
 * @param {Record<string, any> | null} [props]
 * @param {...(Child | Child[])} children
 * @returns {HTMLElementTagNameMap[T]}
 */
export function h(tag, props = null, ...children) {
  const element = document.createElement(tag);
  element.append(...present(children));
  for (const [name, value] of Object.entries(props ?? {})) {
    if (value === null || value === undefined || value === false) continue;
    if (typeof value === "function") element.addEventListener(name.slice(2), value);
    else if (name === "value" || name === "checked") Reflect.set(element, name, value);
    else element.setAttribute(name, value === true ? "" : String(value));
  }
  return element;
}

/**
 * Put `children` in the place of whatever `node` holds.
 *
 * @template {Element} E
 * @param {E} node
 * @param {...(Child | Child[])} children
 * @returns {E}
 */
export function replace(node, ...children) {
  node.replaceChildren(...present(children));
  return node;
}

/**
 * Write other words where words stand, and leave the elements alone: a change of elements costs a look at every rule.
 * @param {Element} element
 * @param {string} text
 */
export function write({ firstChild }, text) {
  if (firstChild && firstChild.nodeValue !== text) firstChild.nodeValue = text;
}

let made = 0;

/**
 * Return an id that no other element of this page has.
 *
 * @param {string} stem
 */
export function freshId(stem) {
  made += 1;
  return `${stem}-${made}`;
}

/**
 * @param {(Child | Child[])[]} children
 * @returns {(Node | string)[]}
 */
function present(children) {
  /** @type {(Node | string)[]} */
  const kept = [];
  for (const child of children.flat()) {
    if (child === null || child === undefined || child === false) continue;
    kept.push(child instanceof Node ? child : String(child));
  }
  return kept;
}
