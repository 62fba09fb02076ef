// @ts-check
/** Which ends a card is about, and the switch between them. */
import { h } from "../dom.js";
import { ENDS, END_NAMES } from "./words.js";
import { t } from "../words.js";

/**
 * @param {any} card
 * @returns {("front"|"rear")[]}
 */
export function endsOf(card) {
  if (card.bike || !card.loose) return ENDS;
  return card.loose === "fork" ? ["front"] : ["rear"];
}

/**
 * Front or rear: which end is in hand.
 * @param {import("../screens/card.js").Bench} bench
 * @param {string} [legend]
 */
export function endSwitch(bench, legend = t("End in hand")) {
  const ends = endsOf(bench.desk.card);
  if (ends.length < 2) return null;
  return h("fieldset", { class: "ends" }, h("legend", { class: "quiet" }, legend), ...ends.map((end) =>
    h("label", null, h("input", {
      type: "radio", name: "end-in-hand", value: end, checked: bench.end === end, onchange: () => bench.takeEnd(end),
    }), h("span", null, END_NAMES[end]))));
}

/**
 * Fields that cannot be changed on a card that is sealed or another shop's.
 * @param {...import("../dom.js").Child} children
 */
export const lockable = (...children) => h("fieldset", { class: "lock" }, ...children);
