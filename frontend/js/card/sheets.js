// @ts-check
/** The sheets of a card: its own fields, a setting, the readings, the rider, a torque line, a part. */
import * as api from "../api.js";
import { draft, draftNames } from "../store.js";
import { at } from "./paths.js";
import { ENDS_WITHIN, STAGE_NAMES, pathName } from "./words.js";
import { t } from "../words.js";

/** @typedef {import("./desk.js").Desk} Desk */
/** @typedef {import("./sheet.js").Spec} Spec */

/** The card's own fields: complaint, distance, explanation … @param {Desk} desk */
export function fieldsSheet(desk) {
  return desk.sheet("fields", () => ({
    row: () => ({ version: desk.card.version, value: desk.card }),
    send: (value, changed, version) => api.patch(desk.path, wholes(value, changed), version),
    theirs: (card) => ({ version: card.version, value: card }),
    label: t("the card's own entries"),
    name: pathName,
    back: (before, changed) => () => api.patch(desk.path, wholes(before, changed), desk.card.version),
  }));
}

/**
 * The card's fields that the changed paths lie in, whole, as the server takes them.
 * @param {any} card
 * @param {Record<string, any>} changed
 */
function wholes(card, changed) {
  const found = only(card, tops(changed));
  if (found.rider?.id) found.rider = found.rider.id;
  if (found.targets) {
    const { front, rear } = found.targets;
    found.targets = { ...(front ? { front } : {}), ...(rear ? { rear } : {}) };
  }
  return found;
}

/**
 * How one end stands at one stage.
 * @param {Desk} desk
 * @param {string} stage
 * @param {string} end
 */
export function settingSheet(desk, stage, end) {
  const path = `${desk.path}settings/${stage}/${end}/`;
  const read = (/** @type {any} */ setting) => ({ version: setting?.version ?? null, value: setting?.body ?? before(desk, stage, end) });
  const row = () => read(desk.card.settings[stage]?.[end]);
  return desk.sheet(`setting.${stage}.${end}`, () => ({
    row,
    send: (value, _changed, version) => api.put(path, value, version === null ? { fresh: true } : { version }),
    theirs: (answer) => read(answer.settings ? answer.settings[stage]?.[end] : answer),
    label: `${ENDS_WITHIN[end]}, ${STAGE_NAMES[stage]}`,
    name: (path) => `${ENDS_WITHIN[end]}, ${pathName(path)}`,
    // What else was changed since, by this hand or another's, stays.
    back: (before, changed) => () => api.put(path, { ...row().value, ...only(before, tops(changed)) }, { version: row().version ?? undefined }),
  }));
}

/**
 * What a stage starts from: the stage before it, at first the bike's or the loose part's own data.
 * @param {Desk} desk
 * @param {string} stage
 * @param {string} end
 */
function before(desk, stage, end) {
  const { received, chosen } = desk.card.settings;
  const known = stage === "built" ? (chosen?.[end] ?? received?.[end]) : stage === "chosen" ? received?.[end] : null;
  return known?.body ?? fromFixed(desk.card.bike?.[end] ?? desk.card[`loose_${end}`], end);
}

/**
 * @param {any} fixed
 * @param {string} end
 */
function fromFixed(fixed, end) {
  const blank = blankSetting(end);
  if (!fixed) return blank;
  if (end === "front") return fixed.legs?.length ? { ...blank, legs: fixed.legs.map((/** @type {any} */ leg) => ({ gap_read_with: "spring_out", ...leg })) } : blank;
  return { ...blank, spring: fixed.spring ?? null, preload_mm: fixed.preload_mm ?? null, gas_force_n: fixed.gas_force_n ?? null };
}

/**
 * A setting of which nothing is known yet.
 * @param {string} end
 */
function blankSetting(end) {
  const leg = () => ({ preload_mm: null, air_gap_mm: null, gap_read_with: "spring_out", solids_cm3: null, pressure_kpa: 0 });
  const common = { clickers: [], tyre_pressure_kpa: null, sources: {} };
  if (end === "front") return { ...common, legs: [leg(), leg()], fork_height_mm: null, oil_grade: "", oil_batch: "", oil_cm3_per_leg: null };
  return { ...common, preload_mm: null, gas_force_n: null, ride_height_mm: null };
}

