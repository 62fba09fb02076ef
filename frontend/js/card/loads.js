// @ts-check
/** Load cases: what rides along beside the rider, and the preload that each needs of the same spring. */
import * as api from "../api.js";
import { h, replace } from "../dom.js";
import { halves, unitOf, withUnit } from "../units.js";
import { Entries } from "./entry.js";
import { lockable } from "./ends.js";
import { look } from "./look.js";
import { keepFocus } from "./paint.js";
import { fieldsSheet } from "./sheets.js";
import { t } from "../words.js";

/** What is usually added, to be put right by hand (common practice, no source). */
const USUAL = [
  { add: t("Add a pillion"), label: t("pillion"), mass_kg: 75, rear_share: 0.8 },
  { add: t("Add luggage"), label: t("luggage"), mass_kg: 15, rear_share: 1.1 },
];

/**
 * @param {import("./desk.js").Desk} desk
 * @param {"front"|"rear"} end
 */
export function loads(desk, end) {
  const sheet = fieldsSheet(desk);
  const form = h("div", { class: "cases" });
  let entries = new Entries(sheet);
  let drawn = "";
  const held = () => sheet.value("cases") ?? [];
  const change = (/** @type {any[]} */ next) => {
    sheet.set("cases", null, { value: next });
    draw();
    void sheet.flush();
  };
  function draw() {
    entries = new Entries(sheet);
    drawn = String(held().length);
    keepFocus(form, () => replace(form, lockable(
      ...held().map((/** @type {any} */ _one, /** @type {number} */ index) => row(index)),
      h("div", { class: "cases-add" }, ...USUAL.map(({ add, ...one }) => h("button", {
        type: "button", id: `${end}-${add.replaceAll(" ", "-").toLowerCase()}`, onclick: () => change([...held(), { ...one, label: fresh(one.label) }]),
      }, add))),
    )));
  }
  /** @param {string} label */
  function fresh(label) {
    const names = held().map((/** @type {any} */ one) => one.label);
    let next = label;
    for (let count = 2; names.includes(next); count += 1) next = `${label} ${count}`;
    return next;
  }
  /** @param {number} index */
  function row(index) {
    const at = (/** @type {string} */ name) => `cases.${index}.${name}`;
    return h(
      "div", { class: "case group-fields", role: "group", "aria-label": t("Load case {n}", { n: index + 1 }) },
      entries.text(at("label"), { label: t("What rides along"), maxlength: 60 }),
      entries.number(at("mass_kg"), { label: t("Mass added"), quantity: "mass", step: 1 }),
      entries.number(at("rear_share"), { label: t("Share on the rear axle"), quantity: "", step: 0.05, decimals: 2, hint: t("0.8: four fifths; above 1 behind the axle.") }),
      h("button", {
        type: "button", class: "quiet-button",
        onclick: () => change(held().filter((/** @type {any} */ _other, /** @type {number} */ place) => place !== index)),
      }, t("Remove"), h("span", { class: "quiet" }, " ", t("load case {n}", { n: index + 1 }))),
    );
  }
  draw();
  const folded = look(desk, {
    id: `loads-${end}`, title: t("Pillion and luggage"), above: form,
    hint: t("One spring, the preload for each load. What is added here counts for both ends and goes with the record."),
    ask: () => api.post(`${desk.path}cases/`, { end }),
    draw: (answer) => [
      answer.text ? h("p", { class: "said" }, answer.text) : null,
      answer.cases.length ? asTable(answer.cases) : null,
    ],
  });
  return {
    ...folded,
    sync: () => {
      if (drawn !== String(held().length)) draw();
      else entries.sync();
      folded.sync();
    },
  };
}

/** @param {any[]} rows */
function asTable(rows) {
  const mm = (/** @type {number|null} */ value, /** @type {number} */ decimals) =>
    (value === null ? t("none would do") : withUnit(value, "length", { decimals: unitOf("length") === "mm" ? decimals : undefined }));
  return h("div", { class: "wide" }, h(
    "table", { class: "fact-table" },
    h("thead", null, h("tr", null, ...[t("load"), t("preload wanted"), t("set to"), t("rider sag"), t("static sag then")].map((name) => h("th", { scope: "col" }, name)))),
    h("tbody", null, ...rows.map((row) => h(
      "tr", null, h("th", { scope: "row" }, row.label), h("td", null, mm(halves(row.preload_mm), 1)),
      h("td", null, mm(halves(row.set_to_mm), 1), row.reached ? null : ` (${row.in_band ? t("adjuster’s end") : t("not enough")})`),
      h("td", null, mm(row.rider_sag_mm, 0)), h("td", null, mm(row.static_sag_mm, 0)),
    ))),
  ));
}
