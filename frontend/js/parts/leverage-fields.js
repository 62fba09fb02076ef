// @ts-check
/**
 * How the rear wheel drives its shock: one ratio, measured pairs (smoothed only where the person says so), or the points
 * of the linkage.
 */

import { Offline, Refused, post } from "../api.js";
import { h, replace } from "../dom.js";
import { inUnit, withUnit } from "../units.js";
import { choiceField, numberField } from "./field.js";
import { measure } from "./measure.js";
import { tableField } from "./table-field.js";
import { t, written } from "../words.js";

const REST_MS = 400;
const TAPE_U_MM = 0.5;
const POINTS = /** @type {const} */ ([
  ["pivot_mm", t("Swingarm pivot")], ["axle_mm", t("Rear axle")], ["shock_top_mm", t("Shock, end on the frame")], ["shock_foot_mm", t("Shock, moving end")],
]);
const ROCKER = /** @type {const} */ ([
  ["pivot_mm", t("Rocker’s pivot")], ["rod_near_mm", t("Rod, eye on the rocker")], ["rod_far_mm", t("Rod, other eye")],
]);
const ROWS = [...POINTS.map(([key]) => key), ...ROCKER.map(([key]) => `rocker.${key}`)];
const XZ = [{ key: "x", label: t("Forward"), quantity: "length", signed: true }, { key: "z", label: t("Up"), quantity: "length", signed: true }];

/**
 * @param {{value: any, travel: () => number | null, origin: any, onOrigin: (origin: any) => void}} options
 *   `travel`: the wheel travel as typed, mm
 */
export function leverageFields({ value, travel, origin, onOrigin }) {
  const ratio = numberField({
    name: "rear.leverage.wheel_per_shock", label: t("Ratio"), quantity: "mm/mm", band: "leverage.wheel_per_shock", step: 0.05,
    value: value?.wheel_per_shock ?? null, hint: t("Wheel over shock: 2 to 3.5 is usual for one shock."), origin, onOrigin,
  });
  const pairs = pairsFields(value?.kind === "table" ? value : null, tell);
  const points = pointsFields(value?.kind === "linkage" ? value : null, tell);
  const said = h("div", { class: "leverage-says", role: "status" });
  const groups = /** @type {Record<string, HTMLElement>} */ ({ ratio: ratio.element, table: pairs.element, linkage: points.element });
  const kind = choiceField({
    name: "leverage_kind", label: t("Leverage"), value: value?.kind ?? "ratio", onChange: draw,
    choices: [{ value: "ratio", text: t("one ratio") }, { value: "table", text: t("measured pairs") }, { value: "linkage", text: t("linkage points") }],
    hint: t("Wheel travel for each millimetre of shock stroke."),
  });
  const setKind = kind.set;
  kind.set = (next) => {
    setKind(next);
    draw();
  };
  let timer = 0;
  let asked = 0;

  function tell() {
    window.clearTimeout(timer);
    timer = window.setTimeout(ask, REST_MS);
  }

  /** Ask how far it reaches and what it does: once it is whole. */
  async function ask() {
    const mine = ++asked;
    const leverage = now();
    const reach = travel();
    if (!leverage || kind.value === "ratio" || !reach || unclear()) {
      replace(said);
      return;
    }
    const { readings: _kept, ...asks } = /** @type {Record<string, any>} */ (leverage);
    try {
      const found = await post("/api/calc/leverage/", { use: "curve", wheel_travel_mm: reach, leverage: asks });
      if (mine === asked) replace(said, ...curveWords(found));
    } catch (error) {
      if (mine !== asked || error instanceof Offline) return;
      if (!(error instanceof Refused)) throw error;
      replace(said);
      for (const each of error.problems) place(each.field.replace(/^leverage/, "rear.leverage")).problem(each.text, each.field);
    }
  }

  function draw() {
    for (const [which, element] of Object.entries(groups)) element.hidden = which !== kind.value;
    replace(said);
    tell();
  }

  /** The leverage as typed, null while nothing of it is. */
  function now() {
    if (kind.value === "ratio") return ratio.value === null ? null : { kind: "ratio", wheel_per_shock: ratio.value };
    return kind.value === "table" ? pairs.value() : points.value();
  }

  const unclear = () => (kind.value === "table" ? pairs.table.unclear() : kind.value === "linkage" && points.fields.some((each) => each.unclear()));

  /** The field of a server's path. @param {string} path */
  function place(path) {
    if (kind.value === "table") return pairs.table;
    return kind.value === "linkage" ? points.place(path) : ratio;
  }

  draw();
  const only = (/** @type {import("./field.js").Field} */ field, /** @type {string} */ which) => {
    const { unclear: own } = field;
    field.unclear = () => kind.value === which && own();
    return field;
  };
  return {
    element: h("div", null, kind.element, ...Object.values(groups), said),
    fields: [kind, only(ratio, "ratio"), only(pairs.table, "table"), pairs.u, ...points.fields.map((each) => only(each, "linkage"))],
    value: now,
    /** @param {string} path */
    rename: (path) => (path.startsWith("rear.leverage") && path !== ratio.name ? place(path).name : path),
  };
}

