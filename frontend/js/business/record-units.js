// @ts-check
/** In which units a shop's records are read: metric, or inches and pounds; another mixture stays as it is. */

import { choiceField } from "../parts/field.js";
import { t } from "../words.js";

/** @type {Record<string, Record<string, string>>} */
const SETS = {
  metric: { rate: "N/mm", length: "mm", mass: "kg", force: "N", volume: "cm³", pressure: "kPa", torque: "N·m" },
  inches: { rate: "lbf/in", length: "in", mass: "lb", force: "lbf", volume: "fl oz", pressure: "psi", torque: "lbf·ft" },
};

/**
 * @param {Record<string, string>} [units] the shop's own, by quantity
 * @returns {import("../parts/field.js").Field}
 */
export function recordUnits(units = SETS.metric) {
  /** @param {Record<string, string>} these */
  const named = (these) => Object.keys(SETS).find((name) => Object.entries(these).every(([quantity, unit]) => SETS[name][quantity] === unit)) ?? "own";
  const choices = [
    { value: "metric", text: "N/mm, mm, kg" }, { value: "inches", text: "lbf/in, in, lb" },
    ...(named(units) === "own" ? [{ value: "own", text: Object.values(units).join(", ") }] : []),
  ];
  const field = choiceField({ name: "units", label: t("Units of its records"), value: named(units), choices, hint: t("The record itself stays metric, in brackets.") });
  return {
    ...field,
    get value() {
      return SETS[field.value] ?? units;
    },
    set: (next) => field.set(named(next)),
  };
}
