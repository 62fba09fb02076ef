// @ts-check
/**
 * Springs that no one rate tells: wound turn by turn, read on a tester, or several together. Each is one field whose
 * value is the whole spring as the server keeps it, its solid deflection left out.
 *
 * @typedef {import("./field.js").Field & {problem: (text: string | null, at?: string) => void}} CurveField
 *   `value`: undefined while nothing is typed
 * @typedef {"leg_spring" | "shock_spring" | "leg_part" | "shock_part"} Place
 * @typedef {{name: string, place: Place, value?: any, onChange?: () => void, extra?: HTMLElement | null}} Options
 */

import { Offline, Refused, post } from "../api.js";
import { h, replace } from "../dom.js";
import { inUnit } from "../units.js";
import { numberField } from "./field.js";
import { tableField } from "./table-field.js";
import { t, written } from "../words.js";

const KINDS_OF_FIT = /** @type {Record<string, string>} */ ({ straight: t("straight"), progressive: t("progressive"), dual: t("dual rate") });
const FEWEST_READINGS = 3;
const REST_MS = 250;
const MOST_PARTS = 4;

/**
 * A designer's table, turn by turn.
 *
 * @param {Options} options
 * @returns {CurveField}
 */
export function woundField({ name, value = null, onChange = () => {}, extra = null }) {
  const modulus = numberField({
    name: `${name}.shear_modulus_gpa`, label: t("Shear modulus"), quantity: "GPa", step: 0.5, start: 79.5, decimals: 1,
    band: "wound.shear_modulus_gpa", value: value?.shear_modulus_gpa ?? null, onChange,
    hint: t("Spring steel: 81.5 for EN 10270-1 wire, 79.5 for EN 10270-2."),
  });
  const turns = tableField({
    name: `${name}.turns`, label: t("Active turns, from one end"), least: 2, repeat: true, add: t("Add a turn"), onChange, extra,
    value: value?.turns ?? null,
    columns: [{ key: "wire_mm", label: t("Wire"), quantity: "length" }, { key: "mean_diameter_mm", label: t("Mean diameter"), quantity: "length" },
      { key: "gap_mm", label: t("Gap"), quantity: "length" }],
    hint: t("The mean diameter is the outer one less one wire. The gap is the clear space to the next turn, unloaded."),
  });
  return {
    element: h("div", { class: "curve" }, modulus.element, turns.element),
    name,
    get value() {
      const rows = turns.rows();
      return rows.length ? { kind: "wound", shear_modulus_gpa: modulus.value, turns: rows } : undefined;
    },
    set: (next) => {
      modulus.set(next?.shear_modulus_gpa ?? null);
      turns.set(next?.turns ?? null);
    },
    problem: (text, at = "") => {
      if (/shear_modulus/.test(at)) modulus.problem(text);
      else turns.problem(text, at);
    },
    focus: () => turns.focus(),
    unclear: () => modulus.unclear() || turns.unclear(),
    text: () => JSON.stringify({ modulus: modulus.value, turns: turns.text?.() }),
    retype: (text) => {
      const kept = JSON.parse(text);
      modulus.set(kept.modulus);
      turns.retype?.(kept.turns);
    },
  };
}

/**
 * A spring read on a tester, and what its readings say while they are typed.
 *
 * @param {Options & {stamp?: number | null, actions?: HTMLElement | null}} options
 *   `stamp`: the rate stamped on the spring where it is known elsewhere: it is not asked for then
 * @returns {CurveField}
 */
