// @ts-check
/** The full sign-in in the middle of the work: the password, and the second factor's code of whoever has one. */

import { Offline, Refused, post } from "../api.js";
import { freshId, h } from "../dom.js";
import { whoIsHere } from "../store.js";
import { during } from "./busy.js";
import { textField } from "./field.js";
import { problemList, showProblems } from "./problems.js";
import { t } from "../words.js";

/** @type {Promise<boolean> | null} */
let asking = null;

/** Ask once, however many requests wait for it. Answers whether the session is full now. @returns {Promise<boolean>} */
export function fullSignIn() {
  asking ??= question().finally(() => {
    asking = null;
  });
  return asking;
}

/** The entry of a code, for whoever has a second factor. */
export function codeField() {
  return textField({
    name: "second_factor", label: t("Code"), autocomplete: "one-time-code", inputmode: "numeric", maxlength: 40,
    hint: t("The six digits that your device shows now, or a recovery code."),
  });
}

/** @returns {Promise<boolean>} */
function question() {
  const person = whoIsHere();
  if (!person) return Promise.resolve(false);
  const id = freshId("dialog");
  const password = textField({ name: "password", label: t("Password of {name}", { name: person.name }), type: "password", autocomplete: "current-password" });
  const code = person.second_factor ? codeField() : null;
  /** @type {Record<string, import("./field.js").Field>} */
  const fields = code ? { password, second_factor: code } : { password };
  const list = problemList();
  const button = h("button", { type: "submit", class: "main" }, t("Go on"));
  return new Promise((resolve) => {
    let full = false;
    async function go() {
      try {
        await post("/api/session/full/", { password: password.value, ...(code?.value.trim() ? { second_factor: code.value.trim() } : {}) });
        full = true;
        dialog.close();
      } catch (error) {
        if (error instanceof Refused) showProblems(error.problems, fields, list);
        else if (error instanceof Offline) showProblems([{ field: "", code: "offline", text: t("No connection: the password is checked by the server.") }], {}, list);
        else throw error;
      }
    }
    const dialog = h(
      "dialog", { "aria-labelledby": id, onclose: () => {
        dialog.remove();
        resolve(full);
      } },
      h("h2", { id, tabindex: "-1" }, t("Your password, please")),
      h("p", null, t("A PIN is not enough for this. The password counts for ten minutes.")),
      h("form", { "aria-labelledby": id, novalidate: true, onsubmit: (/** @type {Event} */ event) => {
        event.preventDefault();
        during(button, go, t("Asking…"));
      } },
      h("input", { type: "email", autocomplete: "username", value: person.email, hidden: true }),
      list, password.element, code?.element,
      h("div", { class: "actions" }, h("button", { type: "button", onclick: () => dialog.close() }, t("Leave it")), button)),
    );
    document.body.append(dialog);
    dialog.showModal();
    password.focus();
  });
}
