// @ts-check
/** Who are you? The password is sent once and kept nowhere. */

import { Offline, Refused, get, post } from "../api.js";
import { h } from "../dom.js";
import { during } from "../parts/busy.js";
import { textField } from "../parts/field.js";
import { problemList, showProblems } from "../parts/problems.js";

/**
 * @param {HTMLElement} root
 * @param {{signedIn: (person: import("../store.js").Person) => void}} app
 */
export function open(root, app) {
  const email = textField({ name: "email", label: "E-mail", type: "email", autocomplete: "username", required: true });
  const password = textField({ name: "password", label: "Password", type: "password", autocomplete: "current-password", required: true });
  const list = problemList();
  const button = h("button", { type: "submit", class: "main" }, "Sign in");

  async function go() {
    try {
      // The first answer of a fresh browser sets the token that the next request must carry.
      await get("/api/session/");
      const { person } = await post("/api/session/", { email: email.value.trim(), password: password.value });
      app.signedIn(person);
    } catch (error) {
      if (error instanceof Refused) showProblems(error.problems, { email, password }, list);
      else if (error instanceof Offline) showProblems([{ field: "", code: "offline", text: "No connection: sign in again when the network is back." }], {}, list);
      else throw error;
    }
  }

  root.append(h(
    "section", { class: "sheet narrow" },
    h("h1", null, "Coilbook"),
    h("p", { class: "soft" }, "The job card of the suspension bench."),
    h("form", {
      "aria-label": "Sign in", novalidate: true,
      onsubmit: (/** @type {Event} */ event) => {
        event.preventDefault();
        during(button, go, "Signing in…");
      },
    }, list, email.element, password.element, h("div", { class: "actions" }, button)),
  ));
}
