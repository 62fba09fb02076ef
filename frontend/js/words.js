// @ts-check
/**
 * The language of this page. Every text that people see stands in the code in English and goes through `t` or `tn`;
 * the catalogue of another language is there before any module that imports this one runs, so that a constant may
 * hold a text too. A change of language loads the page anew. A text without a translation stays English.
 *
 * @typedef {Record<string, string | number | null | undefined>} Values
 */

import { keepShared, readShared } from "./store.js";

/** Every language, by its own name. @type {Record<string, string>} */
export const LANGUAGES = { en: "English", de: "Deutsch" };

const PATIENCE_MS = 5_000;

/** What this device was last told to speak, else the first of the browser's languages that there is. */
export const language = [readShared("language"), ...navigator.languages.map((each) => each.slice(0, 2))]
  .find((each) => each in LANGUAGES) ?? "en";

/** The language with the place whose way of writing days and numbers is meant. */
export const locale = /** @type {Record<string, string>} */ ({ en: "en-GB", de: "de-DE" })[language] ?? language;

const point = new Intl.NumberFormat(locale).formatToParts(0.5)[1].value;
const plural = new Intl.PluralRules(language);

/** English text to its translation; of a count, to the one for one and the one for many. @type {Record<string, string | string[]>} */
const catalogue = language === "en" ? {} : await fetch(`/words/${language}${document.documentElement.dataset.texts ?? ""}.json`, { signal: AbortSignal.timeout(PATIENCE_MS) })
  .then((response) => (response.ok ? response.json() : {})).catch(() => ({}));

document.documentElement.lang = language;
// The server reads it: it begins to send the next page's catalogue with the page, and words its refusals alike.
document.cookie = `django_language=${language}; path=/; max-age=31536000; samesite=strict`;

/**
 * Return `text` in the language of the page, its {names} replaced by `values`. Without `values` the names stay.
 *
 * @param {string} text
 * @param {Values} [values]
 */
export function t(text, values) {
  const found = catalogue[text];
  return filled(typeof found === "string" ? found : text, values);
}

/**
 * Return the text for one or for many, with {n} for the count.
 *
 * @param {number} count
 * @param {string} one
 * @param {string} many
 * @param {Values} [values]
 */
export function tn(count, one, many, values) {
  const found = catalogue[one];
  const [single, several] = Array.isArray(found) ? found : [one, many];
  return filled(plural.select(count) === "one" ? single : several, { n: count, ...values });
}

/** @param {string} text @param {Values} [values] */
function filled(text, values) {
  return values ? text.replace(/\{(\w+)\}/g, (_, name) => (typeof values[name] === "number" ? written(values[name]) : String(values[name]))) : text;
}

/**
 * Return the pieces of `text` with nodes in the places of its {names}: `inset(t("Read {what} first."), {what: link})`.
 *
 * @param {string} text
 * @param {Record<string, import("./dom.js").Child>} nodes
 */
export const inset = (text, nodes) => text.split(/\{(\w+)\}/).map((each, index) => (index % 2 ? nodes[each] : each));

/** Return a number written with a point as this language writes it. @param {number | string} number */
export const written = (number) => String(number).replace(".", point);

/** Return a label as it stands within a sentence: German nouns keep their capitals. @param {string} text */
export const within = (text) => (language === "en" ? text.toLowerCase() : text);

/**
 * Speak `next` from now on: the page is loaded anew, unless it speaks it already. Answers whether it is.
 *
 * @param {string} next
 */
export function speak(next) {
  if (next === language || !(next in LANGUAGES)) return false;
  keepShared("language", next);
  // A device that keeps nothing would load the page for ever.
  if (readShared("language") !== next) return false;
  location.reload();
  return true;
}
