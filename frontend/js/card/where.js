// @ts-check
/** A number with its unit that says at a touch where it came from. */
import { h, replace } from "../dom.js";
import { inUnit } from "../units.js";
import { t } from "../words.js";

/** @type {HTMLElement|null} */
let sheet = null;

/**
 * The one place that answers "where does this come from?": a strip at the foot of the screen, left by any touch.
 * @param {string} title
 * @param {string[]} lines
 */
export function tellWhere(title, lines) {
  if (!sheet?.isConnected) {
    sheet = h("div", { class: "where", popover: "auto", role: "note" });
    document.body.append(sheet);
  }
  replace(sheet, h("strong", null, title), ...lines.map((line) => h("p", null, line)));
  sheet.showPopover();
}

/**
 * @typedef {{label: string, value: number|null|undefined, quantity: string, width?: string, more?: string, spread?: string, from: string[], big?: boolean,
 *   id: string, decimals?: number}} Figure
 */

/**
 * A number to be read from arm's length. `width` stands after the unit, `more` and `spread` under it, `from` is told at a touch.
 * @param {Figure} figure
 */
export function figure({ label, value, quantity, width = "", more = "", spread = "", from, big = false, id, decimals }) {
  const { text, unit } = inUnit(value, quantity, { decimals });
  return h(
    "button",
    {
      type: "button",
      id,
      class: big ? "figure figure-big" : "figure",
      "aria-label": `${label}: ${text} ${unit} ${[width, more, spread.trim()].filter(Boolean).join(" ")}. ${t("Where from?")}`,
      onclick: () => tellWhere(`${label}: ${text} ${unit} ${more}`, from),
    },
    h("span", { class: "figure-label" }, label),
    h("span", { class: "figure-value" }, h("span", { class: "figure-words" },
      h("b", null, text), " ", h("span", { class: "figure-unit" }, unit), width ? h("span", { class: "figure-width" }, ` ${width}`) : null)),
    more ? h("span", { class: "figure-more" }, more) : null,
    spread ? h("span", { class: "figure-spread" }, spread) : null,
  );
}