/**
 * Pairs of wheel travel and shock stroke; with the tape's error they can be smoothed.
 *
 * @param {any} value
 * @param {() => void} tell
 */
function pairsFields(value, tell) {
  /** The readings behind the table in the cells, once smoothed. @type {any} */
  let readings = value?.readings ?? null;
  const answer = h("div", { class: "smooth-says", role: "status" });
  const table = tableField({
    name: "rear.leverage.pairs", label: t("Wheel travel and shock stroke"), least: 4, most: 200, add: t("Add a pair"),
    value: rowsOf(value), columns: [{ key: "wheel_mm", label: t("Wheel"), quantity: "length" }, { key: "shock_mm", label: t("Shock"), quantity: "length" }],
    hint: t("Both counted from full extension, the first pair 0 and 0, over all the travel."),
    onChange: () => {
      readings = null;
      replace(answer);
      tell();
    },
  });
  const u = numberField({
    name: "rear.leverage.reading_u_mm", label: t("Tape error"), quantity: "length", step: 0.1, value: readings?.reading_u_mm ?? TAPE_U_MM,
    hint: t("Of one reading, as a standard uncertainty; 0.5 mm for a tape is common practice."),
  });

  async function smooth() {
    const rows = table.rows();
    const read = { wheel_mm: rows.map((row) => row.wheel_mm), shock_mm: rows.map((row) => row.shock_mm), reading_u_mm: u.value ?? TAPE_U_MM };
    try {
      const found = await post("/api/calc/leverage/", { use: "smooth", ...read });
      replace(answer, ...smoothWords(found), h("div", { class: "actions" },
        h("button", { type: "button", onclick: () => replace(answer) }, t("Keep the readings")),
        h("button", { type: "button", class: "main", onclick: () => {
          table.set(rowsOf(found.table));
          readings = read;
          replace(answer, h("p", null, t("Smoothed from {n} pairs; the readings are kept beside it.", { n: rows.length })));
          table.element.dispatchEvent(new Event("change", { bubbles: true }));
          tell();
        } }, t("Use the smoothed table"))));
    } catch (error) {
      if (error instanceof Offline) replace(answer, h("p", null, t("No network: smoothed when it is back.")));
      else if (error instanceof Refused) for (const each of error.problems) table.problem(each.text, each.field);
      else throw error;
    }
  }

  return {
    element: h("div", null, table.element, h("details", { class: "smooth", open: Boolean(readings) }, h("summary", null, t("Smooth noisy readings")),
      readings ? h("p", null, t("The table is smoothed from {n} pairs, kept beside it.", { n: readings.wheel_mm.length })) : null, u.element,
      h("button", { type: "button", name: "smooth", onclick: smooth }, t("Smooth")), answer)),
    table, u,
    value: () => {
      const rows = table.rows();
      if (!rows.length) return null;
      return { kind: "table", wheel_mm: rows.map((row) => row.wheel_mm), shock_mm: rows.map((row) => row.shock_mm), ...(readings ? { readings } : {}) };
    },
  };
}

/**
 * The points of the linkage, at one attitude of the swingarm.
 *
 * @param {any} value
 * @param {() => void} tell
 */
