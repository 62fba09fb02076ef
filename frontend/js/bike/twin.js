// @ts-check
/** A bike entered twice: found, compared side by side, made one; and made two again where that was wrong. */

import { Offline, Refused, get, post } from "../api.js";
import { h, replace } from "../dom.js";
import { during } from "../parts/busy.js";
import { day } from "../parts/dates.js";
import { choiceField, textField } from "../parts/field.js";
import { pick } from "../parts/pick.js";
import { problemList, showProblems } from "../parts/problems.js";
import { fieldWords } from "./words.js";
import { t, tn } from "../words.js";

const COMPARED = ["make", "model", "year", "kind", "plate", "frame_number", "owner", "notes", "front", "rear"];

/**
 * @param {{bike: any, done: () => void, back: () => void}} options
 * @returns {HTMLElement}
 */
export function twinFinder({ bike, done, back }) {
  const place = h("div");
  const cancel = () => h("button", { type: "button", onclick: back }, t("Back"));
  const find = () => replace(place,
    h("h2", null, t("The same bike, entered twice")),
    h("p", null, t("Find the other entry. Its jobs come to this one and it is hidden, not deleted; it can be undone.")),
    pick({
      path: "/api/bikes/", label: t("The same bike as"), hint: t("Plate, frame number, make, model or owner."),
      row: (other) => ({ name: other.title, more: [other.plate, other.frame_number, other.owner_name].filter(Boolean).join(" · ") }),
      take: async (other) => (other.id === bike.id ? null : replace(place, ...comparison(bike, other, await count(other), done, find))),
      nothing: (words) => t("No bike matches “{words}”.", { words }),
    }),
    h("div", { class: "actions" }, cancel()));
  find();
  return place;
}

/** How many jobs come over. @param {any} other */
async function count(other) {
  return (await get(`/api/bikes/${other.id}/history/`)).length;
}

/**
 * @param {any} bike
 * @param {any} other
 * @param {number} jobs
 * @param {() => void} done
 * @param {() => void} back
 */
function comparison(bike, other, jobs, done, back) {
  const differing = COMPARED.filter((name) => JSON.stringify(bike[name]) !== JSON.stringify(other[name]));
  const blank = (/** @type {any} */ value) => value === null || value === "" || value === undefined;
  const choices = differing.filter((name) => !blank(bike[name]) && !blank(other[name])).map((name) => choiceField({
    name, label: fieldWords(name), value: "kept", choices: [{ value: "kept", text: t("this entry’s") }, { value: "twin", text: t("the other’s") }],
  }));
  const reason = textField({ name: "reason", label: t("Why"), value: t("Entered twice"), required: true, maxlength: 300, hint: t("Stays in the list of changes; name nobody.") });
  const problems = problemList();
  const button = h("button", { type: "button", class: "main", onclick: () => during(button, send) }, t("Make them one"));

  async function send() {
    const take = choices.filter((choice) => choice.value === "twin").map((choice) => choice.name);
    try {
      await post(`/api/bikes/${bike.id}/merge/`, { twin: other.id, version: bike.version, twin_version: other.version, take, reason: reason.value });
      done();
    } catch (error) {
      if (error instanceof Offline) showProblems([{ field: "", code: "offline", text: t("No connection: do it when the network is back.") }], {}, problems);
      else if (error instanceof Refused) showProblems(error.problems, { reason }, problems);
      else throw error;
    }
  }

  return [
    h("h2", null, t("Side by side")),
    h("div", { class: "scroll", tabindex: "0", role: "region", "aria-label": t("both entries") }, h(
      "table", { class: "versions" },
      h("thead", null, h("tr", null, h("td"), h("th", { scope: "col" }, t("this entry")), h("th", { scope: "col" }, t("the other")))),
      h("tbody", null, ...differing.map((name) => h("tr", null, h("th", { scope: "row" }, fieldWords(name)), h("td", null, inWords(bike, name)), h("td", null, inWords(other, name))))),
    )),
    differing.length ? null : h("p", null, t("Both say the same.")),
    h("p", null, tn(jobs, "{n} job comes over from the other entry. What is blank here is filled from there.", "{n} jobs come over from the other entry. What is blank here is filled from there.")),
    bike.owner && other.owner && bike.owner !== other.owner
      ? h("p", { class: "note" }, t("The two have different owners: whoever is not the owner from now on is a former owner, whom technicians no longer read.")) : null,
    choices.length ? h("h3", null, t("Which one holds")) : null,
    ...choices.map((choice) => choice.element), reason.element, problems,
    h("div", { class: "actions" }, h("button", { type: "button", onclick: back }, t("Back")), button),
  ];
}

/** @param {any} bike @param {string} name */
function inWords(bike, name) {
  if (name === "owner") return bike.owner_name ?? t("not known");
  const value = bike[name];
  if (value === null || value === "") return "–";
  return typeof value === "object" ? facts(value).join("; ") : name === "kind" ? t(value) : String(value);
}

/** @param {any} end @returns {string[]} */
function facts(end) {
  return Object.entries(end).filter(([, value]) => value !== null).flatMap(([name, value]) => {
    if (Array.isArray(value)) return value.flatMap((each, at) => (each && typeof each === "object" ? facts(each).map((text) => t("leg {n} {what}", { n: at + 1, what: text })) : [`${fieldWords(name)} ${each}`]));
    return value && typeof value === "object" ? facts(value).map((text) => `${fieldWords(name)} ${text}`) : [`${fieldWords(name)} ${value}`];
  });
}

/**
 * The entries that were made part of this bike, each with its undo.
 * @param {any[]} merges
 * @param {number} id
 * @param {() => void} done
 * @param {(text: string) => void} say
 */
export function mergedEntries(merges, id, done, say) {
  const standing = merges.filter((merge) => !merge.undone_at);
  return standing.length ? h("ul", { class: "merged" }, ...standing.map((merge) => {
    const undo = h("button", { type: "button", onclick: () => during(undo, async () => {
      try {
        await post(`/api/bikes/${id}/merges/${merge.id}/undo/`);
        done();
      } catch (error) {
        if (!(error instanceof Offline) && !(error instanceof Refused)) throw error;
        say(error instanceof Refused ? error.message : t("No connection: do it when the network is back."));
      }
    }) }, t("Make them two again"));
    return h("li", null, h("span", null, tn(merge.cards, "A second entry, {title}, is part of this one since {when} ({who}; {n} job came over).", "A second entry, {title}, is part of this one since {when} ({who}; {n} jobs came over).", { title: merge.twin_title, when: day(merge.at), who: merge.by_name })), undo);
  })) : null;
}
