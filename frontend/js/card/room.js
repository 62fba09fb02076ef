// @ts-check
/** Rate or preload: which straight springs, wound up how far, bring both sags into band. */
import * as api from "../api.js";
import { h } from "../dom.js";
import { svgFrom } from "../parts/trusted.js";
import { inUnit, unitOf } from "../units.js";
import { look } from "./look.js";
import { t } from "../words.js";

/**
 * @param {import("./desk.js").Desk} desk
 * @param {"front"|"rear"} end
 */
export function room(desk, end) {
  return look(desk, {
    id: `room-${end}`, title: t("Rate or preload"),
    hint: t("Where both sags are in band. Preload moves the bike up and down in the picture, never sideways: outside the band's width only another rate helps."),
    ask: () => api.post(`${desk.path}window/`, { end }),
    draw: (answer) => [
      answer.text ? h("p", { class: "said" }, answer.text) : null,
      answer.svg ? h("div", { class: "look-picture" }, svgFrom(answer.svg)) : null,
      answer.svg ? h("p", { class: "aside" }, t("Grey: both sags in band. Broken lines: the static sag's limits; whole lines: the rider sag's.")) : null,
      answer.rows.length ? asTable(answer.rows) : null,
    ],
  });
}

/** @param {any[]} rows */
function asTable(rows) {
  const cell = (/** @type {number} */ value, /** @type {string} */ quantity, /** @type {number} */ decimals) =>
    inUnit(value, quantity, { decimals: unitOf(quantity) === "mm" ? decimals : undefined }).text;
  return h("details", null, h("summary", null, t("The same as a table")), h(
    "table", { class: "fact-table" },
    h("thead", null, h("tr", null, ...[t("rate, {unit}", { unit: unitOf("rate") }), t("least preload, {unit}", { unit: unitOf("length") }), t("most preload, {unit}", { unit: unitOf("length") })].map((name) => h("th", { scope: "col" }, name)))),
    h("tbody", null, ...rows.map((row) => h(
      "tr", null, h("th", { scope: "row" }, inUnit(row.rate_n_per_mm, "rate").text),
      h("td", null, cell(row.least_preload_mm, "length", 1)), h("td", null, cell(row.most_preload_mm, "length", 1)),
    ))),
  ));
}