function pointsFields(value, tell) {
  const carrier = choiceField({
    name: "rear.leverage.rocker_on", label: t("Rocker"), value: value ? value.rocker?.on ?? null : "frame", onChange: () => {
      draw();
      tell();
    },
    choices: [{ value: "frame", text: t("on the frame") }, { value: "swingarm", text: t("on the swingarm") }, { value: null, text: t("none") }],
  });
  const setCarrier = carrier.set;
  carrier.set = (next) => {
    setCarrier(next);
    draw();
  };
  const rowOf = (/** @type {string} */ at) => {
    const found = ROWS.findIndex((key) => new RegExp(`leverage\\.${key.replace(".", "\\.")}(\\.|$)`).test(at));
    const axis = /\.1$/.test(at) ? "z" : "x";
    return found < 0 ? null : { row: found % POINTS.length === found ? found : found - POINTS.length, key: axis };
  };
  const shared = { columns: XZ, onChange: tell, locate: rowOf };
  const frame = tableField({
    ...shared, name: "rear.leverage.points", label: t("Points of swingarm and shock"), names: POINTS.map(([, word]) => word),
    value: value ? POINTS.map(([key]) => pointOf(value[key])) : null,
    hint: t("Any origin, both axes from it, all at one attitude of the swingarm: best with the wheel fully extended."),
  });
  const rocker = tableField({
    ...shared, name: "rear.leverage.rocker", label: t("Points of rocker and rod"), names: ROCKER.map(([, word]) => word),
    value: value?.rocker ? ROCKER.map(([key]) => pointOf(value.rocker[key])) : null,
    hint: t("The rod’s other eye is on the swingarm; on the frame where the swingarm carries the rocker."),
  });
  const rod = numberField({
    name: "rear.leverage.rod_length_mm", label: t("Rod fitted"), quantity: "length", value: value?.rocker?.rod_length_mm ?? null, onChange: tell,
    hint: t("Eye to eye; blank: as the points have it."),
  });
  const extended = numberField({
    name: "rear.leverage.shock_extended_mm", label: t("Shock, fully extended"), quantity: "length", value: value?.shock_extended_mm ?? null, onChange: tell,
    hint: t("Eye to eye, topped out; blank: the points are at full extension."),
  });

  function draw() {
    rocker.element.hidden = carrier.value === null;
    rod.element.hidden = carrier.value === null;
  }

  const rockerWanted = rocker.unclear;
  rocker.unclear = () => carrier.value !== null && (rockerWanted() || (!frame.blank() && rocker.blank()));
  const frameWanted = frame.unclear;
  frame.unclear = () => frameWanted() || (carrier.value !== null && frame.blank() && !rocker.blank());
  draw();
  return {
    element: h("div", null, carrier.element, frame.element, rocker.element, h("div", { class: "pair" }, rod.element, extended.element)),
    fields: [carrier, frame, rocker, rod, extended],
    /** @param {string} path */
    place: (path) => {
      if (/shock_extended_mm$/.test(path)) return extended;
      if (/rod_length_mm$/.test(path)) return rod;
      return path.includes("leverage.rocker.") ? rocker : frame;
    },
    value: () => {
      const points = frame.rows();
      if (points.length < POINTS.length) return null;
      const turning = rocker.rows();
      return {
        kind: "linkage",
        ...Object.fromEntries(POINTS.map(([key], index) => [key, [points[index].x, points[index].z]])),
        ...(carrier.value !== null && turning.length === ROCKER.length ? { rocker: {
          on: carrier.value,
          ...Object.fromEntries(ROCKER.map(([key], index) => [key, [turning[index].x, turning[index].z]])),
          ...(rod.value === null ? {} : { rod_length_mm: rod.value }),
        } } : {}),
        ...(extended.value === null ? {} : { shock_extended_mm: extended.value }),
      };
    },
  };
}

/** @param {number[]} pair */
const pointOf = ([x, z]) => ({ x, z });

/** @param {any} table */
function rowsOf(table) {
  return table?.wheel_mm?.map((/** @type {number} */ wheel, /** @type {number} */ index) => ({ wheel_mm: wheel, shock_mm: table.shock_mm[index] })) ?? null;
}

const mm = (/** @type {number} */ value, decimals = 0) => withUnit(value, "length", { decimals });

/** What a leverage does over its travel. @param {any} found */
function curveWords(found) {
  const values = { reach: mm(found.reach_mm), stroke: mm(found.shock_stroke_mm) };
  const reach = found.reach_mm === null ? null : h("p", { class: "row-name" }, t("Reaches 0 to {reach} of wheel travel; the shock strokes {stroke}.", values));
  return [reach, ...found.notes.map((/** @type {any} */ note) => h("p", { class: "soft small" }, note.text))].filter((each) => each !== null);
}

/** The smoothed curve with its band, at a few places. @param {any} found */
function smoothWords(found) {
  const { curve } = found;
  const last = curve.travel_mm.length - 1;
  const places = [0, 1, 2, 3, 4].map((quarter) => Math.round((last * quarter) / 4));
  const row = (/** @type {number} */ at) => h("tr", null, h("th", { scope: "row" }, mm(curve.travel_mm[at])),
    h("td", null, `${mm(curve.shock_mm[at], 1)} ± ${inUnit(curve.shock_u_mm[at], "length", { decimals: 2 }).text}`),
    h("td", null, `${written(curve.leverage_ratio[at].toFixed(2))} ± ${written(curve.leverage_ratio_u[at].toFixed(2))}`));
  return [
    h("table", { class: "band" }, h("caption", null, t("Smoothed, with its standard uncertainty")),
      h("thead", null, h("tr", null, h("th", { scope: "col" }, t("Wheel")), h("th", { scope: "col" }, t("Shock")), h("th", { scope: "col" }, t("Ratio")))),
      h("tbody", null, ...places.map(row))),
    ...found.notes.map((/** @type {any} */ note) => h("p", { class: note.severity === "warning" ? "problem" : "soft small" }, note.text)),
  ];
}

/** A leverage to read. @param {any} leverage */
export function leverageText(leverage) {
  if (leverage.kind === "ratio") return h("span", { class: "digits" }, written(leverage.wheel_per_shock));
  if (leverage.kind === "linkage") return h("span", null, t("linkage of {n} points", { n: POINTS.length + (leverage.rocker ? ROCKER.length : 0) }));
  if (leverage.readings) return h("span", null, t("smoothed from {n} measured pairs, to", { n: leverage.readings.wheel_mm.length }), " ", measure(leverage.wheel_mm.at(-1), "length"));
  return h("span", null, t("{n} measured pairs", { n: leverage.wheel_mm?.length ?? "?" }));
}
