// @ts-check
/** The currency that the business's estimates are in: told to everybody, chosen by an owner. */

import { get, patch } from "../api.js";
import { h, replace } from "../dom.js";
import { textField } from "../parts/field.js";
import { form } from "../parts/form.js";
import { t } from "../words.js";

/** @param {import("../app.js").App} app */
export async function currency(app) {
  const node = h("section", { "aria-label": t("Currency") });
  let business = await get("/api/business/");

  function draw() {
    const change = h("button", { type: "button", onclick: edit }, t("Change the currency"));
    replace(node, h("p", null, t("Estimates are in {currency}.", { currency: business.currency })), app.person.role === "owner" ? h("div", { class: "actions" }, change) : null);
  }

  function edit() {
    const code = textField({
      name: "currency", label: t("Currency"), value: business.currency, required: true, maxlength: 3,
      hint: t("Its code in ISO 4217, as in EUR. Nothing is converted: estimates that have lines stay in the currency in which they were written."),
    });
    const sheet = form({
      title: t("Currency of the estimates"), fields: [code], submit: t("Save"), draftName: "currency", layout: [code.element],
      extra: [h("button", { type: "button", onclick: draw }, t("Back"))],
      send: (values) => patch("/api/business/currency/", { currency: values.currency.trim().toUpperCase() }),
      done: (saved) => {
        business = saved;
        app.say(t("Estimates are in {currency} now.", { currency: saved.currency }));
        draw();
      },
    });
    replace(node, h("div", { class: "sheet" }, sheet.element));
    code.focus();
  }

  draw();
  return node;
}
