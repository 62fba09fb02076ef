// @ts-check
/** Redrawing without taking anything out of the person's hand. */

/**
 * Redraw inside `node`; the field of the same name keeps the focus and the place of the cursor.
 * @param {HTMLElement} node
 * @param {() => void} redraw
 */
export function keepFocus(node, redraw) {
  const before = /** @type {any} */ (document.activeElement);
  const inside = before && node.contains(before);
  const name = inside ? (before.id && !/-\d+$/.test(before.id) ? `#${CSS.escape(before.id)}` : nameOf(before)) : null;
  const cursor = inside && before.type === "text" ? [before.selectionStart, before.selectionEnd] : null;
  redraw();
  if (!name) return;
  const after = /** @type {any} */ (node.querySelector(name));
  after?.focus({ preventScroll: true });
  if (cursor && after?.setSelectionRange) after.setSelectionRange(...cursor);
}

/** @param {any} element */
function nameOf(element) {
  if (!element.name) return null;
  const value = element.type === "radio" ? `[value="${CSS.escape(element.value)}"]` : "";
  return `[name="${CSS.escape(element.name)}"]${value}`;
}

/**
 * Calls `paint` soon, once for many askings, and never while a finger is on the screen: what is under it would go away.
 * @param {() => void} paint
 */
export function painter(paint) {
  let asked = 0;
  const run = () => {
    asked = 0;
    if (pressed) later.add(ask);
    else paint();
  };
  function ask() {
    if (!asked) asked = requestAnimationFrame(run);
  }
  return ask;
}

let pressed = false;
/** @type {Set<() => void>} */
const later = new Set();

const released = () => {
  pressed = false;
  // After the click that follows the release.
  setTimeout(() => {
    const asked = [...later];
    later.clear();
    for (const ask of asked) ask();
  });
};
addEventListener("pointerdown", () => (pressed = true), true);
addEventListener("pointerup", released, true);
addEventListener("pointercancel", released, true);
