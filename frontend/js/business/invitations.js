// @ts-check
/** People on their way in, and help for those who cannot get in. */

import { Offline, Refused, post } from "../api.js";
import { h, replace } from "../dom.js";
import { during } from "../parts/busy.js";
import { day } from "../parts/dates.js";
import { choiceField, textField } from "../parts/field.js";
import { form } from "../parts/form.js";
import { listing } from "../parts/listing.js";
import { once } from "../parts/once.js";
import { t, tn } from "../words.js";
import { ROLES } from "../parts/kinds.js";

/**
 * @param {import("../app.js").App} app
 * @param {{value: string, text: string}[]} roles that this person may give
 * @param {{id: number, name: string}[]} shops that this person may invite to
 */
export function invitations(app, roles, shops) {
  const panel = h("div");
  const list = listing({
    path: "/api/invitations/", label: "", searched: false, nothing: () => "", empty: [h("p", null, t("No invitation is open."))],
    named: (count) => tn(count, "1 open invitation", "{n} open invitations"),
    row: (each) => {
      const revoke = h("button", { type: "button", onclick: () => act(app, revoke, async () => {
        await post(`/api/invitations/${each.id}/revoke/`);
        app.say(t("The invitation is taken back."));
        await list.again();
      }) }, t("Take back"), h("span", { class: "quiet" }, " ", t("the invitation of {who}", { who: each.email })));
      return h("li", null, h("div", { class: "row" },
        h("span", { class: "row-key" }, ROLES[each.role]), h("span", { class: "row-name" }, each.email),
        shops.some((shop) => shop.id === each.shop) ? h("span", { class: "row-side" }, revoke) : null,
        h("span", { class: "row-more" }, [each.shop_name, over(each), t("by {who}", { who: each.made_by_name })].join(" · "))));
    },
  });

  function ask() {
    const fields = [
      textField({ name: "email", label: t("E-mail"), type: "email", required: true, hint: t("The link goes there, and is shown to you once too.") }),
      choiceField({ name: "role", label: t("Role"), choices: roles, value: "technician" }),
      choiceField({ name: "shop", label: t("Shop"), list: true, value: app.person.shop.id, choices: shops.map((shop) => ({ value: shop.id, text: shop.name })) }),
    ];
    const sheet = form({
      title: t("Invite somebody"), fields, submit: t("Invite"), draftName: "invitation.new",
      layout: [h("div", { class: "pair" }, ...fields.map((field) => field.element))],
      extra: [h("button", { type: "button", onclick: start }, t("Back"))],
      send: (values) => post("/api/invitations/", values),
      done: (made) => {
        replace(panel, once(t("Invitation"), made.url, t("{email} opens it within a week, chooses a name and a password, and is in.", { email: made.email })),
          h("div", { class: "actions first" }, h("button", { type: "button", onclick: start }, t("Done"))));
        list.again();
      },
    });
    replace(panel, h("section", { class: "sheet" }, sheet.element));
    fields[0].focus();
  }

  function start() {
    replace(panel, h("div", { class: "actions first" }, h("button", { type: "button", onclick: ask }, t("Invite by mail"))));
  }

  start();
  list.again();
  return h("section", { "aria-label": t("Invitations") }, h("h2", null, t("Invitations")), panel, list.element);
}

/**
 * What a manager can do for somebody who cannot get in, as buttons beside the person's form.
 *
 * @param {import("../app.js").App} app
 * @param {any} person
 * @param {(place: HTMLElement) => void} show puts what came of it in sight
 */
export function helpIn(app, person, show) {
  const link = h("button", { type: "button", onclick: () => act(app, link, async () => {
    const made = await post(`/api/people/${person.id}/recovery/`);
    show(once(t("Link for a new password"), made.url, t("{name} opens it within an hour and sets a new password.", { name: person.name })));
  }) }, t("Link for a new password"));
  const off = h("button", { type: "button", onclick: () => act(app, off, async () => {
    await post(`/api/people/${person.id}/second-factor-off/`);
    app.say(t("{name} signs in without a second factor now.", { name: person.name }));
    off.remove();
  }) }, t("Turn second factor off"));
  return [person.is_active ? link : null, person.second_factor && app.person.role === "owner" ? off : null].filter((each) => each !== null);
}

/** @param {import("../app.js").App} app @param {HTMLButtonElement} button @param {() => Promise<void>} work */
const act = (app, button, work) => during(button, async () => {
  try {
    await work();
  } catch (error) {
    if (!(error instanceof Refused || error instanceof Offline)) throw error;
    app.say(error.message);
  }
});

/** @param {any} each */
const over = (each) => (new Date(each.expires_at) < new Date() ? t("run out") : t("open until {when}", { when: day(each.expires_at) }));
