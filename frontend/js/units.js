// @ts-check
/**
 * Units as people see and type them. Every value inside the program is metric (N/mm, mm, kg, cm³, kPa, N·m, N); the
 * factors come from the server's one table, the choice of unit is the person's own.
 *
 * @typedef {"rate" | "length" | "mass" | "volume" | "pressure" | "torque" | "force"} Quantity
 * @typedef {{what: string, unit: string, low: number, high: number, open_low?: boolean}} Band
 * @typedef {{text: string, value: number, asTyped?: boolean}} Choice
 * @typedef {{value: number | null} | {ask: string, choices: Choice[]} | {problem: string}} Reading
 */

import { patch, get } from "./api.js";
import { keepShared, readShared, setPerson, whoIsHere } from "./store.js";
import { t, written } from "./words.js";

/** @type {Record<string, Record<string, number>>} */
let factors = {};

/** @type {Record<string, Band>} */
let bands = {};

/** Decimals shown per unit: what a workshop reads off an instrument, and one more where a step needs it. */
const DECIMALS = /** @type {Record<string, number>} */ ({
  "N/mm": 2, "kgf/mm": 3, "lbf/in": 1, mm: 1, in: 3, kg: 1, lb: 1, "cm³": 1, "fl oz": 1, kPa: 0, bar: 2, psi: 1,
  "N·m": 1, "lbf·ft": 1, N: 0, kgf: 1, lbf: 0,
});

/** What may be thousands, or three decimals by another language's habit. */
const THOUSANDS = written("0.5") === "0,5" ? /^([-+]?[1-9]\d{0,2})\.(\d{3})$/ : /^([-+]?[1-9]\d{0,2}),(\d{3})$/;

/** Fetch the factors; without network the last ones fetched serve. */
export async function loadUnits() {
  try {
    keepShared("units", await get("/api/units/"));
  } catch (error) {
    if (!readShared("units")) throw error;
  }
  const table = readShared("units");
  factors = table.quantities;
  bands = table.bands ?? {};
}

/** Return the accepted band of one field of the calculations ("leg.preload_mm"), or null. @param {string} name */
export const bandOf = (name) => bands[name] ?? null;

/**
 * Return the unit in which this person reads `quantity`; what is no quantity is a unit of its own ("°", "%").
 *
 * @param {string} quantity
 */
export function unitOf(quantity) {
  if (!factors[quantity]) return quantity;
  const chosen = whoIsHere()?.units?.[quantity];
  return chosen && factors[quantity][chosen] ? chosen : unitsOf(quantity)[0];
}

/** Return the units that `quantity` may be read in, the stored one first. @param {string} quantity */
export function unitsOf(quantity) {
  const units = Object.keys(factors[quantity] ?? { [quantity]: 1 });
  return units.sort((one, other) => Number(factors[quantity]?.[other] === 1) - Number(factors[quantity]?.[one] === 1));
}

/**
 * Read `quantity` in the next unit from now on, on every field and read-out in sight, and remember it for the person.
 *
 * @param {string} quantity
 */
export function nextUnit(quantity) {
  const units = unitsOf(quantity);
  chooseUnit(quantity, units[(units.indexOf(unitOf(quantity)) + 1) % units.length]);
}

/** @param {string} quantity @param {string} unit */
export function chooseUnit(quantity, unit) {
  const person = whoIsHere();
  if (!person) return;
  setPerson({ ...person, units: { ...person.units, [quantity]: unit } });
  for (const node of document.querySelectorAll("[data-unit-aware]")) node.dispatchEvent(new Event("unitschange"));
  // The choice is a convenience: when it cannot be sent now, the next one carries it.
  const told = () => document.dispatchEvent(new Event("unitskept"));
  patch("/api/session/units/", { [quantity]: unit }).then(told, () => {});
}

