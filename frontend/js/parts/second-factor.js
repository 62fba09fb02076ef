// @ts-check
/** The second factor of one's own: turned on by a code from the own device, its recovery codes, turned off. */

import { Offline, Refused, get, post, remove } from "../api.js";
import { h, replace } from "../dom.js";
import { during } from "./busy.js";
import { textField } from "./field.js";
import { codeField } from "./full.js";
import { problemList, showProblems } from "./problems.js";
import { svgFrom } from "./trusted.js";
import { t, tn } from "../words.js";

/**
 * @param {import("../store.js").Person} person
 * @param {import("../app.js").App} app
 * @param {() => Promise<void>} again once it stands otherwise than before
 */
export function secondFactor(person, app, again) {
  const place = h("div");
  const list = problemList();

  /** @param {HTMLButtonElement} button @param {Record<string, import("./field.js").Field>} fields @param {() => Promise<void>} work */
  const run = (button, fields, work) => during(button, async () => {
    try {
      await work();
    } catch (error) {
      if (error instanceof Refused) showProblems(error.problems, fields, list);
      else if (error instanceof Offline) showProblems([{ field: "", code: "offline", text: t("No connection: try again when the network is back.") }], {}, list);
      else throw error;
    }
  });

  /** @param {string} label @param {Record<string, import("./field.js").Field>} fields @param {string} submit @param {() => Promise<void>} work */
  function asking(label, fields, submit, work) {
    const button = h("button", { type: "submit", class: "main" }, submit);
    return h("form", { "aria-label": label, novalidate: true, onsubmit: (/** @type {Event} */ event) => {
      event.preventDefault();
      run(button, fields, work);
    } }, list, ...Object.values(fields).map((field) => field.element),
    h("div", { class: "actions" }, h("button", { type: "button", onclick: start }, t("Back")), button));
  }

  /** @param {string[]} codes */
  function keepThese(codes) {
    replace(
      place, h("h3", { tabindex: "-1" }, t("Your recovery codes")),
      h("p", null, t("Each one replaces your device once. They are shown now and never again: write them down and keep them apart from the device.")),
      h("ol", { class: "codes digits" }, ...codes.map((code) => h("li", null, code))),
      h("div", { class: "actions" }, h("button", { type: "button", class: "main", onclick: again }, t("I have written them down"))),
    );
    place.querySelector("h3")?.focus();
  }

  async function begin() {
    const made = await post("/api/session/second-factor/");
    const code = codeField();
    replace(
      place,
      h("p", null, t("Photograph this with the app for sign-in codes on your own device, or type the key there. Then type the six digits that it shows.")),
      h("div", { class: "square" }, svgFrom(made.picture)),
      h("p", { class: "digits key" }, made.key),
      asking(t("Turn the second factor on"), { second_factor: code }, t("Turn it on"), async () => {
        const answer = await post("/api/session/second-factor/on/", { second_factor: code.value.trim() });
        app.say(t("The second factor is on; you are signed out everywhere else."));
        keepThese(answer.recovery_codes);
      }),
    );
    code.focus();
  }

  async function codes() {
    const { codes_left: left } = await get("/api/session/second-factor/");
    const code = codeField();
    replace(place, h("p", null, tn(left, "{n} of your recovery codes is left. New ones replace them all.", "{n} of your recovery codes are left. New ones replace them all.")),
      asking(t("New recovery codes"), { second_factor: code }, t("Make new ones"), async () => {
        const answer = await post("/api/session/second-factor/codes/", { second_factor: code.value.trim() });
        keepThese(answer.recovery_codes);
      }));
    code.focus();
  }

  function turnOff() {
    const password = textField({ name: "password", label: t("Password"), type: "password", autocomplete: "current-password" });
    const code = codeField();
    replace(place, asking(t("Turn the second factor off"), { password, second_factor: code }, t("Turn it off"), async () => {
      await remove("/api/session/second-factor/", null, { password: password.value, second_factor: code.value.trim() });
      app.say(t("The second factor is off."));
      await again();
    }));
    password.focus();
  }

  /** @param {string} text @param {() => Promise<void>} work @param {boolean} [main] */
  function choice(text, work, main = false) {
    const button = h("button", { type: "button", class: main ? "main" : null, onclick: () => run(button, {}, work) }, text);
    return button;
  }

  function start() {
    replace(list);
    replace(
      place, list,
      h("p", { class: "soft" }, person.second_factor ? t("It is on: the sign-in and the full sign-in ask for the code that your device shows.")
        : t("Beside the password, six digits from your own device that change every half minute. Whoever finds out your password cannot come in with it alone.")),
      person.second_factor
        ? h("div", { class: "actions" }, choice(t("Recovery codes"), codes), choice(t("Turn it off"), async () => turnOff()))
        : h("div", { class: "actions" }, choice(t("Turn it on"), begin, true)),
    );
  }

  start();
  return [h("h2", null, t("Second factor")), place];
}
