// @ts-check
/** The words of the card: steps, stages, ends, and the names of its facts. */

import { SPRING_WORDS } from "../parts/spring-fields.js";
import { t } from "../words.js";

/** @typedef {"front"|"rear"} EndName */
/** @typedef {"received"|"chosen"|"built"} StageName */

/** The steps in their order; `key` as the server names them. */
export const STEPS = [
  { key: "received", name: t("As received"), does: t("What came in, as it stands.") },
  { key: "measured", name: t("Measured"), does: t("Rider and bike on the tape and the scales.") },
  { key: "chosen", name: t("Chosen"), does: t("Springs and preload for this rider.") },
  { key: "built", name: t("Built"), does: t("What was fitted, filled and tightened.") },
  { key: "remeasured", name: t("Measured again"), does: t("Whether the bike does what was predicted.") },
  { key: "handed_over", name: t("Handed over"), does: t("What the rider is told, and who answers for it.") },
  { key: "sealed", name: t("Sealed"), does: t("The record, frozen and numbered.") },
];

/** @type {EndName[]} */
export const ENDS = ["front", "rear"];

/** @type {Record<string, string>} */
export const END_NAMES = { front: t("Front"), rear: t("Rear") };

/** The ends and the legs as they stand within a sentence. @type {Record<string, string>} */
export const ENDS_WITHIN = { front: t("front"), rear: t("rear") };
export const LEGS = [t("left leg"), t("right leg")];

/** What a clicker adjusts. @type {Record<string, string>} */
export const ADJUSTERS = { rebound: t("rebound"), compression: t("compression"), high_speed_compression: t("compression, high speed") };

/** Where a clicker sits. @type {Record<string, string>} */
export const SIDES = { left: t("left"), right: t("right"), both: t("both") };

/** @type {Record<string, string>} */
export const STAGE_NAMES = { received: t("as received"), chosen: t("chosen"), built: t("as built") };

/** @type {Record<string, string>} */
export const SPRING_KINDS = SPRING_WORDS;

/** @type {Record<string, {name: string, quantity: string}[]>} */
export const SPRING_FACTS = {
  straight: [{ name: "rate_n_per_mm", quantity: "rate" }],
  dual: [
    { name: "soft_n_per_mm", quantity: "rate" },
    { name: "hard_n_per_mm", quantity: "rate" },
    { name: "change_mm", quantity: "length" },
  ],
  progressive: [
    { name: "start_n_per_mm", quantity: "rate" },
    { name: "end_n_per_mm", quantity: "rate" },
    { name: "over_mm", quantity: "length" },
  ],
};

/** @type {Record<string, string>} */
const FACTS = {
  cases: t("load cases"),
  rate_n_per_mm: t("rate"),
  soft_n_per_mm: t("soft rate"),
  hard_n_per_mm: t("hard rate"),
  change_mm: t("change-over, from free length"),
  start_n_per_mm: t("rate at the start"),
  end_n_per_mm: t("rate at the end"),
  over_mm: t("rising over, from free length"),
  solid_deflection_mm: t("deflection to solid, from free length"),
  spring: t("spring"),
  label: t("marked"),
  preload_mm: t("preload"),
  air_gap_mm: t("air gap"),
  gap_read_with: t("gap read with"),
  solids_cm3: t("solids in the leg"),
  pressure_kpa: t("air pressure, above atmosphere"),
  spacer_mm: t("spacer"),
  gas_force_n: t("gas force"),
  clickers: t("clickers"),
  fork_height_mm: t("fork height in the clamps"),
  ride_height_mm: t("ride height"),
  tyre_pressure_kpa: t("tyre pressure"),
  oil_grade: t("oil grade"),
  oil_batch: t("oil batch"),
  oil_cm3_per_leg: t("oil per leg"),
  complaint: t("complaint"),
  internal_notes: t("notes for the workshop"),
  explanation: t("explanation to the rider"),
  distance_km: t("distance"),
  hours: t("running hours"),
  next_service_on: t("next service on"),
  next_service_note: t("next service"),
  altitude_m: t("altitude"),
  mass_in_kit_kg: t("rider mass in kit"),
  fastener: t("fastener"),
  value_nm: t("torque"),
  source_edition: t("manual and edition"),
  source_page: t("page"),
  wrench: t("wrench"),
  needs_second_check: t("second check"),
  description: t("part"),
  quantity: t("number of pieces"),
  batch: t("batch"),
  direction: t("where it went"),
  wheel_free_mm: t("wheel free"),
  alone_from_above_mm: t("bike alone, from above"),
  alone_from_below_mm: t("bike alone, from below"),
  rider_from_above_mm: t("with rider, from above"),
  rider_from_below_mm: t("with rider, from below"),
  axle_alone_kg: t("axle load, bike alone"),
  axle_rider_kg: t("axle load, with rider"),
};

/**
 * What the last step of a path is called.
 * @param {string} path
 */
export function factName(path) {
  const name = path.split(".").filter((step) => !/^\d+$/.test(step)).at(-1) ?? path;
  return FACTS[name] ?? name.replace(/_(mm|n_per_mm|kpa|cm3)$/, "").replaceAll("_", " ");
}

/**
 * What a path is called, with its leg or end in front.
 * @param {string} path
 */
export function pathName(path) {
  const leg = /^legs\.(\d)/.exec(path)?.[1];
  const end = /^(front|rear)\./.exec(path)?.[1];
  const where = leg ? LEGS[Number(leg)] : end ? ENDS_WITHIN[end] : "";
  return where ? `${where}, ${factName(path)}` : factName(path);
}

/**
 * The quantity that a fact is measured in, read off its unit; null where it is a plain word or number.
 * @param {string} path
 * @returns {string|null}
 */
export function quantityOf(path) {
  const endings = { n_per_mm: "rate", _mm: "length", _cm3: "volume", _kpa: "pressure", _kg: "mass", _nm: "torque" };
  if (/cm3_per_leg$/.test(path)) return "volume";
  if (/_n$/.test(path)) return "force";
  const found = Object.entries(endings).find(([ending]) => path.endsWith(ending));
  return found ? found[1] : null;
}

/**
 * A spring in words, without its number.
 * @param {any} spring
 */
export function springKind(spring) {
  return spring ? (SPRING_KINDS[spring.kind] ?? spring.kind) : t("empty leg");
}