/** @param {string} quantity @param {string} [unit] */
function factorOf(quantity, unit = unitOf(quantity)) {
  return factors[quantity]?.[unit] ?? 1;
}

/**
 * Return a metric value as this person reads it. A missing value is an en dash.
 *
 * @param {number | null | undefined} value
 * @param {string} quantity
 * @param {{decimals?: number, sign?: boolean}} [options]
 * @returns {{text: string, unit: string}}
 */
export function inUnit(value, quantity, { decimals, sign = false } = {}) {
  const unit = unitOf(quantity);
  if (value === null || value === undefined) return { text: "–", unit: unit };
  const places = decimals ?? DECIMALS[unit] ?? 2;
  const number = trim((value / factorOf(quantity)).toFixed(places));
  const plus = sign && value > 0 ? "+" : "";
  return { text: plus + written(number.replace("-", "−")), unit: unit };
}

/**
 * The same in words: the number and its unit.
 * @param {number | null | undefined} value @param {string} quantity @param {{decimals?: number, sign?: boolean}} [options]
 */
export function withUnit(value, quantity, options) {
  const { text, unit } = inUnit(value, quantity, options);
  return `${text} ${unit}`;
}

/** @param {string} text */
function trim(text) {
  const short = text.includes(".") ? text.replace(/\.?0+$/, "") : text;
  return short === "-0" ? "0" : short;
}

/**
 * Return the step of the ± buttons in the unit in hand, near `metric` and easy to count in (1, 2 or 5 times a power of
 * ten).
 *
 * @param {number} metric
 * @param {string} quantity
 */
export function stepOf(metric, quantity) {
  const raw = metric / factorOf(quantity);
  const power = 10 ** Math.floor(Math.log10(raw));
  const near = [1, 2, 5, 10].map((digit) => digit * power);
  return near.reduce((best, each) => (Math.abs(Math.log(each / raw)) < Math.abs(Math.log(best / raw)) ? each : best));
}

/** Return `value` moved by `direction` steps, metric. @param {number} value @param {number} direction
 * @param {number} metricStep @param {string} quantity */
export function moved(value, direction, metricStep, quantity) {
  const factor = factorOf(quantity);
  const step = stepOf(metricStep, quantity);
  return Number((Number((value / factor).toPrecision(8)) + direction * step).toPrecision(8)) * factor;
}

/**
 * Understand what somebody typed for `quantity`. A decimal comma is a point. A doubt comes back as a question with
 * choices, the value as typed always among them; an empty text is the value null.
 *
 * @param {string} text
 * @param {string} quantity
 * @param {{band?: Band | null}} [options] the accepted band, metric, for likely slips
 * @returns {Reading}
 */
