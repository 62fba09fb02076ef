// @ts-check
/** Grip and ride: what a change of springs does to the tyre's hold on a random road, compared, not foretold. */
import * as api from "../api.js";
import { h } from "../dom.js";
import { choiceField, numberField } from "../parts/field.js";
import { withUnit } from "../units.js";
import { look } from "./look.js";
import { t, written } from "../words.js";

const ROADS = [
  ["A", t("A, smooth")], ["B", t("B, good")], ["C", t("C, average")], ["D", t("D, poor")], ["E", t("E, very poor")],
].map(([value, text]) => ({ value, text }));
const STATES = /** @type {const} */ ([["before", t("as received")], ["after_same_damping", t("now, damper as it was")], ["after_matched_damping", t("now, damper to match")]]);

/**
 * @param {import("./desk.js").Desk} desk
 * @param {"front"|"rear"} end
 */
export function grip(desk, end) {
  /** @type {Record<string, any>} */
  const given = { road_class: "C", speed_km_per_h: 60, tyre_rate_n_per_mm: null, damping_ratio: null };
  /** @type {ReturnType<typeof look>} */
  let folded;
  const take = (/** @type {string} */ key) => (/** @type {any} */ value) => {
    given[key] = value;
    void folded.ask();
  };
  const fields = [
    choiceField({ name: `grip.${end}.road_class`, label: t("Road, by ISO 8608"), list: true, choices: ROADS, value: "C", onChange: take("road_class") }),
    numberField({ name: `grip.${end}.speed`, label: t("Speed"), quantity: "km/h", step: 10, value: 60, onChange: take("speed_km_per_h") }),
    numberField({ name: `grip.${end}.tyre`, label: t("Tyre’s vertical rate"), quantity: "rate", step: 10, start: 180, hint: t("Blank: 180 N/mm, assumed."), onChange: take("tyre_rate_n_per_mm") }),
    numberField({ name: `grip.${end}.damping`, label: t("Damping ratio before"), quantity: "", step: 0.05, start: 0.3, decimals: 2, hint: t("Blank: 0.3, assumed."), onChange: take("damping_ratio") }),
  ];
  folded = look(desk, {
    id: `grip-${end}`, title: t("Grip and ride"), hint: t("One wheel on a random road, before and after. It compares the two; it does not foretell either."),
    above: h("div", { class: "group-fields" }, ...fields.map((field) => field.element)),
    ask: () => api.post(`${desk.path}ride/`, { end, ...given }),
    draw: (answer) => [answer.before ? asTable(answer) : null],
  });
  return folded;
}

/** @param {any} answer */
function asTable(answer) {
  /** @type {[string, (one: any) => string][]} */
  const rows = [
    [t("Tyre load varies by, rms"), (/** @type {any} */ one) => t("{share} of its static load", { share: percent(one.tyre_load_share) })],
    [t("Time the tyre is near leaving the ground"), (/** @type {any} */ one) => percent(one.near_leaving_share)],
    [t("Acceleration of what is sprung, rms"), (/** @type {any} */ one) => `${written(one.acceleration_m_per_s2.toPrecision(3))} m/s²`],
    [t("Travel used about the sag, rms"), (/** @type {any} */ one) => withUnit(one.travel_mm, "length")],
  ];
  return h("div", { class: "wide" }, h(
    "table", { class: "fact-table" },
    h("thead", null, h("tr", null, h("td"), ...STATES.map(([, name]) => h("th", { scope: "col" }, name)))),
    h("tbody", null, ...rows.map(([name, of]) => h("tr", null, h("th", { scope: "row" }, name),
      ...STATES.map(([state]) => h("td", null, of(answer[state])))))),
  ));
}

/** @param {number} share */
function percent(share) {
  const value = share * 100;
  return value > 0 && value < 0.1 ? t("under 0.1 %") : `${written(value.toFixed(value < 10 ? 1 : 0))} %`;
}
