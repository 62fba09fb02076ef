// @ts-check
/** The currency that the business's estimates are in: told to everybody, chosen by an owner. */

import { get, patch } from "../api.js";
import { h, replace } from "../dom.js";
import { textField } from "../parts/field.js";
import { form } from "../parts/form.js";

/** @param {import("../app.js").App} app */
export async function currency(app) {
  const node = h("section", { "aria-label": "Currency" });
  let business = await get("/api/business/");

  function draw() {
    const change = h("button", { type: "button", onclick: edit }, "Change the currency");
    replace(node, h("p", null, `Estimates are in ${business.currency}.`), app.person.role === "owner" ? h("div", { class: "actions" }, change) : null);
  }

  function edit() {
    const code = textField({
      name: "currency", label: "Currency", value: business.currency, required: true, maxlength: 3,
      hint: "Its code in ISO 4217, as in EUR. Nothing is converted: look through the open estimates, which must be agreed to again.",
    });
    const sheet = form({
      title: "Currency of the estimates", fields: [code], submit: "Save", draftName: "currency", layout: [code.element],
      extra: [h("button", { type: "button", onclick: draw }, "Back")],
      send: (values) => patch("/api/business/currency/", { currency: values.currency.trim().toUpperCase() }),
      done: (saved) => {
        business = saved;
        app.say(`Estimates are in ${saved.currency} now.`);
        draw();
      },
    });
    replace(node, h("div", { class: "sheet" }, sheet.element));
    code.focus();
  }

  draw();
  return node;
}