export function testedField({ name, value = null, stamp, onChange = () => {}, extra = null, actions = null }) {
  const said = h("div", { class: "tester-says", role: "status" });
  const asksStamp = stamp === undefined;
  const stamped = numberField({
    name: `${name}.stamped_n_per_mm`, label: t("Rate stamped on it"), quantity: "rate", step: 0.1, value: value?.stamped_n_per_mm ?? null,
    hint: t("Blank where nothing is stamped."), onChange: () => tell(),
  });
  const readings = tableField({
    name: `${name}.readings`, label: t("Tester readings"), least: FEWEST_READINGS, most: 200, add: t("Add a reading"), onChange: () => tell(), extra,
    value: rowsOf(value),
    columns: [{ key: "deflection_mm", label: t("Pressed"), quantity: "length" }, { key: "force_n", label: t("Force"), quantity: "force" }],
    hint: t("Pressed from the free length, rising; three or more, up to where the bike takes the spring."),
  });
  let timer = 0;
  let asked = 0;

  function tell() {
    onChange();
    window.clearTimeout(timer);
    timer = window.setTimeout(ask, REST_MS);
  }

  async function ask() {
    const mine = ++asked;
    const rows = readings.rows();
    if (!rows.length) {
      replace(said);
      return;
    }
    if (rows.length < FEWEST_READINGS) {
      replace(said, h("p", { class: "soft" }, t("{n} of at least {least} readings.", { n: rows.length, least: FEWEST_READINGS })));
      return;
    }
    const rate = asksStamp ? stamped.value : stamp;
    try {
      const found = await post("/api/calc/tester/", { ...columnsOf(rows), ...(rate ? { stamped_n_per_mm: rate } : {}) });
      if (mine === asked) replace(said, ...testerWords(found, rate ?? null));
    } catch (error) {
      if (mine !== asked) return;
      replace(said);
      if (error instanceof Refused) {
        for (const each of error.problems) (each.field.startsWith("stamped") ? stamped : readings).problem(each.text, each.field);
      } else if (!(error instanceof Offline)) {
        throw error;
      }
    }
  }

  if (rowsOf(value)) void ask();
  return {
    element: h("div", { class: "curve" }, asksStamp ? stamped.element : null, readings.element, said, actions),
    name,
    get value() {
      const rows = readings.rows();
      if (!rows.length) return undefined;
      return { kind: "tested", ...columnsOf(rows), ...(asksStamp && stamped.value !== null ? { stamped_n_per_mm: stamped.value } : {}) };
    },
    set: (next) => {
      stamped.set(next?.stamped_n_per_mm ?? null);
      readings.set(rowsOf(next));
      void ask();
    },
    problem: (text, at = "") => {
      if (/stamped/.test(at)) stamped.problem(text);
      else readings.problem(text, at);
    },
    focus: () => readings.focus(),
    unclear: () => readings.unclear() || (!readings.blank() && readings.rows().length < FEWEST_READINGS),
    text: () => JSON.stringify({ stamped: stamped.value, readings: readings.text?.() }),
    retype: (text) => {
      const kept = JSON.parse(text);
      stamped.set(kept.stamped);
      readings.retype?.(kept.readings);
      void ask();
    },
  };
}

/** @param {any} spring */
function rowsOf(spring) {
  return spring?.deflection_mm?.map((/** @type {number} */ each, /** @type {number} */ index) => ({ deflection_mm: each, force_n: spring.force_n[index] })) ?? null;
}

/** @param {import("./table-field.js").Row[]} rows */
function columnsOf(rows) {
  return { deflection_mm: rows.map((row) => row.deflection_mm), force_n: rows.map((row) => row.force_n) };
}

/** How far a test is off the stamp. @param {import("../words.js").Values} values @param {boolean} below @param {boolean} usual */
function offStamp(values, below, usual) {
  if (below) {
    return usual ? t("{percent} % below the stamp of {stamp}: within the usual ±5 % (common practice).", values)
      : t("{percent} % below the stamp of {stamp}: outside the usual ±5 % (common practice).", values);
  }
  return usual ? t("{percent} % above the stamp of {stamp}: within the usual ±5 % (common practice).", values)
    : t("{percent} % above the stamp of {stamp}: outside the usual ±5 % (common practice).", values);
}

/**
 * What the tester's readings say, in sentences.
 *
 * @param {any} found the server's answer
 * @param {number | null} stamp
 */
