// @ts-check
/** Finding one row by typing: the first few that match, each as wide as a thumb. */

import { Offline, get } from "../api.js";
import { h, replace } from "../dom.js";
import { textField } from "./field.js";
import { t } from "../words.js";

const PAUSE_MS = 250;
const SHOWN = 6;

/**
 * @param {{path: string, label: string, hint: string, row: (item: any) => {name: string, more: string},
 *          take: (item: any) => void, nothing: (search: string) => string}} options
 * @returns {HTMLElement}
 */
export function pick({ path, label, hint, row, take, nothing }) {
  const list = h("ul", { class: "rows" });
  const state = h("p", { class: "soft small", role: "status" });
  /** @type {ReturnType<typeof setTimeout> | undefined} */
  let pause;
  let asked = 0;
  const search = textField({ name: "find", label, hint, type: "search", onChange: () => {
    clearTimeout(pause);
    pause = setTimeout(find, PAUSE_MS);
  } });
  list.hidden = true;

  async function find() {
    const words = search.value.trim();
    const mine = ++asked;
    if (!words) {
      list.hidden = true;
      replace(state);
      return;
    }
    let answer;
    try {
      answer = await get(`${path}?search=${encodeURIComponent(words)}`);
    } catch (error) {
      if (!(error instanceof Offline)) throw error;
      replace(state, t("No connection: known ones cannot be searched now. Enter it as new, or wait."));
      return;
    }
    if (mine !== asked) return;
    replace(list, ...answer.results.slice(0, SHOWN).map((/** @type {any} */ item) => {
      const { name, more } = row(item);
      return h("li", null, h("button", { type: "button", class: "row", onclick: () => take(item) },
        h("span", { class: "row-name" }, name), h("span", { class: "row-more" }, more)));
    }));
    list.hidden = !answer.count;
    const rest = answer.count - SHOWN;
    replace(state, answer.count ? (rest > 0 ? t("{rest} more match: type more of it.", { rest }) : "") : nothing(words));
  }

  /** @param {KeyboardEvent} event */
  function enter(event) {
    if (event.key !== "Enter" || !(event.target instanceof HTMLInputElement)) return;
    // Enter searches now; it does not send the form around it.
    event.preventDefault();
    clearTimeout(pause);
    find();
  }

  return h("div", { class: "pick", onkeydown: enter }, h("search", null, search.element), state, list);
}
