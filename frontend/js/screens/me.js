// @ts-check
/** One's own account: units, password, PIN for shared tablets, second factor. */

import { Offline, Refused, get, patch, post, put, remove } from "../api.js";
import { h, replace } from "../dom.js";
import { during } from "../parts/busy.js";
import { choiceField, textField } from "../parts/field.js";
import { form } from "../parts/form.js";
import { secondFactor } from "../parts/second-factor.js";
import { setPerson } from "../store.js";
import { chooseUnit, unitOf, unitsOf } from "../units.js";
import { LANGUAGES, speak, t } from "../words.js";
import { ROLES } from "../parts/kinds.js";

/** @param {HTMLElement} root @param {import("../app.js").Params} _params @param {import("../app.js").App} app */
export function open(root, _params, app) {
  const { person } = app;
  const pinPlace = h("section", { class: "sheet" });
  const factorPlace = h("section", { class: "sheet" });

  /** The server says anew how this person stands. */
  async function again() {
    const answer = await get("/api/session/");
    setPerson(answer.person);
    Object.assign(person, answer.person);
    draw();
  }

  function draw() {
    replace(pinPlace, ...pin(person, app, again));
    replace(factorPlace, ...secondFactor(person, app, again));
  }

  draw();
  root.append(
    h("div", { class: "screen-head" }, h("h1", null, person.name),
      h("button", { type: "button", onclick: app.signOut }, t("Sign out"))),
    h("p", { class: "soft" }, `${person.email} · ${ROLES[person.role]} · ${person.shop.name}`),
    person.second_factor_due ? h("p", { class: "problem" }, t("Your role needs a second factor here: nothing else opens before it is on.")) : "",
    h("div", { class: "columns" },
      h("div", null, pinPlace, factorPlace),
      h("div", null, language(person, app), h("section", { class: "sheet" }, password(app)), units(person))),
  );
}

/** @param {import("../store.js").Person} person @param {import("../app.js").App} app */
function language(person, app) {
  const choices = [{ value: "", text: t("the shop’s") }, ...Object.entries(LANGUAGES).map(([value, text]) => ({ value, text }))];
  const field = choiceField({ name: "language", label: t("Language"), choices, value: person.language, onChange: async (chosen) => {
    try {
      const answer = await patch("/api/session/language/", { language: chosen });
      setPerson(answer.person);
      speak(answer.language);
    } catch (error) {
      if (!(error instanceof Offline || error instanceof Refused)) throw error;
      app.say(error instanceof Offline ? t("No connection: the language is chosen when the network is back.") : error.message);
      field.set(person.language);
    }
  } });
  return h("section", { class: "sheet" }, field.element);
}

/** @type {Record<string, string>} */
const QUANTITIES = {
  rate: t("rate"), length: t("length"), mass: t("mass"), volume: t("volume"), pressure: t("pressure"), torque: t("torque"), force: t("force"),
};

/** @param {import("../store.js").Person} person */
function units(person) {
  const fields = Object.keys(person.units).map((quantity) => choiceField({
    name: quantity, label: QUANTITIES[quantity] ?? quantity, value: unitOf(quantity), choices: unitsOf(quantity).map((unit) => ({ value: unit, text: unit })),
    onChange: (unit) => chooseUnit(quantity, unit),
  }).element);
  return h("section", { class: "sheet" }, h("h2", null, t("Units")),
    h("p", { class: "soft" }, t("Touching a unit anywhere changes it too. What is stored stays metric.")), ...fields);
}

/** @param {string} name @param {string} label @param {string} autocomplete @param {string} [hint] @param {"numeric"} [inputmode] */
function word(name, label, autocomplete, hint = "", inputmode) {
  const field = textField({ name, label, type: "password", autocomplete, hint, inputmode });
  // Typed but never kept on the device.
  return { ...field, get value() {
    return field.value;
  }, secret: true };
}

/** Tells the tablet's password keeper whose password this is. @param {import("../app.js").App} app */
const whose = (app) => h("input", { type: "email", autocomplete: "username", value: app.person.email, hidden: true });

/** @param {import("../app.js").App} app */
function password(app) {
  const fields = [word("current", t("Current password"), "current-password"), word("new", t("New password"), "new-password", t("At least 10 characters."))];
  return form({
    title: t("Password"), fields, submit: t("Change it"), draftName: "password",
    layout: [whose(app), ...fields.map((field) => field.element)],
    send: (values) => post("/api/session/password/", values),
    done: () => {
      for (const field of fields) field.set("");
      app.say(t("The password is changed; you are signed out everywhere else."));
    },
  }).element;
}

/** @param {import("../store.js").Person} person @param {import("../app.js").App} app @param {() => Promise<void>} again */
function pin(person, app, again) {
  const fields = [
    word("pin", t("PIN"), "off", t("Six digits, not 123456 and the like."), "numeric"),
    word("password", t("Password, to confirm"), "current-password"),
  ];
  const sheet = form({
    title: t("PIN for shared tablets"), fields, submit: person.has_pin ? t("Change the PIN") : t("Set the PIN"), draftName: "pin",
    layout: [
      h("p", { class: "soft" }, person.has_pin ? t("You have one. On an enrolled tablet your name and the PIN take it over.")
        : t("On a tablet that the shop shares, your name and a PIN take it over from whoever had it. Sealing and second checks still ask for the password.")),
      whose(app), ...fields.map((field) => field.element),
    ],
    extra: person.has_pin ? [takeAway()] : [],
    send: (values) => put("/api/session/pin/", values, {}),
    done: async () => {
      app.say(t("The PIN is set."));
      await again();
    },
  });

  function takeAway() {
    const button = h("button", { type: "button", onclick: () => during(button, async () => {
      await remove("/api/session/pin/");
      app.say(t("You have no PIN any more."));
      await again();
    }) }, t("Take it away"));
    return button;
  }

  return [sheet.element];
}
