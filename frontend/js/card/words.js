// @ts-check
/** The words of the card: steps, stages, ends, and the names of its facts. */

import { SPRING_WORDS } from "../parts/spring-fields.js";

/** @typedef {"front"|"rear"} EndName */
/** @typedef {"received"|"chosen"|"built"} StageName */

/** The steps in their order; `key` as the server names them. */
export const STEPS = [
  { key: "received", name: "As received", does: "What came in, as it stands." },
  { key: "measured", name: "Measured", does: "Rider and bike on the tape and the scales." },
  { key: "chosen", name: "Chosen", does: "Springs and preload for this rider." },
  { key: "built", name: "Built", does: "What was fitted, filled and tightened." },
  { key: "remeasured", name: "Measured again", does: "Whether the bike does what was predicted." },
  { key: "handed_over", name: "Handed over", does: "What the rider is told, and who answers for it." },
  { key: "sealed", name: "Sealed", does: "The record, frozen and numbered." },
];

/** @type {EndName[]} */
export const ENDS = ["front", "rear"];

/** @type {Record<string, string>} */
export const END_NAMES = { front: "Front", rear: "Rear" };

/** @type {Record<string, string>} */
export const STAGE_NAMES = { received: "as received", chosen: "chosen", built: "as built" };

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
  cases: "load cases",
  rate_n_per_mm: "rate",
  soft_n_per_mm: "soft rate",
  hard_n_per_mm: "hard rate",
  change_mm: "change-over, from free length",
  start_n_per_mm: "rate at the start",
  end_n_per_mm: "rate at the end",
  over_mm: "rising over, from free length",
  solid_deflection_mm: "deflection to solid, from free length",
  spring: "spring",
  label: "marked",
  preload_mm: "preload",
  air_gap_mm: "air gap",
  gap_read_with: "gap read with",
  solids_cm3: "solids in the leg",
  pressure_kpa: "air pressure, above atmosphere",
  spacer_mm: "spacer",
  gas_force_n: "gas force",
  clickers: "clickers",
  fork_height_mm: "fork height in the clamps",
  ride_height_mm: "ride height",
  tyre_pressure_kpa: "tyre pressure",
  oil_grade: "oil grade",
  oil_batch: "oil batch",
  oil_cm3_per_leg: "oil per leg",
  complaint: "complaint",
  internal_notes: "notes for the workshop",
  explanation: "explanation to the rider",
  distance_km: "distance",
  hours: "running hours",
  next_service_on: "next service on",
  next_service_note: "next service",
  altitude_m: "altitude",
  mass_in_kit_kg: "rider mass in kit",
  fastener: "fastener",
  value_nm: "torque",
  source_edition: "manual and edition",
  source_page: "page",
  wrench: "wrench",
  needs_second_check: "second check",
  description: "part",
  quantity: "number of pieces",
  batch: "batch",
  direction: "where it went",
  wheel_free_mm: "wheel free",
  alone_from_above_mm: "bike alone, from above",
  alone_from_below_mm: "bike alone, from below",
  rider_from_above_mm: "with rider, from above",
  rider_from_below_mm: "with rider, from below",
  axle_alone_kg: "axle load, bike alone",
  axle_rider_kg: "axle load, with rider",
};

/**
 * What the last step of a path is called.
 * @param {string} path
 */
export function factName(path) {
  const name = path.split(".").filter((step) => !/^\d+$/.test(step)).at(-1) ?? path;
  return FACTS[name] ?? name.replaceAll("_", " ");
}

/**
 * What a path is called, with its leg or end in front.
 * @param {string} path
 */
export function pathName(path) {
  const leg = /^legs\.(\d)/.exec(path)?.[1];
  const end = /^(front|rear)\./.exec(path)?.[1];
  const where = leg ? (leg === "0" ? "left leg, " : "right leg, ") : end ? `${end}, ` : "";
  return where + factName(path);
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
  return spring ? (SPRING_KINDS[spring.kind] ?? spring.kind) : "empty leg";
}
