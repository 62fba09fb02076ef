// @ts-check
/** Every job done to a bike, newest first, whichever branch did it: what was found, changed, fitted and left. */

import { h } from "../dom.js";
import { day } from "../parts/dates.js";
import { inUnit, withUnit } from "../units.js";
import { t } from "../words.js";

const ENDS = { front: t("Fork"), rear: t("Rear") };

/** @param {any[]} cards @returns {HTMLElement} */
export function historyList(cards) {
  const nothing = t("No job yet. Every card of this bike will be listed here, with what was changed, whichever branch did it.");
  return h("ol", { class: "rows past" }, ...(cards.length ? cards.map(job) : [h("li", null, h("p", { class: "empty" }, nothing))]));
}

/** @param {any} card */
function job(card) {
  const where = card.record ? `#/cards/${card.id}/sealed` : `#/cards/${card.id}`;
  return h("li", null, h("a", { href: where },
    h("span", { class: "row-key digits" }, day(card.opened_at)),
    h("span", { class: "row-name" }, title(card)),
    h("span", { class: "row-side" }, state(card)),
    h("span", { class: "row-more" }, [card.number, card.shop_name, ...counters(card)].join(" · ")),
    ...[...card.sags.map(sagLine), ...card.changes, ...card.parts].map((line) => h("span", { class: "row-more past-line" }, line))));
}

/** @param {any} card */
function title(card) {
  if (card.complaint) return card.complaint;
  return card.former_owner ? t("A job for an owner before") : t("no complaint written down");
}

/** @param {any} card */
function state(card) {
  if (!card.record) return card.step_label;
  return card.amendments ? t("record {record}, corrected since", { record: card.record }) : t("record {record}", { record: card.record });
}

/** @param {any} card */
function counters(card) {
  return [card.distance_km === null ? "" : withUnit(card.distance_km, "km"), card.hours === null ? "" : withUnit(card.hours, "h")].filter(Boolean);
}

/** @param {any} row the sags read at one end, before and after */
function sagLine(row) {
  const kinds = [["rider", t("rider sag")], ["static", t("static sag")]].map(([kind, name]) => {
    const [before, after] = [row[`${kind}_before_mm`], row[`${kind}_after_mm`]];
    if (before === null && after === null) return "";
    if (before === null || before === after) return `${name} ${withUnit(after, "length")}`;
    return after === null ? t("{name} {before} as received", { name, before: withUnit(before, "length") }) : t("{name} {before} to {after}", { name, before: inUnit(before, "length").text, after: withUnit(after, "length") });
  });
  return `${ENDS[/** @type {"front"} */ (row.end)]}: ${kinds.filter(Boolean).join(", ")}`;
}
