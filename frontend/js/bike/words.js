// @ts-check
/** A bike's fields in words. */

import { t } from "../words.js";

/** @type {Record<string, string>} */
const NAMES = {
  make: t("Make"), model: t("Model"), year: t("Year"), kind: t("Kind"), plate: t("Plate"), frame_number: t("Frame number"), owner: t("Owner"),
  notes: t("Notes"), front: t("Fork"), rear: t("Rear"),
};
/** @type {[string, string][]} */
const UNITS = [["_n_per_mm", "N/mm"], ["_mm", "mm"], ["_kg", "kg"], ["_cm3", "cm³"], ["_kpa", "kPa"], ["_deg", "°"], ["_n", "N"]];

/** A field's name as words, with its unit. @param {string} name */
export function fieldWords(name) {
  if (NAMES[name]) return NAMES[name];
  const [tail, unit] = UNITS.find(([end]) => name.endsWith(end)) ?? ["", ""];
  const words = name.slice(0, name.length - tail.length).replaceAll("_", " ");
  return unit ? `${words} (${unit})` : words;
}
