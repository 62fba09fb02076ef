// @ts-check
/** One question in front of everything else, as a native modal dialog. */

import { freshId, h } from "../dom.js";
import { t } from "../words.js";

/**
 * Ask, and answer the chosen value; null when the dialog is left without a choice.
 *
 * @template V
 * @param {{title: string, body?: import("../dom.js").Child[], wide?: boolean,
 *          choices: {text: string, value: V, main?: boolean}[]}} question
 * @returns {Promise<V | null>}
 */
export function ask({ title, body = [], choices, wide = false }) {
  const id = freshId("dialog");
  return new Promise((resolve) => {
    /** @type {V | null} */
    let answer = null;
    const buttons = choices.map((choice) => h("button", {
      type: "button",
      class: choice.main ? "main" : null,
      onclick: () => {
        answer = choice.value;
        dialog.close();
      },
    }, choice.text));
    const dialog = h(
      "dialog", { "aria-labelledby": id, class: wide ? "wide" : null, onclose: () => {
        dialog.remove();
        resolve(answer);
      } },
      h("h2", { id, tabindex: "-1" }, title), ...body, h("div", { class: "actions" }, ...buttons),
    );
    document.body.append(dialog);
    dialog.showModal();
    dialog.querySelector("h2")?.focus();
  });
}

/**
 * Two versions of one row, side by side. Answers which one shall stand; null to decide later.
 *
 * @param {{what: string, rows: {label: string, theirs: string, yours: string}[]}} question
 * @returns {Promise<"theirs" | "yours" | null>}
 */
export function twoVersions({ what, rows }) {
  const table = h(
    "table", { class: "versions" },
    h("caption", null, t("Only what differs is shown.")),
    h("thead", null, h("tr", null, h("td"), h("th", { scope: "col" }, t("saved meanwhile")), h("th", { scope: "col" }, t("yours")))),
    h("tbody", null, ...rows.map((row) => h(
      "tr", null, h("th", { scope: "row" }, row.label), h("td", null, row.theirs), h("td", null, row.yours),
    ))),
  );
  return ask({
    title: t("Changed meanwhile: {what}", { what }),
    body: [h("p", null, t("Somebody else saved it after you opened it. Nothing is lost: choose which one stands.")),
      h("div", { class: "scroll", tabindex: "0", role: "region", "aria-label": t("both versions") }, table)],
    choices: [
      { text: t("Keep the saved one"), value: /** @type {const} */ ("theirs") },
      { text: t("Save mine over it"), value: /** @type {const} */ ("yours"), main: true },
    ],
    wide: true,
  });
}

/**
 * Return the rows in which what was sent differs from what is saved, for `twoVersions`.
 *
 * @param {any} theirs
 * @param {any} yours
 * @param {Record<string, string>} [labels] words for field names; a field without one is shown by its own name
 */
export function differences(theirs, yours, labels = {}) {
  return Object.keys(yours ?? {})
    .filter((name) => JSON.stringify(theirs?.[name]) !== JSON.stringify(yours[name]))
    .map((name) => ({ label: labels[name] ?? name.replaceAll("_", " "), theirs: plain(theirs?.[name]), yours: plain(yours[name]) }));
}

/** @param {any} value @returns {string} */
function plain(value) {
  if (value === null || value === undefined || value === "") return "–";
  if (Array.isArray(value)) return value.map(plain).join(", ");
  if (typeof value === "object") return Object.entries(value).map(([name, each]) => `${name.replaceAll("_", " ")}: ${plain(each)}`).join("; ");
  return String(value);
}
