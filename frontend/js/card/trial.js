// @ts-check
/** Trying: rate, preload and gap under the hand, the picture follows; kept only when the person says so. */
import { h, replace } from "../dom.js";
import { during } from "../parts/busy.js";
import { Entries, capital } from "./entry.js";
import { gapsPart } from "./legs.js";
import { keepFocus } from "./paint.js";
import { LEGS, SPRING_FACTS, factName } from "./words.js";
import { t } from "../words.js";

/**
 * @param {import("../screens/card.js").Bench} bench
 * @param {"front"|"rear"} end
 * @param {import("./sheet.js").Sheet} sheet
 * @param {() => void} follow asks for the picture of what is being tried
 */
export function trial(bench, end, sheet, follow) {
  const { desk } = bench;
  const node = h("section", { class: "trial", "aria-label": t("Try rate, preload and gap") });
  const bar = h("div", { class: "trial-bar" });
  /** @type {Entries} */
  let entries = new Entries(sheet);
  /** @type {(() => void)[]} */
  let sliders = [];
  let drawn = "";
  // Once parted the gaps stay so while they are tried: a slider that passes the other's value must not vanish.
  let parted = false;
  const legs = () => sheet.value("legs") ?? [];

  const draw = () => {
    entries = new Entries(sheet);
    sliders = [];
    const holders = carriers(sheet, end);
    const fields = holders.length ? knobs(holders) : [h("p", { class: "empty" }, t("Choose a spring below; then rate, preload and gap can be tried here, and the picture follows."))];
    keepFocus(node, () => replace(node, h("h3", null, t("Try")), h("div", { class: "knobs" }, ...fields), bar));
  };
  const sync = () => {
    parted ||= gapsPart(legs());
    const shape = JSON.stringify([carriers(sheet, end), carriers(sheet, end).map((/** @type {string} */ at) => sheet.value(`${at}spring`)?.kind), parted]);
    if (shape !== drawn) {
      drawn = shape;
      draw();
    }
    entries.sync();
    for (const slider of sliders) slider();
    drawBar();
  };

  /** @param {string[]} holders */
  function knobs(holders) {
    const [first, ...others] = holders;
    const kind = sheet.value(`${first}spring`).kind;
    const rates = (SPRING_FACTS[kind] ?? []).filter((fact) => fact.quantity === "rate").map(({ name }) =>
      knob(`${first}spring.${name}`, others.map((at) => `${at}spring.${name}`), capital(factName(name)), "rate", () => offList(holders)));
    const pre = knob(`${first}preload_mm`, others.map((at) => `${at}preload_mm`), t("Preload"), "length");
    if (end === "rear") return [...rates, pre];
    const gaps = legs().map((/** @type {any} */ _leg, /** @type {number} */ index) => `legs.${index}.air_gap_mm`);
    if (!parted) return [...rates, pre, knob(gaps[0], gaps.slice(1), t("Air gap"), "length")];
    return [...rates, pre, ...gaps.map((/** @type {string} */ gap, /** @type {number} */ index) => knob(gap, [], t("Air gap, {leg}", { leg: LEGS[index] }), "length"))];
  }

  /**
   * A number with its slider.
   * @param {string} path
   * @param {string[]} also
   * @param {string} label
   * @param {string} quantity
   * @param {() => void} [touched]
   */
  function knob(path, also, label, quantity, touched = () => {}) {
    const { low, high, step, nudge } = reach(path, quantity, end, sheet, desk.card);
    const changed = () => {
      touched();
      follow();
    };
    const field = entries.number(path, { also, label, quantity, step: nudge, onValue: changed });
    const slider = h("input", {
      type: "range", name: `${path}.slider`, min: low, max: high, step, "aria-label": label,
      oninput: () => {
        const value = Number(slider.value);
        for (const one of [path, ...also]) sheet.set(one, null, { value });
        changed();
        syncField();
      },
    });
    const syncField = () => {
      const tied = entries.tied.find((one) => one.path === path);
      tied?.field.set(sheet.value(path));
    };
    sliders.push(() => {
      const value = sheet.value(path);
      if (typeof value === "number" && document.activeElement !== slider) slider.value = String(value);
    });
    return h("div", { class: "knob" }, field, slider);
  }

  /** A tried rate is no spring of the list any more. @param {string[]} holders */
  function offList(holders) {
    for (const at of holders) {
      sheet.set(`${at}stock_spring`, null, { value: null });
      sheet.set(`${at}label`, null, { value: t("tried, not on the list") });
    }
  }

  function drawBar() {
    const tried = sheet.waiting > 0;
    if (bar.dataset.tried === `${tried}${desk.open}`) return;
    bar.dataset.tried = `${tried}${desk.open}`;
    const keep = h("button", {
      type: "button", class: "main", id: `keep-${end}`, onclick: () => during(keep, () => sheet.decide()),
    }, t("Keep as chosen"));
    keepFocus(bar, () => replace(bar, ...(tried && desk.open ? [
      h("p", null, t("Only tried.")), keep,
      h("button", {
        type: "button", id: `drop-${end}`, onclick: () => {
          sheet.forget();
          follow();
          parted = gapsPart(legs());
          draw();
          sync();
        },
      }, t("Back to the chosen")),
    ] : [])));
  }

  sync();
  return { node, sync };
}

/**
 * The paths in front of what carries a spring: the legs that have one, or the shock.
 * @param {import("./sheet.js").Sheet} sheet
 * @param {string} end
 */
function carriers(sheet, end) {
  if (end === "rear") return sheet.value("spring") ? [""] : [];
  const legs = sheet.value("legs") ?? [];
  return legs.map((/** @type {any} */ leg, /** @type {number} */ index) => (leg?.spring ? `legs.${index}.` : null))
    .filter((/** @type {any} */ at) => at !== null);
}

/**
 * How far a slider goes: around what stands there, within what is believed.
 * @param {string} path
 * @param {string} quantity
 * @param {string} end
 * @param {import("./sheet.js").Sheet} sheet
 * @param {any} card
 */
function reach(path, quantity, end, sheet, card) {
  const value = sheet.value(path) ?? 0;
  if (quantity === "rate") {
    const step = end === "front" ? 0.05 : 0.5;
    return { low: round(value * 0.7, step), high: round(value * 1.3, step), step, nudge: step * 2 };
  }
  if (path.endsWith("air_gap_mm")) return { low: Math.max(10, value - 60), high: value + 60, step: 1, nudge: 5 };
  const adjuster = card.bike?.[end]?.adjuster_mm ?? card[`loose_${end}`]?.adjuster_mm;
  return { low: adjuster?.[0] ?? 0, high: adjuster?.[1] ?? Math.max(30, value + 10), step: 0.5, nudge: 0.5 };
}

/** @param {number} value @param {number} step */
const round = (value, step) => Math.round(value / step) * step;
