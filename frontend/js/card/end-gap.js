// @ts-check
/** The air gap that gives each leg a wanted air force at the end of the stroke, and the oil to add: tried, then kept or not. */
import * as api from "../api.js";
import { h, replace } from "../dom.js";
import { numberField } from "../parts/field.js";
import { inUnit } from "../units.js";
import { LEG_NAMES, gapsPart } from "./legs.js";
import { t } from "../words.js";
import { LEGS } from "./words.js";

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
    name: "wanted_force_n", label: t("Air force wanted, each leg"), quantity: "force", step: 10, onChange: tell,
    hint: t("Along the fork, above the air outside, in a hard hit."),
  });
  const at = numberField({
    name: "at_stroke_mm", label: t("At stroke"), quantity: "length", step: 5, value: fork().stroke_mm ?? null, onChange: tell, hint: t("The whole stroke, or short of it."),
  });
  const now = h("p", { class: "soft" });

  function told() {
    const side = desk.sides?.chosen?.front?.result ?? desk.sides?.received?.front?.result;
    const legs = sheet.value("legs") ?? [];
    const hard = side?.curve?.air_hard_n?.at(-1);
    if (!hard || !legs.length) return "";
    const { text, unit } = inUnit((hard * Math.cos((fork().rake_deg * Math.PI) / 180)) / legs.length, "force");
    return groups(legs).length > 1 ? t("Now about {force} a leg, on average, at full stroke.", { force: `${text} ${unit}` })
      : t("Now about {force} a leg at full stroke.", { force: `${text} ${unit}` });
  }

  async function ask() {
    const mine = ++asked;
    if (wanted.value === null || wanted.unclear() || at.unclear()) {
      replace(says);
      return;
    }
    try {
      const found = await Promise.all(groups(sheet.value("legs") ?? []).map(work));
      if (mine !== asked) return;
      const problems = found.flatMap(({ name, problems: own = [] }) => own.map((one) => ({ ...one, text: name ? `${name}: ${one.text}` : one.text })));
      for (const field of [wanted, at]) {
        const own = problems.filter((one) => one.field === field.name).map((one) => one.text).join(" ");
        field.problem(own || null);
      }
      const rest = problems.filter((one) => ![wanted, at].some((field) => field.name === one.field));
      replace(says, ...words(found.filter(({ answer }) => answer)), ...rest.map((one) => h("p", { class: "problem" }, one.text)));
    } catch (error) {
      if (mine !== asked) return;
      if (!(error instanceof api.Offline)) throw error;
      replace(says, h("p", null, t("No network: not worked out.")));
    }
  }

  /**
   * What the server says of the legs of a group, or what is wrong with them.
   * @param {Group} group
   * @returns {Promise<Group & {answer?: any, problems?: {field: string, text: string}[]}>}
   */
  async function work(group) {
    const { stroke_mm, seal_diameter_mm, bore_diameter_mm, pour } = fork();
    const { air_gap_mm, solids_cm3, pressure_kpa } = group.leg;
    const blank = Object.entries({ [t("the stroke")]: stroke_mm, [t("the seal diameter")]: seal_diameter_mm, [t("the bore or a pour")]: bore_diameter_mm ?? pour, [t("the solids in the leg")]: solids_cm3 })
      .filter(([, value]) => value === null || value === undefined).map(([word]) => word);
    if (blank.length) return { ...group, problems: [{ field: "", text: t("Missing: {what}.", { what: blank.join(", ") }) }] };
    try {
      return { ...group, answer: await api.post("/api/calc/gap/", {
        use: "end_force", stroke_mm, seal_diameter_mm, bore_diameter_mm: bore_diameter_mm ?? null, pour: pour ?? null, altitude_m: desk.card.altitude_m ?? 0,
        air_gap_mm: air_gap_mm ?? null, solids_cm3, pressure_kpa: pressure_kpa ?? 0, wanted_force_n: wanted.value, at_stroke_mm: at.value ?? stroke_mm,
      }) };
    } catch (error) {
      if (!(error instanceof api.Refused)) throw error;
      return { ...group, problems: error.problems };
    }
  }

  /** @param {(Group & {answer?: any})[]} found */
  function words(found) {
    if (!found.length) return [];
    const notes = new Map(found.flatMap(({ name, answer }) => answer.notes.map((/** @type {any} */ note) =>
      (note.severity === "warning" && name ? { ...note, text: `${name}: ${note.text}` } : note))).map((note) => [note.text, note]));
    return [
      ...found.map(sentence),
      ...[...notes.values()].map((note) => h("p", { class: note.severity === "warning" ? "problem" : "soft small" }, note.text)),
      h("div", { class: "actions" }, h("button", { type: "button", onclick: () => {
        for (const { places, answer } of found) {
          for (const place of places) sheet.set(`legs.${place}.air_gap_mm`, null, { value: Math.round(answer.air_gap_mm) });
        }
        follow();
        void sheet.flush();
      } }, found.length > 1 ? t("Try these gaps") : found[0].name ? t("Try it in the {leg}", { leg: LEGS[found[0].places[0]] }) : t("Try this gap"))),
    ];
  }

  /** @param {Group & {answer?: any}} one */
  function sentence({ name, places, leg, answer }) {
    const gap = inUnit(answer.air_gap_mm, "length", { decimals: 0 });
    const was = typeof leg.air_gap_mm === "number" ? inUnit(leg.air_gap_mm, "length", { decimals: 0 }) : null;
    const oil = answer.oil_to_add_cm3 === null ? null : inUnit(Math.abs(answer.oil_to_add_cm3), "volume");
    const values = { leg: name, gap: `${gap.text} ${gap.unit}`, was: was ? `${was.text} ${was.unit}` : "", oil: oil ? `${oil.text} ${oil.unit}` : "" };
    const set = name ? was ? t("{leg}: set an air gap of {gap} instead of {was}", values) : t("{leg}: set an air gap of {gap}", values)
      : was ? t("Set an air gap of {gap} instead of {was}", values) : t("Set an air gap of {gap}", values);
    const out = answer.oil_to_add_cm3 < 0;
    const change = !oil ? "" : places.length > 1 ? out ? t("{oil} of oil out of each leg", values) : t("{oil} of oil into each leg", values)
      : name ? out ? t("{oil} of oil out of it", values) : t("{oil} of oil into it", values)
        : out ? t("{oil} of oil out of the leg", values) : t("{oil} of oil into the leg", values);
    return h("p", { class: "row-name" }, `${set}${change && ": "}${change}.`);
  }

  const node = h("details", { class: "ways", ontoggle: () => replace(now, told()) }, h("summary", null, t("Air gap for a wanted force")), now,
    h("div", { class: "group-fields" }, wanted.element, at.element), says);
  return { node, sync: () => replace(now, told()) };
}

/**
 * Legs that the same gap serves; `name` where the legs differ.
 * @typedef {{name: string, places: number[], leg: any}} Group
 */

/** @param {any[]} legs @returns {Group[]} */
function groups(legs) {
  const parted = gapsPart(legs) || legs.some((leg) => ["solids_cm3", "pressure_kpa"].some((name) => (leg[name] ?? null) !== (legs[0][name] ?? null)));
  if (!parted) return legs.length ? [{ name: "", places: legs.map((_leg, place) => place), leg: legs[0] }] : [];
  return legs.map((leg, place) => ({ name: LEG_NAMES[place], places: [place], leg }));
}
