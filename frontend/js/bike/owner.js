// @ts-check
/** The bike goes to another owner: found or entered here, with a reason; what stays of the notes is read through. */

import { post } from "../api.js";
import { h, replace } from "../dom.js";
import { textField } from "../parts/field.js";
import { form } from "../parts/form.js";
import { pick } from "../parts/pick.js";
import { t } from "../words.js";

/**
 * @param {{bike: any, open: any[], done: (bike: any) => void, back: () => void}} options
 *   `open`: the bike's cards that are not sealed yet
 * @returns {HTMLElement}
 */
export function ownerForm({ bike, open, done, back }) {
  /** @type {any} */
  let owner = null;
  const chosen = h("div", { role: "status" });
  const finder = pick({
    path: "/api/customers/", label: t("The new owner"), hint: t("Name, phone or e-mail."),
    row: (customer) => ({ name: customer.name, more: [customer.phone, customer.email].filter(Boolean).join(" · ") }),
    take: (customer) => take(customer), nothing: (words) => t("Nobody called “{words}” is known yet: enter the name below.", { words }),
  });
  const name = textField({ name: "name", label: t("Or a new customer’s name"), maxlength: 120, hint: t("Left blank with nobody chosen: not known yet.") });
  const fields = [
    name,
    textField({ name: "plate", label: t("Plate"), value: bike.plate, maxlength: 20, hint: t("As it is from now on.") }),
    textField({ name: "notes", label: t("Notes for the workshop"), value: bike.notes, lines: 3, hint: t("Leave only what is about the bike: the rest is put aside with the former owner.") }),
    textField({ name: "reason", label: t("Why"), value: t("Sold"), required: true, maxlength: 300, hint: t("Stays in the list of changes; name nobody.") }),
  ];

  /** @param {any} customer */
  function take(customer) {
    owner = customer;
    finder.hidden = name.element.hidden = Boolean(customer);
    replace(chosen, customer ? h("p", null, t("New owner:"), " ", h("b", null, customer.name), " ",
      h("button", { type: "button", onclick: () => take(null) }, t("Somebody else"))) : null);
  }

  const sheet = form({
    title: t("Another owner"), fields, submit: t("Change the owner"), draftName: `bike.${bike.id}.owner`, version: bike.version,
    layout: [
      h("p", null, t("The bike keeps its technical history. Technicians no longer read whose it was before; managers do.")),
      open.length ? h("p", { class: "note" }, t("Still open: {cards}. From then on technicians no longer read whose job that is: seal it first if you can.", { cards: open.map((card) => card.number).join(", ") })) : null,
      finder, chosen, ...fields.map((field) => field.element),
    ],
    extra: [h("button", { type: "button", onclick: back }, t("Back"))],
    send: async ({ name: typed, plate, notes, reason }, version) => {
      if (!owner && typed.trim()) take(await post("/api/customers/", { name: typed.trim() }));
      return post(`/api/bikes/${bike.id}/owner/`, { owner: owner?.id ?? null, version, reason, plate, notes });
    },
    done,
  });
  return sheet.element;
}
