// @ts-check
/** Amendments: a correction stands beside the sealed record, with the old value, the new one, who, when and why. */
import * as api from "../api.js";
import { h, replace } from "../dom.js";
import { during } from "../parts/busy.js";
import { moment } from "../parts/dates.js";
import { choiceField, textField } from "../parts/field.js";
import { problemList, showProblems } from "../parts/problems.js";
import { inWords } from "./clash.js";
import { at } from "./paths.js";
import { t } from "../words.js";

/** What is computed or frozen as a whole cannot be corrected entry by entry. */
const WHOLE = [
  "format", "program", "pictures", "results", "sag", "verdicts", "units", "business", "shop", "cautions", "sign_offs", "card",
  "record", "inputs", "customer", "rider", "targets", "corrections", "photos", "overrides",
];
/** What is corrected most comes first. */
const FIRST = ["explanation", "complaint", "next_service", "torques", "settings", "gap_and_oil", "parts", "readings"];

/** @param {import("./desk.js").Desk} desk */
export function amendments(desk) {
  const list = h("ul", { class: "amendments" });
  const place = h("div");
  const load = async () => {
    const record = await desk.act(t("read the record"), () => api.get(`${desk.path}record/`));
    if (!record?.public) return;
    replace(list, ...(record.amendments ?? []).map(amendment));
    if (desk.mine) replace(place, amendForm(desk, record.public, record.texts, load));
  };
  const folded = h("details", { class: "amend", ontoggle: () => {
    if (folded.open && !place.childElementCount) void load();
  } }, h("summary", null, t("Amendments: {n}", { n: desk.card.record.amendments })), list, place);
  return folded;
}

/** @param {any} one a link of the chain that amends this record */
function amendment(one) {
  const part = one.public?.amendment ? "public" : "internal";
  const change = one[part].amendment;
  const read = (/** @type {"old" | "new"} */ which) => (change[which]?.commitment
    ? one.personal[`${part}.amendment.${which}`] ?? t("erased on request") : inWords(change.path, change[which]));
  const { sealed_by: by, sealed_at: when } = one.public.record;
  const said = h("small", null, t("Record {number}, {by}, {when}", { number: one.number, by, when: moment(when) }));
  if (!change) return h("li", null, one.public.note ?? "", " ", said);
  return h(
    "li", null, h("b", null, words(change.path)),
    h("dl", null, ...[[t("It read"), read("old")], [t("It should read"), read("new")], [t("Why"), change.why]]
      .map(([name, value]) => h("div", null, h("dt", null, name), h("dd", null, value)))),
    said,
  );
}

/**
 * @param {import("./desk.js").Desk} desk
 * @param {any} document
 * @param {Record<string, string>} texts the words that the document only commits to, by their place
 * @param {() => Promise<void>} done
 */
function amendForm(desk, document, texts, done) {
  const stands = (/** @type {string} */ path) => texts[path] ?? at(document, path);
  const place = (/** @type {string} */ path) => (FIRST.indexOf(path.split(".")[0]) + FIRST.length + 1) % (FIRST.length + 1);
  const paths = [...Object.keys(texts), ...leaves(document)].filter((path) => !WHOLE.includes(path.split(".")[0])).sort((one, other) => place(one) - place(other));
  const what = choiceField({
    name: "path", label: t("What is corrected"), list: true, value: paths[0],
    choices: paths.map((path) => ({ value: path, text: `${words(path)}: ${inWords(path, stands(path))}` })),
  });
  const value = textField({ name: "new", label: t("It should read"), hint: t("A number in the record's own metric unit, or words.") });
  const why = textField({ name: "why", label: t("Why"), lines: 2 });
  const problems = problemList();
  const button = h("button", {
    type: "button", class: "main", id: "amend",
    onclick: () => during(button, async () => {
      const body = { path: what.value, new: likeOld(value.value, stands(what.value)), why: why.value };
      const card = await desk.act(t("amend the record"), () => api.post(`${desk.path}amendments/`, body), {
        onProblems: (found) => showProblems(found, { path: what, new: value, why }, problems),
      });
      if (card) await done();
    }),
  }, t("Add the amendment"));
  return h("div", { class: "amend-form" }, problems, what.element, value.element, why.element, button);
}

/**
 * What was typed, as a number where the old value is one, or where nothing stood yet.
 * @param {string} text
 * @param {any} old
 */
function likeOld(text, old) {
  const number = Number(text.replace(",", "."));
  return (typeof old === "number" || old === null) && text.trim() && Number.isFinite(number) ? number : text;
}

/**
 * Every single value of the document, by path; commitments are not values.
 * @param {any} value
 * @param {string} path
 * @returns {string[]}
 */
function leaves(value, path = "") {
  if (value === null || typeof value !== "object") return [path];
  if ("commitment" in value) return [];
  return Object.entries(value).flatMap(([name, one]) => leaves(one, path ? `${path}.${name}` : name));
}

/** @param {string} path */
const words = (path) => path.replaceAll("_", " ").replaceAll(".", " › ");
