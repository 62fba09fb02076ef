// @ts-check
/** A button that is at work: it answers no second touch, and after a moment it says so. */

import { t } from "../words.js";

const MOMENT_MS = 600;

/**
 * Run `work` while `button` is held.
 *
 * @template V
 * @param {HTMLButtonElement} button
 * @param {() => Promise<V>} work
 * @param {string} [words] what the button says when it takes longer than a moment
 * @returns {Promise<V | undefined>} undefined when the button was already at work
 */
export async function during(button, work, words = t("Working…")) {
  if (button.getAttribute("aria-disabled") === "true") return undefined;
  const before = [...button.childNodes];
  button.setAttribute("aria-disabled", "true");
  const late = setTimeout(() => button.replaceChildren(words), MOMENT_MS);
  try {
    return await work();
  } finally {
    clearTimeout(late);
    button.removeAttribute("aria-disabled");
    button.replaceChildren(...before);
  }
}
