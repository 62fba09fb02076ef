// @ts-check
/** What stands in the way of sealing, each with its way there; what a manager may override, with a reason. */
import * as api from "../api.js";
import { h } from "../dom.js";
import { moment } from "../parts/dates.js";
import { ask } from "../parts/dialog.js";
import { textField } from "../parts/field.js";
import { STEPS } from "./words.js";
import { t } from "../words.js";

/** Where a blocker is mended when not on its own step. @type {Record<string, {href: string, text: string}>} */
const ELSEWHERE = { wrench_out_of_calibration: { href: "#/business?part=tools", text: t("Enter a calibration") } };

/**
 * @param {import("./desk.js").Desk} desk
 * @param {boolean} manages whether this person may override
 */
export function blockerList(desk, manages) {
  return h("ul", { class: "blockers" }, ...desk.card.blockers.map((/** @type {any} */ one) => blocker(desk, one, manages && desk.open)));
}

/**
 * @param {import("./desk.js").Desk} desk
 * @param {any} one
 * @param {boolean} manages
 */
function blocker(desk, one, manages) {
  const step = STEPS.find((each) => each.key === one.step);
  const way = ELSEWHERE[one.code];
  const acts = [
    way ? h("a", { class: "button", href: way.href }, way.text) : null,
    one.may_override && manages ? h("button", { type: "button", onclick: () => override(desk, one) },
      t("Override with a reason"), h("span", { class: "quiet" }, `: ${one.text}`)) : null,
  ].filter(Boolean);
  return h("li", null,
    step ? h("a", { href: `#/cards/${desk.id}/${step.key}` }, h("span", null, one.text), h("b", null, step.name)) : h("span", null, one.text),
    acts.length ? h("div", { class: "line-acts" }, ...acts) : null,
    one.may_override && !manages ? h("p", { class: "aside" }, t("A manager may override this with a reason.")) : null);
}

/**
 * @param {import("./desk.js").Desk} desk
 * @param {any} one
 */
async function override(desk, one) {
  const reason = textField({ name: "reason", label: t("Why"), lines: 3, maxlength: 300, hint: t("At least 10 characters. It is sealed with the record and printed on it; name no customer.") });
  const go = await ask({
    title: t("Override with a reason?"), body: [h("p", null, one.text), reason.element],
    choices: [{ text: t("Back"), value: false }, { text: t("Override"), value: true, main: true }],
  });
  if (!go) return;
  await desk.act("override", () => api.post(`${desk.path}overrides/`, { code: one.code, about: one.about, reason: reason.value }));
}

/** What was overridden on this card. @param {import("./desk.js").Desk} desk */
export function overrideList(desk) {
  const made = (desk.card.overrides ?? []).filter((/** @type {any} */ one) => one.stands);
  if (!made.length) return null;
  return h("section", { class: "overrides" }, h("h3", null, t("Overridden with a reason")),
    h("ul", null, ...made.map((/** @type {any} */ one) => h("li", null, one.text, " ", h("b", null, one.reason), " ",
      h("small", null, `${one.by_name}, ${moment(one.at)}`)))));
}