function testerWords(found, stamp) {
  const rate = (/** @type {number} */ value, decimals = 2) => {
    const shown = inUnit(value, "rate", { decimals });
    return `${shown.text} ${shown.unit}`;
  };
  const mean = inUnit(found.rate_n_per_mm, "rate", { decimals: 2 });
  const u = inUnit(found.rate_u_n_per_mm, "rate", { decimals: 3 });
  const criteria = Object.entries(found.criteria ?? {}).filter(([, value]) => value !== null).map(([kind, value]) => `${KINDS_OF_FIT[kind]} ${written(Number(value).toFixed(1))}`);
  const percent = found.stamp_difference_percent;
  const off = percent === null || stamp === null ? null
    : offStamp({ percent: written(Math.abs(percent).toFixed(1)), stamp: rate(stamp) }, percent < 0, found.stamp_within_usual);
  return [
    h("p", { class: "row-name" }, t("Tested: {kind}, {mean} ± {u} {unit}", { kind: KINDS_OF_FIT[found.kind], mean: mean.text, u: u.text, unit: u.unit })),
    off ? h("p", { class: found.stamp_within_usual ? null : "problem" }, off) : null,
    h("p", { class: "soft small" }, [t("± is the standard uncertainty of the straight fit."), criteria.length > 1
      ? t("Kind by the corrected Akaike criterion, the least being best and the simplest where they hardly differ: {what}.", { what: criteria.join(", ") }) : ""].filter(Boolean).join(" ")),
    ...(found.notes ?? []).filter((/** @type {any} */ note) => note.code !== "stamp_off").map((/** @type {any} */ note) => h("p", { class: "soft small" }, note.text)),
  ];
}

/**
 * Springs that act together, stacked or side by side.
 *
 * @param {Options & {kind: "stacked" | "side_by_side", part: (options: any) => import("./spring-fields.js").SpringFields}} options
 *   `part` makes the fields of one of them
 * @returns {CurveField}
 */
export function togetherField({ name, kind, place, value = null, part, onChange = () => {}, extra = null }) {
  const holder = h("div");
  const more = h("button", { type: "button", class: "add-row", onclick: () => {
    parts.push(make(parts.length, null));
    draw();
    onChange();
  } }, t("Add a spring"));
  const own = place === "leg_spring" ? "leg_part" : "shock_part";
  /** @type {import("./spring-fields.js").SpringFields[]} */
  let parts = [];
  const make = (/** @type {number} */ index, /** @type {any} */ spring) => part({
    name: `${name}.springs.${index}`, place: own, value: spring, without: kind === "stacked" ? ["progressive"] : [], title: t("Spring {n}", { n: index + 1 }),
  });
  const draw = () => {
    replace(holder, ...parts.map((one, index) => h("fieldset", { class: "field leg" }, h("legend", null, t("Spring {n}", { n: index + 1 })), one.element,
      parts.length > 2 ? h("button", { type: "button", class: "quiet-button", onclick: () => {
        parts = parts.filter((other) => other !== one);
        fill(parts.map((other) => other.spring() ?? { kind: "straight" }));
        onChange();
      } }, t("Remove spring {n}", { n: index + 1 })) : null)));
    more.hidden = parts.length >= MOST_PARTS;
  };
  /** @param {any[] | null} springs */
  const fill = (springs) => {
    parts = (springs ?? [null, null]).map((spring, index) => make(index, spring));
    draw();
  };
  fill(value?.springs ?? null);
  // Steps, ticks and typing all tell: the parts' own fields need no word of it.
  holder.addEventListener("input", onChange);
  holder.addEventListener("change", onChange);
  const springs = () => parts.map((one) => one.spring());
  const at = (/** @type {string} */ path) => /springs\.(\d+)\.(.*)$/.exec(path);
  const soft = kind === "stacked" ? t("One on another: one force goes through all of them.") : t("Beside or inside each other: all are pressed alike.");
  return {
    element: h("div", { class: "curve" }, extra, h("p", { class: "soft" }, `${soft} ${t("Deflections are those of the whole.")}`), holder, more),
    name,
    get value() {
      const found = springs();
      return found.every((one) => one === undefined) ? undefined : { kind, springs: found.map((one) => one ?? { kind: "straight" }) };
    },
    set: (next) => fill(next?.springs ?? null),
    problem: (text, path = "") => {
      const place_ = at(path);
      const one = place_ && parts[Number(place_[1])];
      if (one && text !== null) one.problem(text, place_[2]);
      else parts[0]?.fields[0].problem(text);
    },
    focus: () => parts[0]?.fields[0].focus(),
    unclear: () => {
      const found = springs();
      return !found.every((one) => one === undefined) && (found.some((one) => one === undefined) || parts.some((one) => one.unclear()));
    },
    text: () => JSON.stringify(parts.map((one) => one.text())),
    retype: (text) => {
      const kept = JSON.parse(text);
      fill(kept.map(() => null));
      kept.forEach((/** @type {string} */ each, /** @type {number} */ index) => parts[index].retype(each));
    },
  };
}