/**
 * The readings of one stage that count, by end and quantity.
 * @param {Desk} desk
 * @param {string} stage received or built
 */
export function readingsSheet(desk, stage) {
  const counting = (/** @type {any} */ card) => {
    /** @type {Record<string, Record<string, number>>} */
    const value = { front: {}, rear: {} };
    for (const reading of card.readings) {
      if (reading.stage === stage && reading.counts) value[reading.end][reading.quantity] = reading.value;
    }
    return value;
  };
  const strike = (/** @type {string} */ path) => {
    const found = readingAt(desk.card, stage, path);
    return found ? api.post(`${desk.path}readings/${found.id}/strike/`, {}) : api.get(desk.path);
  };
  return desk.sheet(`readings.${stage}`, () => ({
    row: () => ({ version: null, value: counting(desk.card) }),
    send: (_value, changed, _version, keys) => takeReadings(desk, stage, changed, keys, strike),
    each: true,
    theirs: (card) => ({ version: null, value: counting(card) }),
    label: t("readings"),
    name: pathName,
    back: (_before, changed) => async () => {
      let card = null;
      for (const path of Object.keys(changed)) card = await strike(path);
      return card;
    },
    settle: 60_000,
  }));
}

/**
 * The reading that counts at a path like "front.wheel_free_mm".
 * @param {any} card
 * @param {string} stage
 * @param {string} path
 */
function readingAt(card, stage, path) {
  const [end, quantity] = path.split(".");
  return card.readings.find(
    (/** @type {any} */ one) => one.stage === stage && one.end === end && one.quantity === quantity && one.counts,
  );
}

/**
 * Emptied readings are struck, the others taken together. A problem comes back under the reading's own path.
 * @param {Desk} desk
 * @param {string} stage
 * @param {Record<string, any>} changed
 * @param {Record<string, string>} keys
 * @param {(path: string) => Promise<any>} strike
 */
async function takeReadings(desk, stage, changed, keys, strike) {
  let card = null;
  for (const path of Object.keys(changed).filter((one) => changed[one] === null)) card = await strike(path);
  const paths = Object.keys(changed).filter((path) => changed[path] !== null);
  if (!paths.length) return card;
  const instruments = draft("instruments").read() ?? {};
  const readings = paths.map((path) => {
    const [end, quantity] = path.split(".");
    return { stage, end, quantity, value: changed[path], instrument: instruments[quantity.endsWith("_kg") ? "kg" : "mm"] ?? "" };
  });
  // The same readings have the same key, so that a retry takes none twice.
  const key = paths.map((path) => keys[path].slice(0, Math.floor(80 / paths.length))).join("");
  try {
    return await api.post(`${desk.path}readings/`, { readings }, { key });
  } catch (error) {
    if (!(error instanceof api.Refused)) throw error;
    const named = error.problems.map((problem) => ({ ...problem, field: paths[Number(/\d+/.exec(problem.field ?? "")?.[0] ?? 0)] }));
    throw new api.Refused(error.status, named, error.theirs, error.yours);
  }
}

/** The rider's mass in kit. @param {Desk} desk */
export function riderSheet(desk) {
  return desk.sheet("rider", () => ({
    row: () => ({ version: desk.card.rider?.version ?? null, value: { mass_in_kit_kg: desk.card.rider?.mass_in_kit_kg ?? null } }),
    send: async (_value, changed) => {
      await saveRider(desk, changed.mass_in_kit_kg);
      return api.get(desk.path);
    },
    theirs: (rider) => ({ version: rider.version, value: { mass_in_kit_kg: rider.mass_in_kit_kg } }),
    label: t("rider mass in kit"),
    name: pathName,
  }));
}

/**
 * @param {Desk} desk
 * @param {number|null} mass
 */
