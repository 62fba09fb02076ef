// @ts-check
/** The same entry changed on both sides: shown next to each other, decided by the person. */
import { twoVersions } from "../parts/dialog.js";
import { withUnit } from "../units.js";
import { factName, quantityOf, springKind } from "./words.js";
import { t, written } from "../words.js";

/**
 * @param {import("./sheet.js").Sheet} sheet
 * @param {import("./sheet.js").Clash[]} clashes
 * @returns {Promise<Record<string, "mine"|"theirs">>}
 */
export async function askWhich(sheet, clashes) {
  const rows = clashes.map(({ path, theirs, mine }) => ({
    label: sheet.spec.name(path), theirs: inWords(path, theirs), yours: inWords(path, mine),
  }));
  /** @type {"theirs"|"yours"|null} */
  let answer = null;
  // What was typed must go one way or the other; leaving the question asks it again.
  while (!answer) answer = await twoVersions({ what: sheet.spec.label, rows });
  return Object.fromEntries(clashes.map(({ path }) => [path, answer === "theirs" ? "theirs" : "mine"]));
}

/**
 * @param {string} path
 * @param {any} value
 * @returns {string}
 */
export function inWords(path, value) {
  if (value === null || value === undefined || value === "") return "–";
  if (typeof value === "boolean") return value ? t("yes") : t("no");
  if (typeof value === "number") {
    const quantity = quantityOf(path);
    return quantity ? withUnit(value, quantity) : written(value);
  }
  // One small word is a choice of ours, like "spring_out"; anything else somebody typed.
  if (typeof value === "string") return /^[a-z_]+$/.test(value) ? t(value.replaceAll("_", " ")) : value.replaceAll("_", " ");
  if (Array.isArray(value)) return value.map((one, index) => inWords(`${path}.${index}`, one)).join("; ");
  const facts = Object.entries(value).filter(([name, one]) => name !== "kind" && one !== null);
  const words = facts.map(([name, one]) => `${factName(name)} ${inWords(name, one)}`);
  return [value.kind ? springKind(value) : null, ...words].filter(Boolean).join(", ");
}