export function read(text, quantity, { band = null } = {}) {
  const typed = text.trim().replace(/[−–]/g, "-").replace(/[\s\u00a0\u202f']/g, "");
  if (typed === "") return { value: null };
  const split = /^([-+]?[\d.,]+)(.*)$/.exec(typed);
  const unit = split ? unitNamed(split[2], quantity) : null;
  if (!split || unit === null) return { problem: t("“{text}” is not a number: type digits, like 4.6.", { text: text.trim() }) };
  const metric = factorOf(quantity, unit);
  const thousands = THOUSANDS.exec(split[1]);
  if (thousands) {
    const small = Number(`${thousands[1]}.${thousands[2]}`);
    const large = Number(thousands[1] + thousands[2]);
    const choices = [small, large].map((each) => ({ text: named(each, unit), value: each * metric }));
    return { ask: t("{typed}: is that {small} or {large}?", { typed: split[1], small: written(trim(String(small))), large }), choices };
  }
  const number = plain(split[1]);
  if (Number.isNaN(number)) return { problem: t("“{text}” is not one number: type it like 1234.5.", { text: text.trim() }) };
  return band ? doubted(number, unit, quantity, band) : { value: number * metric };
}

/**
 * Return the unit meant by what follows the number: none is the unit in hand, null is no unit of this quantity.
 *
 * @param {string} rest
 * @param {string} quantity
 */
function unitNamed(rest, quantity) {
  if (rest === "") return unitOf(quantity);
  const simple = (/** @type {string} */ word) => word.toLowerCase().replace(/[·.*\s]/g, "").replace("³", "3");
  return unitsOf(quantity).find((unit) => simple(unit) === simple(rest)) ?? null;
}

/** Read digits with either separator; the last separator is the decimal one. @param {string} digits */
function plain(digits) {
  const points = digits.split(".").length - 1;
  const commas = digits.split(",").length - 1;
  if (points && commas) {
    const decimal = digits.lastIndexOf(".") > digits.lastIndexOf(",") ? "." : ",";
    const grouping = decimal === "." ? "," : ".";
    const [whole, ...rest] = digits.split(decimal);
    if (rest.length > 1 || rest[0]?.includes(grouping)) return NaN;
    return Number(`${whole.split(grouping).join("")}.${rest[0]}`);
  }
  return points + commas > 1 ? NaN : Number(digits.replace(",", "."));
}

/**
 * Ask about a value outside its band when a usual slip explains it: the decimal point, or another unit.
 *
 * @param {number} number as typed, in `unit`
 * @param {string} unit
 * @param {string} quantity
 * @param {Band} band
 * @returns {Reading}
 */
function doubted(number, unit, quantity, band) {
  const holds = (/** @type {number} */ value) =>
    (band.open_low ? value > band.low : value >= band.low) && value <= band.high;
  const value = number * factorOf(quantity, unit);
  if (holds(value)) return { value };
  /** @type {Choice[]} */
  const choices = [];
  for (const factor of [0.1, 10]) {
    if (holds(value * factor)) choices.push({ text: named(number * factor, unit), value: value * factor });
  }
  for (const other of unitsOf(quantity).filter((each) => each !== unit)) {
    const meant = number * factorOf(quantity, other);
    if (holds(meant)) choices.push({ text: named(number, other), value: meant });
  }
  const read = named(number, unit);
  const keep = { text: t("keep {read}", { read }), value, asTyped: true };
  if (!choices.length) return { ask: t("{read} for {what} is outside {band}.", { read, what: band.what, band: between(band, quantity) }), choices: [keep] };
  const guesses = choices.slice(0, 3);
  const or = t("or");
  const ask = t("{read} for {what}: did you mean {guesses}?", { read, what: band.what, guesses: guesses.map((each) => each.text).join(` ${or} `) });
  return { ask, choices: [...guesses, keep] };
}

/** @param {number} number @param {string} unit */
function named(number, unit) {
  return `${written(trim(String(Number(number.toPrecision(6)))))} ${unit}`.trim();
}

/** @param {Band} band @param {string} quantity */
function between(band, quantity) {
  const low = inUnit(band.low, quantity);
  const high = inUnit(band.high, quantity);
  return t("{low} to {high}", { low: low.text, high: `${high.text} ${high.unit}`.trim() });
}

/** A sag is a tape's: whole millimetres, hundredths of an inch. @returns {{decimals: number}} */
export const tape = () => ({ decimals: unitOf("length") === "mm" ? 0 : 2 });

/** A preload, metric, as a collar or a spacer is set: to half a millimetre. @param {any} value */
export const halves = (value) => (typeof value === "number" ? Math.round(value * 2) / 2 : value);

/**
 * Return a band in the person's unit: "64 to 79 mm"; whole millimetres are enough for one.
 *
 * @param {[number, number]} band
 * @param {string} [quantity]
 */
export function spread([low, high], quantity = "length") {
  const fine = quantity === "length" ? tape() : undefined;
  const least = inUnit(low, quantity, fine);
  return t("{low} to {high}", { low: least.text, high: `${inUnit(high, quantity, fine).text} ${least.unit}` });
}
