// @ts-check
/** Erasing a customer's personal data: what goes, what stays, why, and once more whether it is meant. */

import { post } from "../api.js";
import { h, replace } from "../dom.js";
import { ask } from "./dialog.js";
import { textField } from "./field.js";
import { form } from "./form.js";
import { t } from "../words.js";

/**
 * Return the section at the foot of a customer's screen.
 *
 * @param {string} path the customer's address
 * @param {any} customer
 * @param {import("../app.js").App} app
 * @param {(erased: any) => void} done
 */
export function erasing(path, customer, app, done) {
  const section = h("section", { class: "sheet" });

  function closed() {
    replace(section, h("h2", null, t("Personal data")), h("p", null, t("Erase them when the customer asks for it, or when there is no reason left to keep them.")),
      h("div", { class: "actions" }, h("button", { type: "button", onclick: open }, t("Erase personal data"))));
  }

  function open() {
    const why = textField({ name: "why", label: t("Reason"), required: true, maxlength: 500, hint: t("Stays in the list of changes for ever: name nobody.") });
    const sheet = form({
      title: t("Erase personal data"), fields: [why], submit: t("Erase"), draftName: `customer.${customer.id}.erasing`,
      layout: [...told(), why.element], extra: [h("button", { type: "button", onclick: closed }, t("Back"))],
      send: async (values) => (await sure() ? post(`${path}erasure/`, values) : null),
      done: (erased) => {
        if (!erased) return;
        section.remove();
        done(erased);
        app.say(t("Erased. Other tablets forget their copies the next time they are online."));
      },
    });
    replace(section, sheet.element);
    why.focus();
  }

  const sure = () => ask({
    title: t("Erase all that is personal of {name}?", { name: customer.name }),
    body: [h("p", null, t("It cannot be undone, and a restored backup will follow it."))],
    choices: [{ text: t("Erase it"), value: true }, { text: t("Keep it"), value: false, main: true }],
  });

  closed();
  return section;
}

function told() {
  return [
    h("p", null, h("strong", null, t("What goes:")), " ",
      t("names, phone, e-mail, notes, the riders’ masses and axle loads, plates and frame numbers of their bikes, complaints and notes on their cards, customer links, stored PDFs, and the copies on tablets.")),
    h("p", null, h("strong", null, t("What stays:")), " ",
      t("the bikes and cards as technical data, and every sealed record with its seal, with the words on complaint and explanation that were sealed."), " ",
      t("Files that were taken out of Coilbook are yours to destroy.")),
  ];
}
