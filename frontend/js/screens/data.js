// @ts-check
/** The business's data in and out: lists from spreadsheet files, and everything as one file. */

import { Offline, Refused, exchange, freshKey } from "../api.js";
import { h, replace } from "../dom.js";
import { during } from "../parts/busy.js";
import { download, save } from "../parts/download.js";
import { choiceField } from "../parts/field.js";
import { fullSignIn } from "../parts/full.js";
import { longWork } from "../parts/long-work.js";
import { problemList, showProblems } from "../parts/problems.js";
import { inset, t, tn, written } from "../words.js";

const MOST_BYTES = 4 * 1024 * 1024;

const LISTS = {
  springs: {
    text: t("spring list"), take: (/** @type {number} */ n) => tn(n, "Take in {n} spring", "Take in {n} springs"),
    hint: t("Columns: code, end (fork or shock), rate_n_per_mm; and as far as known label, batch, stock, free_length_mm, outer_diameter_mm, displaced_cm3 and the rest. A line is known by its code and batch."),
  },
  customers: {
    text: t("customers"), take: (/** @type {number} */ n) => tn(n, "Take in {n} customer", "Take in {n} customers"),
    hint: t("Columns: code, name; and as far as known phone, email, notes, rider, mass_in_kit_kg. A line is known by your own code for the customer."),
  },
};

const SEPARATORS = /** @type {Record<string, string>} */ ({ semicolon: t("a semicolon between cells"), comma: t("a comma between cells"), tab: t("tabs between cells") });
const DECIMALS = /** @type {Record<string, string>} */ ({
  comma: t("decimal comma (4,6 is 4.6)"), point: t("decimal point"), both: t("decimal comma and point, mixed"), none: t("no decimals"),
});

/** @param {HTMLElement} root @param {import("../app.js").Params} _params @param {import("../app.js").App} app */
export function open(root, _params, app) {
  const owns = app.person.role === "owner";
  root.append(
    h("div", { class: "screen-head" }, h("h1", null, t("Data in and out")), h("a", { class: "button", href: "#/business" }, t("Back to the business"))),
    app.manages ? listsIn(app) : h("p", { class: "empty" }, t("A manager of this shop brings lists in and takes them out.")),
    owns ? allOut(app) : "",
    h("section", { class: "sheet" }, h("h2", null, t("Backups")),
      h("p", null, ...inset(t("Whoever runs the service backs everything up while it serves: {backup} writes one file, {restore} puts it back, checks every sealed record, and erases again what was erased since."),
        { backup: h("code", null, "manage.py backup"), restore: h("code", null, "manage.py restore") }))),
  );
}

/** @param {import("../app.js").App} app */
function listsIn(app) {
  const which = choiceField({
    name: "list", label: t("List"), value: "springs", choices: Object.entries(LISTS).map(([value, { text }]) => ({ value, text })), onChange: () => reset(),
  });
  const chosen = () => LISTS[/** @type {"springs" | "customers"} */ (which.value)];
  const hint = h("p", { class: "note", id: "list-hint" });
  const file = h("input", { type: "file", id: "list-file", accept: ".csv,.txt,text/csv", "aria-describedby": "list-hint", onchange: () => look() });
  const list = problemList();
  const work = h("div");
  const found = h("div");
  const out = h("button", { type: "button", onclick: () => during(out, takeOut) }, t("Take the list as it is"));

  function reset() {
    file.value = "";
    hint.textContent = chosen().hint;
    showProblems([], {}, list);
    replace(found);
  }

  /** @param {unknown} error */
  function say(error) {
    if (error instanceof Offline) showProblems([{ field: "", code: "offline", text: t("No connection: nothing was taken in. Choose the file again when the network is back.") }], {}, list);
    else if (error instanceof Refused) showProblems(error.problems.map((each) => ({ ...each, field: "" })), {}, list);
    else throw error;
  }

  async function look() {
    const picked = file.files?.[0];
    showProblems([], {}, list);
    replace(found);
    if (!picked) return;
    if (picked.size > MOST_BYTES) {
      showProblems([{ field: "", code: "too_large", text: t("{name} has {size} MB; up to 4 MB are taken. Split it.", { name: picked.name, size: written((picked.size / 1024 / 1024).toFixed(1)) }) }], {}, list);
      return;
    }
    try {
      const answer = await longWork(work, t("Looking at {name}…", { name: picked.name }), (signal) => exchange(`/api/lists/${which.value}/look/`, { file: picked, signal }));
      if (answer) draw(picked, await answer.json());
    } catch (error) {
      say(error);
    }
  }

  /** @param {File} picked @param {any} plan */
  function draw(picked, plan) {
    const doing = plan.new + plan.changed;
    const button = h("button", { type: "button", class: "main", onclick: () => during(button, () => take(picked, plan)) },
      chosen().take(doing));
    const heading = h("h3", { tabindex: "-1" }, plan.wrong ? t("Nothing can be taken in yet") : doing ? t("This will happen") : t("Nothing would change"));
    replace(
      found, heading,
      h("p", null, h("span", { class: "digits" }, counts(plan)), " ",
        h("span", { class: "soft" }, t("Read as {encoding}, {separator}, {decimal}.", { encoding: plan.encoding, separator: SEPARATORS[plan.separator], decimal: DECIMALS[plan.decimal] }),
          plan.ignored.length ? [" ", t("Left out, for they mean nothing here: {what}.", { what: plan.ignored.join(", ") })] : "")),
      plan.wrong ? wrongLines(plan) : null,
      plan.rows.length && !plan.wrong ? rows(plan) : null,
      h("div", { class: "actions" }, plan.wrong
        ? h("p", null, t("Mend these in the file and choose it again: a file is taken in whole or not at all."))
        : doing ? button : null),
    );
    heading.focus();
  }

  /** @param {File} picked @param {any} plan */
  async function take(picked, plan) {
    const query = new URLSearchParams({ plan: plan.plan });
    try {
      const answer = await longWork(work, t("Taking it in…"), (signal) => exchange(`/api/lists/${which.value}/?${query}`, { file: picked, signal, key: freshKey() }));
      if (!answer) {
        showProblems([{ field: "", code: "called_off", text: t("Called off. It may have gone through: choose the file again, and what was taken in shows as “as it is”.") }], {}, list);
        return;
      }
      const done = await answer.json();
      reset();
      app.say(t("Taken in: {done}", { done: counts(done) }));
    } catch (error) {
      say(error);
    }
  }

  async function takeOut() {
    try {
      const response = await fetch(`/api/lists/${which.value}/`, { credentials: "same-origin", cache: "no-store" });
      if (!response.ok) {
        const { problems } = await response.json();
        if (problems[0].code === "full_sign_in" && (await fullSignIn())) {
          await takeOut();
          return;
        }
        throw new Refused(response.status, problems);
      }
      save(await response.blob(), `${which.value}.csv`);
    } catch (error) {
      say(error instanceof TypeError ? new Offline() : error);
    }
  }

  const element = h("section", { class: "sheet" }, h("h2", null, t("Bring a list in")),
    h("p", null, t("From any spreadsheet program, saved as CSV. First you see what would happen; nothing is saved until you say so.")),
    which.element,
    h("div", { class: "field" }, h("label", { for: "list-file" }, t("File")), file, hint),
    list, work, found,
    h("div", { class: "actions" }, out));
  reset();
  return element;
}

