// @ts-check
/** How the bike sits, dives and drives: as received, chosen and built, drawn to scale. */
import * as api from "../api.js";
import { h } from "../dom.js";
import { numberField } from "../parts/field.js";
import { svgFrom } from "../parts/trusted.js";
import { tape, withUnit } from "../units.js";
import { look } from "./look.js";
import { t, written } from "../words.js";

/** @param {import("./desk.js").Desk} desk @param {string} place where the fold stands: it is of both ends */
export function sitting(desk, place) {
  /** @type {Record<string, any>} */
  const given = { deceleration_m_per_s2: null };
  /** @type {ReturnType<typeof look>} */
  let folded;
  const braking = numberField({
    name: `sitting.${place}.deceleration`, label: t("Braking"), quantity: "m/s²", step: 1, start: 6, decimals: 1,
    hint: t("Blank: 6 m/s², assumed; four fifths of it at the front tyre."),
    onChange: (value) => {
      given.deceleration_m_per_s2 = value;
      void folded.ask();
    },
  });
  folded = look(desk, {
    id: `sitting-${place}`, title: t("Attitude, braking and drive"),
    hint: t("Both ends together: what the sags do to rake and trail, how far the fork dives, whether the rear squats."),
    above: h("div", { class: "group-fields" }, braking.element),
    ask: () => api.post(`${desk.path}attitude/`, given),
    draw: (answer) => [
      answer.text ? h("p", { class: "said" }, answer.text) : null,
      answer.svg ? h("div", { class: "look-picture" }, svgFrom(answer.svg)) : null,
      answer.stages.length ? table(t("How it sits, with the rider"), answer.stages, [
        [t("pitch against as received"), (one) => `${signed(one.pitch_deg)}°`],
        [t("rake"), (one) => `${written(one.rake_deg.toFixed(1))}°`], [t("trail"), (one) => mm(one.trail_mm)], [t("wheelbase"), (one) => mm(one.wheelbase_mm)],
      ]) : null,
      answer.braking.length ? table(t("Fork under steady braking"), answer.braking, [
        [t("stroke used, air squeezed"), (one) => mm(one.stroke_hard_mm)], [t("stroke used, air settled"), (one) => mm(one.stroke_mm)],
        [t("left to the stop"), (one) => mm(one.left_mm)], [t("force along the fork"), (one) => newton(one.fork_force_n)],
      ]) : null,
      answer.squat.length ? table(t("Under drive"), answer.squat, [
        [t("squat ratio"), (one) => (one.squat_ratio === null ? t("level") : written(one.squat_ratio.toFixed(2)))],
        [t("so the rear"), (one) => (one.anti_squat > 1 ? t("rises") : t("squats"))],
      ]) : null,
      answer.over_sag.length ? table(t("How the rear sag moves it"), answer.over_sag.map((/** @type {any} */ one) => ({ ...one, label: mm(one.rear_mm) })), [
        [t("squat ratio"), (one) => (one.squat_ratio === null ? t("level") : written(one.squat_ratio.toFixed(2)))],
      ]) : null,
      answer.missing.length && desk.card.bike ? h("p", null, h("a", { class: "button", href: `#/bikes/${desk.card.bike.id}` }, t("Enter it with the bike"))) : null,
    ],
  });
  return folded;
}

/**
 * @param {string} caption
 * @param {any[]} columns
 * @param {[string, (one: any) => string][]} rows
 */
function table(caption, columns, rows) {
  return h("div", { class: "wide" }, h(
    "table", { class: "fact-table" }, h("caption", null, caption),
    h("thead", null, h("tr", null, h("td"), ...columns.map((one) => h("th", { scope: "col" }, one.label)))),
    h("tbody", null, ...rows.map(([name, of]) => h("tr", null, h("th", { scope: "row" }, name), ...columns.map((one) => h("td", null, of(one)))))),
  ));
}

/** @param {number|null} value */
const mm = (value) => withUnit(value, "length", tape());

/** @param {number} value */
const newton = (value) => withUnit(value, "force");

/** @param {number} value */
const signed = (value) => written(Math.abs(value) < 0.05 ? "0.0" : `${value > 0 ? "+" : "−"}${Math.abs(value).toFixed(1)}`);
