// @ts-check
/** How the bike sits, dives and drives: as received, chosen and built, drawn to scale. */
import * as api from "../api.js";
import { h } from "../dom.js";
import { numberField } from "../parts/field.js";
import { svgFrom } from "../parts/trusted.js";
import { show, unitOf } from "../units.js";
import { look } from "./look.js";

/** @param {import("./desk.js").Desk} desk @param {"front"|"rear"} end where the fold stands: it is of both ends */
export function sitting(desk, end) {
  /** @type {Record<string, any>} */
  const given = { deceleration_m_per_s2: null };
  /** @type {ReturnType<typeof look>} */
  let folded;
  const braking = numberField({
    name: `sitting.${end}.deceleration`, label: "Braking", quantity: "m/s²", step: 1, start: 6, decimals: 1,
    hint: "Blank: 6 m/s², assumed; four fifths of it at the front tyre.",
    onChange: (value) => {
      given.deceleration_m_per_s2 = value;
      void folded.ask();
    },
  });
  folded = look(desk, {
    id: `sitting-${end}`, title: "Attitude, braking and drive",
    hint: "Both ends together: what the sags do to rake and trail, how far the fork dives, whether the rear squats.",
    above: h("div", { class: "group-fields" }, braking.element),
    ask: () => api.post(`${desk.path}attitude/`, given),
    draw: (answer) => [
      answer.text ? h("p", { class: "said" }, answer.text) : null,
      answer.svg ? h("div", { class: "look-picture" }, svgFrom(answer.svg)) : null,
      answer.stages.length ? table("How it sits, with the rider", answer.stages, [
        ["pitch against as received", (one) => `${signed(one.pitch_deg)}°`],
        ["rake", (one) => `${one.rake_deg.toFixed(1)}°`], ["trail", (one) => mm(one.trail_mm)], ["wheelbase", (one) => mm(one.wheelbase_mm)],
      ]) : null,
      answer.braking.length ? table("Fork under steady braking", answer.braking, [
        ["stroke used, air squeezed", (one) => mm(one.stroke_hard_mm)], ["stroke used, air settled", (one) => mm(one.stroke_mm)],
        ["left to the stop", (one) => mm(one.left_mm)], ["force along the fork", (one) => newton(one.fork_force_n)],
      ]) : null,
      answer.squat.length ? table("Under drive", answer.squat, [
        ["squat ratio", (one) => (one.squat_ratio === null ? "level" : one.squat_ratio.toFixed(2))],
        ["so the rear", (one) => (one.anti_squat > 1 ? "rises" : "squats")],
      ]) : null,
      answer.over_sag.length ? table("How the rear sag moves it", answer.over_sag.map((/** @type {any} */ one) => ({ ...one, label: mm(one.rear_mm) })), [
        ["squat ratio", (one) => (one.squat_ratio === null ? "level" : one.squat_ratio.toFixed(2))],
      ]) : null,
      answer.missing.length && desk.card.bike ? h("p", null, h("a", { class: "button", href: `#/bikes/${desk.card.bike.id}` }, "Enter it with the bike")) : null,
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
function mm(value) {
  const { text, unit } = show(value, "length", { decimals: unitOf("length") === "mm" ? 0 : undefined });
  return `${text} ${unit}`;
}

/** @param {number} value */
function newton(value) {
  const { text, unit } = show(value, "force");
  return `${text} ${unit}`;
}

/** @param {number} value */
const signed = (value) => (Math.abs(value) < 0.05 ? "0.0" : `${value > 0 ? "+" : "−"}${Math.abs(value).toFixed(1)}`);
