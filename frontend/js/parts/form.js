// @ts-check
/**
 * A form that loses nothing: what is typed is kept on the device until the server has acknowledged it, problems come
 * to their fields, and a row changed meanwhile shows both versions.
 *
 * @typedef {import("./field.js").Field} Field
 */

import { Offline, Refused } from "../api.js";
import { freshId, h, replace } from "../dom.js";
import { draft } from "../store.js";
import { during } from "./busy.js";
import { differences, twoVersions } from "./dialog.js";
import { events, waiting } from "./outbox.js";
import { problemList, showProblems } from "./problems.js";
import { t } from "../words.js";

/**
 * @param {{title: string, fields: Field[], layout?: import("../dom.js").Child[], submit: string, draftName: string,
 *          heading?: "h1" | "h2" | "none", labels?: Record<string, string>, extra?: HTMLElement[],
 *          rename?: (field: string) => string,
 *          send: (values: Record<string, any>, version: number | null) => Promise<any>, version?: number | null,
 *          done: (answer: any) => void}} options
 *   `rename`: from the server's name of a field to the form's own; `send` sends the values (fields by name); `version`: of the row that is changed; `done`: after the server's yes
 */
export function form({
  title, fields, layout, submit, draftName, heading = "h2", labels = {}, extra = [], rename = (field) => field,
  send, version = null, done,
}) {
  const kept = draft(draftName);
  const named = Object.fromEntries(fields.map((field) => [field.name, field]));
  const list = problemList();
  const id = freshId("form");
  const button = h("button", { type: "submit", class: "main" }, submit);
  const restored = h("div", { class: "restored" });
  let stands = version;

  const values = () => Object.fromEntries(fields.map((field) => [field.name, field.value]));
  const keep = () => kept.write({
    values: Object.fromEntries(fields.filter((field) => !field.secret).map((field) => [field.name, field.value])),
    texts: Object.fromEntries(fields.filter((field) => field.unclear()).map((field) => [field.name, field.text?.()])),
  });

  async function go() {
    const unclear = fields.find((field) => field.unclear());
    if (unclear) {
      unclear.focus();
      return;
    }
    keep();
    try {
      const answer = await send(values(), stands);
      kept.drop();
      done(answer);
    } catch (error) {
      if (error instanceof Offline) {
        showProblems([{ field: "", code: "offline", text: t("No connection: save it again when the network is back.") }], named, list);
        return;
      }
      if (!(error instanceof Refused)) throw error;
      if (error.status === 412) await meanwhile(error);
      else showProblems(error.problems.map((each) => ({ ...each, at: each.field, field: rename(each.field) })), named, list);
    }
  }

  /** @param {Refused} error */
  async function meanwhile(error) {
    const choice = await twoVersions({ what: title, rows: differences(error.theirs, error.yours ?? values(), labels) });
    stands = error.theirs?.version ?? stands;
    if (choice === "yours") {
      await go();
    } else if (choice === "theirs") {
      kept.drop();
      done(error.theirs);
    }
  }

  /** The same form, opened again while its change waits: nothing can be sent twice. */
  function holdUntilSent() {
    button.setAttribute("aria-disabled", "true");
    events.addEventListener("state", function look() {
      if (waiting().some((each) => each.draft === draftName)) return;
      events.removeEventListener("state", look);
      button.removeAttribute("aria-disabled");
      replace(restored, h("p", null, t("It is sent.")));
    });
  }

  const start = values();
  const before = kept.read();
  if (before && Object.keys(before.values).length) {
    for (const [name, value] of Object.entries(before.values)) named[name]?.set(value);
    for (const [name, text] of Object.entries(before.texts ?? {})) named[name]?.retype?.(text);
    const onItsWay = waiting().some((each) => each.draft === draftName);
    if (onItsWay) holdUntilSent();
    replace(
      restored,
      h("p", null, onItsWay ? t("Kept on this tablet and not sent yet; it goes out by itself when there is a connection.")
        : t("Here is what you typed before; it was not sent.")),
      onItsWay ? null : h("button", { type: "button", onclick: () => {
        kept.drop();
        for (const [name, value] of Object.entries(start)) named[name]?.set(value);
        replace(restored);
      } }, t("Start afresh")),
    );
  }
  const element = h(
    "form", {
      "aria-labelledby": heading === "none" ? null : id,
      "aria-label": heading === "none" ? title : null,
      novalidate: true,
      oninput: keep,
      onchange: keep,
      onsubmit: (/** @type {Event} */ event) => {
        event.preventDefault();
        during(button, go, t("Sending…"));
      },
    },
    heading === "none" ? null : h(heading, { id }, title),
    restored, list, ...(layout ?? fields.map((field) => field.element)),
    h("div", { class: "actions" }, ...extra, button),
  );
  return { element, values, keep, fields: named };
}
