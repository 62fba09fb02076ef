// @ts-check
/** A number that is only read: value and unit, the unit changed by a touch like everywhere. */

import { h, replace } from "../dom.js";
import { nextUnit, inUnit, unitsOf } from "../units.js";
import { t } from "../words.js";

/**
 * @param {number | null | undefined} value metric
 * @param {string} quantity
 * @param {{what?: string, decimals?: number, sign?: boolean, fixed?: boolean}} [options] `what` names the number for
 *   those who do not see it; `fixed`: a unit that is only shown (inside a row that is itself a link)
 */
export function measure(value, quantity, { what = "", decimals, sign, fixed = false } = {}) {
  const number = h("span", { class: "digits" });
  const unit = fixed || unitsOf(quantity).length < 2
    ? h("span", { class: "unit" })
    : h("button", { type: "button", class: "unit", onclick: () => nextUnit(quantity) });
  const draw = () => {
    const shown = inUnit(value, quantity, { decimals, sign });
    replace(number, shown.text);
    replace(unit, shown.unit, h("span", { class: "quiet" }, unit.localName === "button" ? t(", {what} change unit", { what }) : ""));
  };
  draw();
  return h("span", { class: "measure", "data-unit-aware": true, onunitschange: draw }, number, " ", unit);
}
