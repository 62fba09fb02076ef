// @ts-check
/** A customer, the riders who come with them, and their bikes. */

import { get } from "../api.js";
import { h, replace } from "../dom.js";
import { moment } from "../parts/dates.js";
import { erasing } from "../parts/erasing.js";
import { numberField, textField } from "../parts/field.js";
import { form } from "../parts/form.js";
import { measure } from "../parts/measure.js";
import { deliver } from "../parts/outbox.js";
import { t } from "../words.js";
import { kindName } from "../parts/kinds.js";

/** @param {HTMLElement} root @param {import("../app.js").Params} params @param {import("../app.js").App} app */
export async function open(root, params, app) {
  const path = `/api/customers/${params.id}/`;
  let customer = await get(path);
  const bikes = await get(`/api/bikes/?search=${encodeURIComponent(customer.name)}`);
  const theirs = bikes.results.filter((/** @type {any} */ bike) => bike.owner === customer.id);

  const heading = h("h1");
  const facts = h("section", { class: "sheet" });
  const riders = h("section", { class: "sheet" });

  function drawFacts() {
    replace(heading, customer.name);
    replace(facts, h("h2", null, t("How to reach them")), h("dl", { class: "facts" }, fact(t("Phone"), customer.phone), fact(t("E-mail"), customer.email)),
      customer.notes ? h("p", null, h("span", { class: "soft" }, t("For the workshop only:")), " ", customer.notes) : null,
      h("div", { class: "actions" }, h("button", { type: "button", onclick: editFacts }, t("Change"))));
  }

  function drawErased() {
    replace(heading, t("Erased customer"));
    replace(facts, h("p", { class: "empty" }, t("Nothing personal is kept of this customer since {when}. Their sealed records stay, and hold.", { when: moment(customer.erased_at) })));
    replace(riders);
    riders.hidden = true;
  }

  function editFacts() {
    const fields = [
      textField({ name: "name", label: t("Name"), value: customer.name, required: true, maxlength: 120 }),
      textField({ name: "phone", label: t("Phone"), value: customer.phone, type: "tel", maxlength: 40 }),
      textField({ name: "email", label: t("E-mail"), value: customer.email, type: "email" }),
      textField({ name: "notes", label: t("Notes for the workshop"), value: customer.notes, lines: 3, hint: t("Never shown to the customer.") }),
    ];
    const draftName = `customer.${customer.id}`;
    const sheet = form({
      title: t("Customer"), fields, submit: t("Save"), draftName, version: customer.version, extra: [cancel(drawFacts)],
      send: (values, version) => deliver({ method: "PATCH", path, body: values, version, about: "customer", draft: draftName }),
      done: (saved) => {
        customer = { ...customer, ...saved };
        app.say(t("Saved"));
        drawFacts();
      },
    });
    replace(facts, sheet.element);
    fields[0].focus();
  }

  function drawRiders() {
    const rows = customer.riders.map((/** @type {any} */ rider) => h("div", null, h("dt", null, rider.name),
      h("dd", null, rider.mass_in_kit_kg === null ? h("span", { class: "soft" }, t("not weighed")) : measure(rider.mass_in_kit_kg, "mass", { what: t("mass in kit,") }), " ",
        h("button", { type: "button", onclick: () => editRider(rider) }, t("Change"), h("span", { class: "quiet" }, ` ${rider.name}`)))));
    replace(riders, h("h2", null, t("Riders")),
      rows.length ? h("dl", { class: "facts" }, ...rows)
        : h("p", { class: "empty" }, t("No rider yet. Springs are chosen for a rider's mass in full kit: add whoever rides.")),
      h("div", { class: "actions" }, h("button", { type: "button", onclick: () => editRider(null) }, t("Add a rider"))));
  }

  /** @param {any} rider */
  function editRider(rider) {
    const fields = [
      textField({ name: "name", label: t("Name"), value: rider?.name ?? (customer.riders.length ? "" : customer.name), required: true, maxlength: 120 }),
      numberField({ name: "mass_in_kit_kg", label: t("Mass in kit"), quantity: "mass", value: rider?.mass_in_kit_kg ?? null, band: "person.mass_kg", start: 80,
        hint: t("With helmet, boots, protectors and whatever is always carried.") }),
    ];
    const draftName = `customer.${customer.id}.rider.${rider?.id ?? "new"}`;
    const sheet = form({
      title: rider ? t("Rider") : t("New rider"), fields, submit: t("Save"), draftName, version: rider?.version ?? null, extra: [cancel(drawRiders)],
      send: (values, version) => (rider
        ? deliver({ method: "PATCH", path: `/api/riders/${rider.id}/`, body: values, version, about: "rider", draft: draftName })
        : deliver({ method: "POST", path: "/api/riders/", body: { customer: customer.id, ...values }, about: t("new rider"), draft: draftName })),
      done: async () => {
        customer = await get(path);
        app.say(t("Saved"));
        drawRiders();
      },
    });
    replace(riders, sheet.element);
    fields[0].focus();
  }

  if (customer.erased_at) {
    drawErased();
  } else {
    drawFacts();
    drawRiders();
  }
  const start = h("a", { class: "button main", href: `#/new-card?customer=${customer.id}`, hidden: Boolean(customer.erased_at) }, t("New job card"));
  root.append(
    h("div", { class: "screen-head" }, heading, start),
    h("div", { class: "columns" }, facts, riders),
    h("h2", null, t("Bikes")),
    h("ul", { class: "rows" }, ...(theirs.length ? theirs.map(bikeRow)
      : [h("li", null, h("p", { class: "empty" }, t("No bike is entered as theirs. It comes in with its first job card.")))])),
  );
  if (app.manages && !customer.erased_at) {
    root.append(erasing(path, customer, app, (erased) => {
      customer = erased;
      start.hidden = true;
      drawErased();
    }));
  }
}

/** @param {string} name @param {string} value */
function fact(name, value) {
  return h("div", null, h("dt", null, name), h("dd", null, value || h("span", { class: "soft" }, t("not known"))));
}

/** @param {() => void} back */
function cancel(back) {
  return h("button", { type: "button", onclick: back }, t("Back"));
}

/** @param {any} bike */
function bikeRow(bike) {
  return h("li", null, h("a", { href: `#/bikes/${bike.id}` }, h("span", { class: "row-key digits" }, bike.plate || t("no plate")),
    h("span", { class: "row-name" }, bike.title), h("span", { class: "row-side soft" }, kindName(bike.kind))));
}
