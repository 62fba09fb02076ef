// @ts-check
/** How sure the figures are: intervals, where each input comes from, and what it adds to the spread. */
import { h, replace } from "../dom.js";
import { spread, unitOf, withUnit } from "../units.js";
import { keepFocus } from "./paint.js";
import { END_NAMES, STAGE_NAMES } from "./words.js";
import { t, written } from "../words.js";

const RESULTS = [
  ["static_sag_mm", t("Static sag"), "length"],
  ["rider_sag_mm", t("Rider sag"), "length"],
  ["wheel_rate_n_per_mm", t("Wheel rate at rider sag"), "rate"],
  ["rate_n_per_mm", t("Spring rate needed"), "rate"],
  ["preload_mm", t("Preload needed"), "length"],
];
const LIMITS = t("95 % of what may be true lies in these intervals. Each input's uncertainty follows from where it comes from (common practice, no source); friction is counted with the sags, wheel travel and stroke are taken as exact.");

/**
 * @param {import("./desk.js").Desk} desk
 * @param {("front"|"rear")[]} ends
 * @param {("received"|"chosen"|"built")[]} stages the first that is known is shown
 */
export function sureness(desk, ends, stages) {
  const place = h("div", { class: "look-place" });
  const node = h("details", { class: "look", id: `sure-${stages[0]}-${ends.join("-")}`, ontoggle: () => sync() }, h("summary", null, t("How sure")), place);
  let drawn = "";
  function sync() {
    if (!node.open) return;
    const now = JSON.stringify([desk.sure, unitOf("length"), unitOf("rate")]);
    if (now === drawn) return;
    drawn = now;
    keepFocus(place, () => replace(place, ...ends.flatMap((end) => one(desk, end, stages)), h("p", { class: "aside" }, LIMITS)));
  }
  return { node, sync };
}

/**
 * @param {import("./desk.js").Desk} desk
 * @param {"front"|"rear"} end
 * @param {string[]} stages
 */
function one(desk, end, stages) {
  const stage = stages.find((each) => desk.sure?.[each]?.[end]?.computed);
  const found = stage && desk.sure?.[stage][end].computed;
  if (!found) return [h("p", { class: "lack" }, t("{end}: with springs, preload and loads each figure gets its interval here, and the reading that would narrow it most.", { end: END_NAMES[end] }))];
  return [
    h("h4", null, `${END_NAMES[end]}, ${STAGE_NAMES[stage]}`),
    found.next_reading ? h("p", { class: "said" }, t("The reading worth taking next: {what}", { what: found.next_reading.text })) : null,
    intervals(found),
    inputs(found.inputs),
  ];
}

/** @param {any} found */
function intervals(found) {
  const rows = RESULTS.filter(([key]) => found[key]);
  return h("div", { class: "wide" }, h(
    "table", { class: "fact-table" },
    h("thead", null, h("tr", null, h("td"), ...[t("value"), t("95 % between"), t("and")].map((name) => h("th", { scope: "col" }, name)))),
    h("tbody", null, ...rows.map(([key, name, quantity]) => h(
      "tr", null, h("th", { scope: "row" }, name), ...["value", "low", "high"].map((part) => h("td", null, withUnit(found[key][part], quantity))),
    ))),
  ));
}

/** @param {any[]} rows */
function inputs(rows) {
  return h("details", null, h("summary", null, t("What it rests on, and what each adds to the spread")), h("div", { class: "wide" }, h(
    "table", { class: "fact-table" },
    h("thead", null, h("tr", null, ...[t("input"), t("from"), t("give or take"), t("of the rider sag's spread"), t("of the static sag's")].map((name) => h("th", { scope: "col" }, name)))),
    h("tbody", null, ...rows.map((row) => h(
      "tr", null, h("th", { scope: "row" }, row.what), h("td", null, row.from), h("td", null, plusMinus(row)),
      h("td", null, percent(row.share.rider_sag_mm)), h("td", null, percent(row.share.static_sag_mm)),
    ))),
  )));
}

/** @param {any} row */
function plusMinus({ u, unit }) {
  const quantity = /** @type {Record<string, string>} */ ({ kg: "mass", mm: "length", "cm³": "volume", kPa: "pressure", N: "force" })[unit];
  return quantity ? `± ${withUnit(u, quantity)}` : `± ${written(Number(u.toPrecision(2)))} ${unit}`;
}

/** @param {number|null} share */
const percent = (share) => (share === null ? "–" : `${Math.round(share * 100)} %`);

/**
 * The 95 % interval of a figure in a few words, empty where it is not known.
 * @param {any} interval
 * @param {string} quantity
 */
export function between(interval, quantity) {
  return interval ? `95 %: ${spread([interval.low, interval.high], quantity)}` : "";
}