async function saveRider(desk, mass) {
  const { rider, customer } = desk.card;
  if (!rider) {
    const made = await api.post("/api/riders/", { customer: customer.id, name: customer.name, mass_in_kit_kg: mass });
    return api.patch(desk.path, { rider: made.id }, desk.card.version);
  }
  let version = rider.version;
  if (version === undefined) {
    const known = await api.get(`/api/customers/${customer.id}/`);
    version = known.riders.find((/** @type {any} */ one) => one.id === rider.id).version;
  }
  return api.patch(`/api/riders/${rider.id}/`, { mass_in_kit_kg: mass }, version);
}

/**
 * A line of a list of the card: a torque line or a part.
 * @param {Desk} desk
 * @param {"torques"|"parts"} list
 * @param {number} id
 */
export function lineSheet(desk, list, id) {
  const path = `${desk.path}${list}/${id}/`;
  const find = (/** @type {any} */ card) => card[list].find((/** @type {any} */ line) => line.id === id) ?? {};
  return desk.sheet(`${list}.${id}`, () => ({
    row: () => ({ version: find(desk.card).version ?? null, value: find(desk.card) }),
    send: (_value, changed, version) => api.patch(path, changed, version),
    theirs: (answer) => {
      const line = answer[list] ? find(answer) : answer;
      return { version: line.version, value: line };
    },
    label: find(desk.card).fastener ?? find(desk.card).description ?? t("a line"),
    name: pathName,
    back: (before, changed) => () => api.patch(path, only(before, Object.keys(changed)), find(desk.card).version),
  }));
}

/**
 * Open every sheet that still keeps something on this device, so that it is sent on.
 * @param {Desk} desk
 */
export function reopenSheets(desk) {
  const start = `card.${desk.id}.`;
  for (const name of draftNames(start)) {
    const [kind, first, second] = name.slice(start.length).split(".");
    if (kind === "fields") fieldsSheet(desk);
    else if (kind === "rider") riderSheet(desk);
    else if (kind === "setting") settingSheet(desk, first, second);
    else if (kind === "readings") readingsSheet(desk, first);
    else if (kind === "torques" || kind === "parts") lineSheet(desk, kind, Number(first));
  }
}

/** The fields that the changed paths lie in. @param {Record<string, any>} changed */
const tops = (changed) => [...new Set(Object.keys(changed).map((path) => path.split(".")[0]))];

/**
 * Add a torque or part line; taken back, it goes again.
 * @param {Desk} desk
 * @param {"torques"|"parts"} list
 * @param {string} what
 * @param {any} body
 */
export function addLine(desk, list, what, body) {
  const known = desk.card[list].map((/** @type {any} */ line) => line.id);
  const added = () => desk.card[list].find((/** @type {any} */ line) => !known.includes(line.id));
  return desk.act(what, () => api.post(`${desk.path}${list}/`, body), {
    back: () => {
      const { id } = added();
      return () => {
        const line = desk.card[list].find((/** @type {any} */ one) => one.id === id);
        return line ? api.remove(`${desk.path}${list}/${id}/`, line.version, list === "torques" ? { reason: t("added by mistake") } : undefined) : api.get(desk.path);
      };
    },
  });
}

/**
 * Remove a torque or part line; taken back, it is written again, and what was tightened must be tightened again.
 * @param {Desk} desk
 * @param {"torques"|"parts"} list
 * @param {string} what
 * @param {any} line
 * @param {Record<string, string>} [query]
 */
export function removeLine(desk, list, what, line, query) {
  const body = only(line, LINE_FIELDS[list].filter((name) => line[name] !== undefined));
  return desk.act(what, () => api.remove(`${desk.path}${list}/${line.id}/`, line.version, query), {
    back: () => () => api.post(`${desk.path}${list}/`, body),
  });
}

const LINE_FIELDS = {
  torques: ["fastener", "value_nm", "source_edition", "source_page", "wrench", "needs_second_check"],
  parts: ["direction", "description", "quantity", "batch", "spring"],
};

/**
 * @param {any} row
 * @param {string[]} names
 */
function only(row, names) {
  return Object.fromEntries(names.map((name) => [name, at(row, name) ?? null]));
}
