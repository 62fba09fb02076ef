// @ts-check
/** A look ahead, folded: asked of the server when it is unfolded, and again when what it rests on has changed. */
import * as api from "../api.js";
import { h, replace } from "../dom.js";
import { keepFocus } from "./paint.js";
import { unitOf } from "../units.js";
import { t } from "../words.js";

/**
 * @param {import("./desk.js").Desk} desk
 * @param {{id: string, title: string, hint?: string, ask: () => Promise<any>, draw: (answer: any) => import("../dom.js").Child[],
 *   above?: HTMLElement}} options `hint`: what it is good for, in one sentence; `above`: fields that stand over the answer
 * @returns {{node: HTMLElement, sync: () => void, ask: () => Promise<void>}}
 */
export function look(desk, { id, title, hint = "", ask, draw, above }) {
  const place = h("div", { class: "look-place" });
  const node = h(
    "details", { class: "look", id, ontoggle: () => sync() },
    h("summary", null, title), hint ? h("p", { class: "aside" }, hint) : null, above ?? null, place,
  );
  let basis = "";
  let units = "";
  /** @type {any} */
  let answer = null;

  function paint() {
    units = inHand();
    keepFocus(place, () => replace(place, ...draw(answer), ...lacks(answer)));
  }
  async function put() {
    const mine = basisOf(desk);
    basis = mine;
    if (!answer) replace(place, h("p", { class: "empty" }, t("Being worked out.")));
    try {
      const found = await ask();
      if (basis !== mine) return;
      answer = found;
      paint();
    } catch (error) {
      basis = "";
      if (error instanceof api.Offline) {
        if (!answer) replace(place, h("p", { class: "lack" }, t("No network: worked out when it is back.")));
      } else if (error instanceof api.Refused) {
        answer = null;
        replace(place, ...error.problems.map((problem) => h("p", { class: "lack" }, problem.text)));
      } else {
        throw error;
      }
    }
  }
  function sync() {
    if (!node.open) return;
    if (basis !== basisOf(desk)) void put();
    else if (answer && units !== inHand()) paint();
  }
  return { node, sync, ask: put };
}

/** Whatever a look rests on, the units that the server words it in among it. @param {import("./desk.js").Desk} desk */
function basisOf(desk) {
  const { card } = desk;
  const counting = card.readings.filter((/** @type {any} */ one) => one.counts).map((/** @type {any} */ one) => one.id);
  const settings = Object.values(card.settings).map((/** @type {any} */ ends) => Object.values(ends).map((/** @type {any} */ one) => one?.version));
  return JSON.stringify([desk.redrawn, card.version, card.bike?.version, card.rider?.mass_in_kit_kg, counting, settings]);
}

const inHand = () => ["rate", "length", "mass", "force"].map(unitOf).join();

/** @param {any} answer */
function lacks(answer) {
  const problems = (answer.problems ?? []).map((/** @type {any} */ one) => one.text);
  const missing = (answer.missing ?? []).map((/** @type {string} */ one) => t("Still needed: {what}.", { what: one }));
  return [
    ...[...problems, ...missing].map((text) => h("p", { class: "lack" }, text)),
    ...(answer.notes ?? []).map((/** @type {any} */ note) => h("p", { class: "aside" }, note.text)),
  ];
}
