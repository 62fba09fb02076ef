// @ts-check
/** Who are you? The password is sent once and kept nowhere; whoever has a second factor is asked for its code next. */

import { Offline, Refused, get, post } from "../api.js";
import { h, replace } from "../dom.js";
import { during } from "../parts/busy.js";
import { textField } from "../parts/field.js";
import { codeField } from "../parts/full.js";
import { problemList, showProblems } from "../parts/problems.js";
import { t } from "../words.js";
import { languageSwitch } from "../parts/language.js";

/**
 * @param {HTMLElement} root
 * @param {{signedIn: (answer: import("../store.js").Session) => void, back?: () => void}} app
 *   `back`: to the names of those who share this tablet
 */
export function open(root, app) {
  const email = textField({ name: "email", label: t("E-mail"), type: "email", autocomplete: "username", required: true });
  const password = textField({ name: "password", label: t("Password"), type: "password", autocomplete: "current-password", required: true });
  const code = codeField();
  const list = problemList();
  const button = h("button", { type: "submit", class: "main" }, t("Sign in"));
  const asked = h("div");
  const place = h("section", { class: "sheet narrow" });

  async function go() {
    try {
      // The first answer of a fresh browser sets the token that the next request must carry.
      await get("/api/session/");
      const digits = code.value.trim();
      app.signedIn(await post("/api/session/", { email: email.value.trim(), password: password.value, ...(digits ? { second_factor: digits } : {}) }));
    } catch (error) {
      if (error instanceof Offline) showProblems([offline(t("No connection: sign in again when the network is back."))], {}, list);
      else if (!(error instanceof Refused)) throw error;
      else if (error.problems[0]?.code === "code_needed") askCode();
      else showProblems(error.problems, { email, password, second_factor: code }, list);
    }
  }

  function askCode() {
    showProblems([], { email, password }, list);
    replace(asked, code.element);
    code.focus();
  }

  function signIn() {
    replace(
      place, h("h1", null, "Coilbook"),
      h("p", { class: "soft" }, t("The job card of the suspension bench.")),
      sheet(t("Sign in"), () => during(button, go, t("Signing in…")), list, email.element, password.element, asked,
        h("div", { class: "actions" }, button)),
      h("div", { class: "actions" },
        app.back ? h("button", { type: "button", class: "plain", onclick: app.back }, t("Back to the names")) : null,
        h("button", { type: "button", class: "plain", onclick: () => forgotten(place, email.value, signIn) }, t("Forgot the password"))),
    );
  }

  signIn();
  root.append(place, languageSwitch());
}

/** @param {HTMLElement} place @param {string} typed @param {() => void} back */
function forgotten(place, typed, back) {
  const email = textField({ name: "email", label: t("E-mail"), type: "email", value: typed, autocomplete: "username", required: true });
  const list = problemList();
  const button = h("button", { type: "submit", class: "main" }, t("Send the link"));
  const leave = h("button", { type: "button", onclick: back }, t("Back"));

  async function go() {
    try {
      await get("/api/session/");
      await post("/api/recovery/", { email: email.value.trim() });
      replace(place, h("h1", { tabindex: "-1" }, t("Look into your mail")),
        h("p", null, t("If somebody signs in with this address, a link is on its way. It opens once, within an hour. If none comes, a manager of your shop can make you one.")),
        h("div", { class: "actions" }, leave));
      place.querySelector("h1")?.focus();
    } catch (error) {
      if (error instanceof Refused) showProblems(error.problems, { email }, list);
      else if (error instanceof Offline) showProblems([offline(t("No connection: ask again when the network is back."))], {}, list);
      else throw error;
    }
  }

  replace(
    place, h("h1", null, t("A new password")),
    h("p", null, t("A link to set a new one is sent to the address that you sign in with.")),
    sheet(t("New password"), () => during(button, go, t("Sending…")), list, email.element, h("div", { class: "actions" }, leave, button)),
  );
  email.focus();
}

/** @param {string} text */
const offline = (text) => ({ field: "", code: "offline", text });

/** @param {string} label @param {() => void} send @param {...import("../dom.js").Child} children */
export function sheet(label, send, ...children) {
  return h("form", { "aria-label": label, novalidate: true, onsubmit: (/** @type {Event} */ event) => {
    event.preventDefault();
    send();
  } }, ...children);
}
