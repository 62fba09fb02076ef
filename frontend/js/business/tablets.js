// @ts-check
/** The tablets that a shop shares: this one enrolled, any of them let go. */

import { Offline, Refused, post } from "../api.js";
import { h, replace } from "../dom.js";
import { during } from "../parts/busy.js";
import { moment } from "../parts/dates.js";
import { textField } from "../parts/field.js";
import { form } from "../parts/form.js";
import { listing } from "../parts/listing.js";
import { t, tn } from "../words.js";

/** @param {HTMLElement} body @param {import("../app.js").App} app */
export async function tablets(body, app) {
  const panel = h("div");
  const owns = app.person.role === "owner";
  const list = listing({
    path: "/api/tablets/", label: "", searched: false, nothing: () => "",
    named: (count) => tn(count, "1 tablet", "{n} tablets"),
    empty: [h("p", null, t("No tablet is enrolled. Enrol each one that people of the shop share: then a name and a PIN are enough to change hands."))],
    row: (tablet) => {
      const revoke = h("button", { type: "button", onclick: () => during(revoke, async () => {
        try {
          await post(`/api/tablets/${tablet.id}/revoke/`);
          app.say(t("{name} is enrolled no more.", { name: tablet.name }));
        } catch (error) {
          if (!(error instanceof Refused || error instanceof Offline)) throw error;
          app.say(error.message);
        }
        await app.start();
      }) }, t("Revoke"), h("span", { class: "quiet" }, ` ${tablet.name}`));
      return h("li", null, h("div", { class: "row" },
        h("span", { class: "row-key" }, tablet.shop_name), h("span", { class: "row-name" }, tablet.name),
        owns || tablet.shop === app.person.shop.id ? h("span", { class: "row-side" }, revoke) : null,
        h("span", { class: "row-more" }, t("enrolled by {who}, {when}", { who: tablet.enrolled_by_name, when: moment(tablet.enrolled_at) }))));
    },
  });
  const name = textField({ name: "name", label: t("Name of this tablet"), required: true, maxlength: 60, hint: t("As people call it: bench, front desk.") });
  const enrolling = form({
    title: t("Enrol this tablet"), fields: [name], submit: t("Enrol it"), draftName: "tablet",
    layout: [h("p", null, t("For a device that several people of the shop share. It locks itself when nobody touches it. Never enrol your own.")), name.element],
    send: (values) => post("/api/tablets/", values),
    done: async (saved) => {
      app.say(t("This is {name} now.", { name: saved.name }));
      await app.start();
    },
  });
  replace(panel, app.tablet ? h("p", null, t("This device is enrolled as {name}.", { name: app.tablet.name })) : h("section", { class: "sheet" }, enrolling.element));
  replace(body, panel, app.manages ? list.element : null);
  if (app.manages) await list.again();
}
