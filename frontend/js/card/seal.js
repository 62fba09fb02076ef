// @ts-check
/** Sealed: what still stands in the way, then the record with its number and head, the PDF, the customer's link. */
import * as api from "../api.js";
import { h, replace } from "../dom.js";
import { during } from "../parts/busy.js";
import { moment } from "../parts/dates.js";
import { cautionList } from "./cautions.js";
import { amendments } from "./amendments.js";
import { links } from "./links.js";
import { keepFocus } from "./paint.js";
import { blockerList, overrideList } from "./override.js";
import { shelfLines } from "./shelf.js";
import { t } from "../words.js";

/** @param {import("../screens/card.js").Bench} bench @returns {import("../screens/card.js").StepView} */
export function open(bench) {
  const { desk } = bench;
  const cautions = cautionList(desk, "sealed");
  const state = h("section", { class: "seal-state" });
  const after = h("div");
  let drawn = "";
  let sealed = false;
  const draw = () => {
    const { record, blockers } = desk.card;
    const now = JSON.stringify([record, blockers, desk.card.overrides, desk.open, desk.waiting]);
    if (now !== drawn) {
      drawn = now;
      keepFocus(state, () => replace(state, ...(record ? recordLines(desk) : beforeSeal(desk, bench.app.manages))));
    }
    if (record && !sealed) {
      sealed = true;
      replace(after, links(desk), amendments(desk));
    }
  };
  draw();
  return {
    node: h("div", { class: "sealing" }, cautions.node, cautions.past, state, after),
    news: () => {
      cautions.sync();
      draw();
    },
  };
}

/** @param {import("./desk.js").Desk} desk @param {boolean} manages */
function beforeSeal(desk, manages) {
  const { blockers } = desk.card;
  const waits = desk.waiting;
  const button = h("button", {
    type: "button", class: "main", id: "seal", disabled: !desk.open || blockers.length > 0 || waits > 0,
    onclick: () => during(button, () => desk.act(t("seal the card"), () => api.post(`${desk.path}seal/`, {}))),
  }, t("Seal the record"));
  return [
    h("p", null, t("Sealing freezes this card: every reading, setting, torque and name, numbered and chained to the shop's record before it. Nothing in it can be edited after; corrections are added beside it.")),
    blockers.length ? h("h3", null, t("What stands in the way")) : h("p", { class: "ready" }, waits ? t("Entries on this device are not saved yet.") : t("Nothing stands in the way.")),
    blockers.length ? blockerList(desk, manages) : null,
    overrideList(desk),
    desk.open ? shelfLines(desk) : null,
    desk.open ? button : null,
  ];
}

/** @param {import("./desk.js").Desk} desk */
function recordLines(desk) {
  const { record } = desk.card;
  return [
    h("p", { class: "record-number" }, t("Record"), " ", h("b", null, String(record.number))),
    h("dl", { class: "record-facts" },
      h("div", null, h("dt", null, t("Sealed")), h("dd", null, t("{when}, by {who}", { when: moment(record.sealed_at), who: record.sealed_by_name }))),
      h("div", null, h("dt", null, t("Head of the chain")), h("dd", { class: "head" }, record.head)),
      h("div", null, h("dt", null, t("Amendments")), h("dd", null, String(record.amendments)))),
    overrideList(desk),
    h("a", { class: "button main", id: "record-pdf", href: `${desk.path}record.pdf`, target: "_blank", rel: "noopener" }, t("Open the PDF")),
  ];
}
