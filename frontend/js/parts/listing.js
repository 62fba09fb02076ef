// @ts-check
/**
 * A list that is searched while one types, fifty rows at a time. Where nothing is found it says what would be here.
 *
 * @typedef {{count: number, more_than_count: boolean, next: string | null, results: any[]}} Page
 */

import { Offline, get } from "../api.js";
import { h, replace } from "../dom.js";
import { textField } from "./field.js";
import { t } from "../words.js";

const PAUSE_MS = 250;
const FIRST = "1";

/**
 * @param {{path: string, label: string, hint?: string, row: (item: any) => HTMLElement, empty: import("../dom.js").Child[],
 *          nothing: (search: string) => string, filters?: import("./field.js").Field[],
 *          named: (count: number) => string, searched?: boolean}} options
 *   `row` makes one `<li>`; `filters` are fields whose values go into the query under their names; `empty` is shown
 *   when the list holds nothing at all, `nothing` when nothing matches; `searched`: whether there is anything to search by
 */
export function listing({ path, label, hint = "", row, empty, nothing, filters = [], named, searched = true }) {
  const count = h("p", { class: "soft small", role: "status" });
  const list = h("ul", { class: "rows" });
  const more = h("div", { class: "pages" });
  const search = textField({ name: "search", label, type: "search", hint, onChange: () => {
    clearTimeout(pause);
    pause = setTimeout(() => fetchPage(FIRST), PAUSE_MS);
  } });
  /** @type {ReturnType<typeof setTimeout> | undefined} */
  let pause;
  let asked = 0;

  /** @param {string} page the first, or what the page before says comes next */
  async function fetchPage(page) {
    const mine = ++asked;
    const query = new URLSearchParams({ page });
    if (search.value.trim()) query.set("search", search.value.trim());
    for (const filter of filters) if (filter.value) query.set(filter.name, filter.value);
    /** @type {Page} */
    let answer;
    try {
      answer = await get(`${path}?${query}`);
    } catch (error) {
      if (!(error instanceof Offline)) throw error;
      if (mine === asked) replace(count, t("No connection: the list is as it was last seen."));
      return;
    }
    if (mine !== asked) return;
    const items = answer.results.map(row);
    if (page === FIRST) replace(list, ...items);
    else list.append(...items);
    const narrowed = search.value.trim() || filters.some((filter) => filter.value);
    replace(count, !answer.count ? "" : answer.more_than_count ? t("More than {what}", { what: named(answer.count) }) : named(answer.count));
    if (!answer.count) {
      replace(list, h("li", null, h("div", { class: "empty" }, ...(narrowed ? [nothing(search.value.trim())] : empty))));
    }
    const next = answer.next;
    replace(more, next ? h("button", { type: "button", onclick: () => fetchPage(next) }, t("Show more")) : null);
    if (page !== FIRST) /** @type {HTMLElement | null} */ (items[0]?.querySelector("a, button"))?.focus();
  }

  const bar = h("search", null, h("div", { class: "finder" }, searched ? search.element : null, ...filters.map((filter) => filter.element)));
  return { element: h("div", null, searched || filters.length ? bar : null, count, list, more), fetchPage, again: () => fetchPage(FIRST), search };
}