/** @param {{new: number, changed: number, same: number, wrong?: number}} plan */
function counts(plan) {
  const told = [[plan.wrong ?? 0, t("wrong")], [plan.new, t("new")], [plan.changed, t("changed")], [plan.same, t("as they are")]];
  const some = told.filter(([count]) => count).map(([count, word]) => `${count} ${word}`).join(", ");
  return `${some || t("no rows")}.`;
}

/** @param {any} plan */
function wrongLines(plan) {
  return table(t("What is wrong"), [t("Line"), t("Why")], plan.problems.map((/** @type {any} */ each) => [String(each.line), `${each.column}: ${each.text}`]));
}

/** @param {any} plan */
function rows(plan) {
  const more = plan.new + plan.changed - plan.rows.length;
  const lines = plan.rows.map((/** @type {any} */ row) => [
    String(row.line), `${row.key} ${row.label === row.key ? "" : row.label}`.trim(),
    row.action === "new" ? t("new") : Object.entries(row.changes).map(([name, [before, after]]) => `${words(name)}: ${plain(before)} → ${plain(after)}`).join("; "),
  ]);
  return h("div", null, table(t("What will happen"), [t("Line"), t("Which"), t("What changes")], lines),
    more > 0 ? h("p", { class: "soft" }, t("And {more} more.", { more })) : null);
}

/** @param {string} caption @param {string[]} heads @param {string[][]} lines */
function table(caption, heads, lines) {
  return h("div", { class: "scroll", tabindex: "0", role: "region", "aria-label": caption },
    h("table", null, h("caption", null, caption),
      h("thead", null, h("tr", null, ...heads.map((head) => (head ? h("th", { scope: "col" }, head) : h("td"))))),
      h("tbody", null, ...lines.map((cells) => h("tr", null, ...cells.map((cell, place) => h("td", { class: place === 0 ? "digits" : null }, cell)))))));
}

/** @param {string} name */
const words = (name) => name.replaceAll("_", " ");

/** @param {any} value @returns {string} */
function plain(value) {
  if (value === null || value === undefined || value === "") return "–";
  if (typeof value === "object") return Object.entries(value).map(([name, each]) => (name === "kind" ? String(each) : `${words(name)} ${each}`)).join(" ");
  return String(value);
}

/** @param {import("../app.js").App} app */
function allOut(app) {
  const list = problemList();
  const work = h("div");
  const button = h("button", { type: "button", class: "main", onclick: () => during(button, async () => {
    showProblems([], {}, list);
    try {
      const done = await longWork(work, t("Gathering everything…"), (signal, so) => download("/api/export/", "application/zip", signal, so));
      app.say(done ? t("The whole business is in the file.") : t("Called off; no file was made."));
    } catch (error) {
      if (error instanceof Offline) showProblems([{ field: "", code: "offline", text: t("No connection: no file was made. Try again when the network is back.") }], {}, list);
      else if (error instanceof Refused) showProblems(error.problems, {}, list);
      else throw error;
    }
  }) }, t("Take everything out"));
  return h("section", { class: "sheet" }, h("h2", null, t("Everything, as open files")),
    h("p", null, ...inset(t("One ZIP file with every customer, bike, card, sealed record and line of the trail: JSON to be read in again by {import}, and CSV for any spreadsheet program. The seals stay valid. Left out are passwords, PINs and other secrets: in a new installation people choose new ones."),
      { import: h("code", null, "manage.py import") })),
    h("p", null, h("strong", null, t("It holds personal data in clear.")), " ", t("What a customer has erased here must be erased there too: destroy old copies.")),
    list, work, h("div", { class: "actions" }, button));
}
