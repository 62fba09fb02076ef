// @ts-check
/**
 * What can be turned at one end of the bike: preload, rate and gap, each with its range and step. A knob knows what
 * stands in the sheet and what the hand is just trying; its slider, its field and its handle on the picture all turn it.
 */
import { t } from "../words.js";
import { capital } from "./entry.js";
import { LEGS, SPRING_FACTS, factName } from "./words.js";

/**
 * @typedef {{path: string, also: string[], label: string, quantity: string, low: number, high: number, step: number,
 *   at: number, up: 1|-1, offList: boolean}} Knob `step`: of an arrow key, metric; `at`: where on the travel its handle
 *   sits, 0 to 1; `up`: whether more of it lifts the curve; `offList`: turning it makes the spring none of the list
 */

/**
 * The paths in front of what carries a spring: the legs that have one, or the shock.
 * @param {import("./sheet.js").Sheet} sheet
 * @param {string} end
 * @returns {string[]}
 */
function carriers(sheet, end) {
  if (end === "rear") return sheet.value("spring") ? [""] : [];
  const legs = sheet.value("legs") ?? [];
  return legs.flatMap((/** @type {any} */ leg, /** @type {number} */ index) => (leg?.spring ? [`legs.${index}.`] : []));
}

/**
 * @param {import("./sheet.js").Sheet} sheet
 * @param {"front"|"rear"} end
 * @param {any} card
 * @param {boolean} parted whether each leg has a gap of its own
 * @returns {Knob[]}
 */
export function knobsOf(sheet, end, card, parted) {
  const [first, ...others] = carriers(sheet, end);
  if (first === undefined) return [];
  const tied = (/** @type {string} */ name) => ({ path: first + name, also: others.map((at) => at + name) });
  const rates = (SPRING_FACTS[sheet.value(`${first}spring`).kind] ?? []).filter((fact) => fact.quantity === "rate");
  /** @type {Omit<Knob, "low" | "high">[]} */
  const knobs = [
    ...rates.map(({ name }, index) => ({
      ...tied(`spring.${name}`), label: capital(factName(name)), quantity: "rate", at: rates.length > 1 ? 0.35 + 0.3 * index : 0.6,
      up: /** @type {1} */ (1), offList: true, step: end === "front" ? 0.1 : 0.5,
    })),
    { ...tied("preload_mm"), label: t("Preload"), quantity: "length", at: 0, up: 1, offList: false, step: 0.5 },
    ...(end === "front" ? gaps(sheet.value("legs"), parted) : []),
  ];
  return knobs.map((knob) => ({ ...knob, ...reach(knob, sheet, end, card) }));
}

/** @param {any[]} legs @param {boolean} parted @returns {Omit<Knob, "low" | "high">[]} */
function gaps(legs, parted) {
  const paths = legs.map((_leg, index) => `legs.${index}.air_gap_mm`);
  /** @type {Pick<Knob, "quantity" | "up" | "offList" | "step">} */
  const gap = { quantity: "length", up: -1, offList: false, step: 1 };
  if (!parted) return [{ ...gap, path: paths[0], also: paths.slice(1), label: t("Air gap"), at: 0.93 }];
  return paths.map((path, index) => ({
    ...gap, path, also: [], at: 0.8 + 0.14 * index, label: t("Air gap, {leg}", { leg: LEGS[index] }),
  }));
}

/**
 * How far a knob goes: around what stands there, within what is believed.
 * @param {Pick<Knob, "path" | "quantity" | "step">} knob
 * @param {import("./sheet.js").Sheet} sheet
 * @param {string} end
 * @param {any} card
 */
function reach({ path, quantity, step }, sheet, end, card) {
  const value = sheet.value(path) ?? 0;
  const whole = (/** @type {number} */ far) => Number((Math.round(far / step) * step).toFixed(3));
  if (quantity === "rate") return { low: whole(value * 0.7), high: whole(value * 1.3) };
  if (path.endsWith("air_gap_mm")) return { low: Math.max(10, value - 60), high: value + 60 };
  const adjuster = card.bike?.[end]?.adjuster_mm ?? card[`loose_${end}`]?.adjuster_mm;
  return { low: adjuster?.[0] ?? 0, high: adjuster?.[1] ?? Math.max(30, value + 10) };
}
