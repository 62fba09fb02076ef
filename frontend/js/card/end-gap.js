// @ts-check
/** The air gap that gives a wanted air force at the end of the stroke, and the oil to add for it: tried, then kept or not. */
import * as api from "../api.js";
import { h, replace } from "../dom.js";
import { numberField } from "../parts/field.js";
import { show } from "../units.js";

const REST_MS = 300;

/**
 * @param {import("../screens/card.js").Bench} bench
 * @param {import("./sheet.js").Sheet} sheet the chosen front setting
 * @param {() => void} follow asks for the picture of what is tried
 */
export function endGap({ desk }, sheet, follow) {
  const says = h("div", { class: "gap-says", role: "status" });
  let timer = 0;
  let asked = 0;
  const tell = () => {
    window.clearTimeout(timer);
    timer = window.setTimeout(ask, REST_MS);
  };
  const fork = () => desk.card.bike?.front ?? desk.card.loose_front ?? {};
  const wanted = numberField({
    name: "wanted_force_n", label: "Air force wanted, each leg", quantity: "force", step: 10, onChange: tell,
    hint: "Along the fork, above the air outside, in a hard hit.",
  });
  const at = numberField({
    name: "at_stroke_mm", label: "At stroke", quantity: "length", step: 5, value: fork().stroke_mm ?? null, onChange: tell, hint: "The whole stroke, or short of it.",
  });
  const now = h("p", { class: "soft" });

  function told() {
    const side = desk.sides?.chosen?.front?.result ?? desk.sides?.received?.front?.result;
    const legs = sheet.value("legs") ?? [];
    const hard = side?.curve?.air_hard_n?.at(-1);
    if (!hard || !legs.length) return "";
    const { text, unit } = show((hard * Math.cos((fork().rake_deg * Math.PI) / 180)) / legs.length, "force");
    return `Now about ${text} ${unit} a leg at full stroke.`;
  }

  async function ask() {
    const mine = ++asked;
    if (wanted.value === null || wanted.unclear() || at.unclear()) {
      replace(says);
      return;
    }
    const leg = (sheet.value("legs") ?? []).find((/** @type {any} */ one) => one.air_gap_mm) ?? {};
    const { stroke_mm, seal_diameter_mm, bore_diameter_mm, pour } = fork();
    const body = {
      use: "end_force", stroke_mm, seal_diameter_mm, bore_diameter_mm: bore_diameter_mm ?? null, pour: pour ?? null, altitude_m: desk.card.altitude_m ?? 0,
      air_gap_mm: leg.air_gap_mm ?? null, solids_cm3: leg.solids_cm3, pressure_kpa: leg.pressure_kpa ?? 0,
      wanted_force_n: wanted.value, at_stroke_mm: at.value ?? stroke_mm,
    };
    const blank = Object.entries({ "the stroke": stroke_mm, "the seal diameter": seal_diameter_mm, "the bore or a pour": bore_diameter_mm ?? pour, "the solids in the leg": leg.solids_cm3 })
      .filter(([, value]) => value === null || value === undefined).map(([word]) => word);
    if (blank.length) {
      replace(says, h("p", { class: "problem" }, `Missing: ${blank.join(", ")}.`));
      return;
    }
    try {
      const found = await api.post("/api/calc/gap/", body);
      if (mine === asked) replace(says, ...words(found));
    } catch (error) {
      if (mine !== asked) return;
      replace(says);
      if (error instanceof api.Offline) replace(says, h("p", null, "No network: not worked out."));
      else if (error instanceof api.Refused) {
        for (const each of error.problems) {
          const field = [wanted, at].find((one) => one.name === each.field);
          if (field) field.problem(each.text);
          else says.append(h("p", { class: "problem" }, each.text));
        }
      } else throw error;
    }
  }

  /** @param {any} found */
  function words(found) {
    const gap = show(found.air_gap_mm, "length", { decimals: 0 });
    const oil = found.oil_to_add_cm3 === null ? null : show(Math.abs(found.oil_to_add_cm3), "volume");
    const change = oil ? `: ${oil.text} ${oil.unit} of oil ${found.oil_to_add_cm3 < 0 ? "out of" : "into"} each leg` : "";
    return [
      h("p", { class: "row-name" }, `Set an air gap of ${gap.text} ${gap.unit}${change}.`),
      ...found.notes.map((/** @type {any} */ note) => h("p", { class: note.severity === "warning" ? "problem" : "soft small" }, note.text)),
      h("div", { class: "actions" }, h("button", { type: "button", onclick: () => {
        const value = Math.round(found.air_gap_mm);
        (sheet.value("legs") ?? []).forEach((/** @type {any} */ _leg, /** @type {number} */ index) => sheet.set(`legs.${index}.air_gap_mm`, null, { value }));
        follow();
        desk.say("Tried: keep it with the other changes.");
      } }, "Try this gap")),
    ];
  }

  const node = h("details", { class: "ways", ontoggle: () => replace(now, told()) }, h("summary", null, "Air gap for a wanted force"), now,
    h("div", { class: "group-fields" }, wanted.element, at.element), says);
  return { node, sync: () => replace(now, told()) };
}
