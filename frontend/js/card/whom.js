// @ts-check
/** Whom a spring suits: the list as a ladder over rider mass, to look at and to print. */
import * as api from "../api.js";
import { h } from "../dom.js";
import { svgFrom } from "../parts/trusted.js";
import { inUnit } from "../units.js";
import { look } from "./look.js";
import { t } from "../words.js";

/**
 * @param {import("./desk.js").Desk} desk
 * @param {"front"|"rear"} end
 */
export function whom(desk, end) {
  return look(desk, {
    id: `whom-${end}`, title: t("Whom each spring suits"),
    hint: t("The rider masses for which a spring brings both sags into band by preload alone."),
    ask: () => api.post(`${desk.path}suits/`, { end }),
    draw: (answer) => [
      answer.present ? h("p", { class: "said" }, answer.present) : null,
      ...answer.riders.map((/** @type {any} */ one) => h("p", null, one.text)),
      answer.svg ? h("div", { class: "look-picture" }, svgFrom(answer.svg)) : null,
      answer.svg ? h("p", { class: "aside" }, t("• in the bike, ◆ chosen.")) : null,
      answer.svg ? h("p", null, h("a", {
        class: "button", href: `${desk.path}ladder/${end}.pdf`, target: "_blank", rel: "noopener",
      }, t("Print it for the wall"))) : null,
      answer.bands.length ? asTable(answer.bands) : null,
      answer.basis ? h("p", { class: "aside" }, answer.basis) : null,
    ],
  });
}

/** @param {any[]} bands */
function asTable(bands) {
  return h("details", null, h("summary", null, t("The same as a table")), h(
    "table", { class: "fact-table" },
    h("thead", null, h("tr", null, ...[t("spring"), t("suits riders of"), t("with preload")].map((name) => h("th", { scope: "col" }, name)))),
    h("tbody", null, ...bands.map((one) => h(
      "tr", null, h("th", { scope: "row" }, [one.label.replace(/ [•◆]/g, ""), ...one.where].join(", ")),
      ...(one.rider_mass_kg ? [h("td", null, range(one.rider_mass_kg, "mass", 0)), h("td", null, range(one.preload_mm, "length", 1))]
        : [h("td", { colspan: "2" }, one.why)]),
    ))),
  ));
}

/** @param {[number, number]} band @param {string} quantity @param {number} decimals */
function range([low, high], quantity, decimals) {
  const from = inUnit(low, quantity, { decimals });
  return t("{low} to {high}", { low: from.text, high: `${inUnit(high, quantity, { decimals }).text} ${from.unit}` });
}
