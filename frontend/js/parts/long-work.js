// @ts-check
/** Work that takes its time: how far it is, and a way to call it off. */

import { h, replace } from "../dom.js";
import { t } from "../words.js";

/**
 * Run `work` with a bar and a button in `place`; both go when it is done.
 *
 * @template V
 * @param {HTMLElement} place
 * @param {string} words what is going on
 * @param {(signal: AbortSignal, so: (part: number) => void) => Promise<V>} work `so` says how much is done, 0 to 1
 * @returns {Promise<V | null>} null when it was called off
 */
export async function longWork(place, words, work) {
  const calledOff = new AbortController();
  const bar = h("progress", { max: "1", "aria-label": words });
  replace(place, h("p", { role: "status" }, words), bar,
    h("div", { class: "actions" }, h("button", { type: "button", onclick: () => calledOff.abort() }, t("Call it off"))));
  try {
    return await work(calledOff.signal, (part) => {
      bar.value = part;
    });
  } catch (error) {
    if (calledOff.signal.aborted) return null;
    throw error;
  } finally {
    replace(place);
  }
}
