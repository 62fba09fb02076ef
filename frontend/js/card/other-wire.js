// @ts-check
/** A better wire: the same rate wound of another material, what it saves, and what the air gap makes of it. */
import * as api from "../api.js";
import { h, replace } from "../dom.js";
import { choiceField, numberField } from "../parts/field.js";
import { during } from "../parts/busy.js";
import { problemList, showProblems } from "../parts/problems.js";
import { unitOf, withUnit } from "../units.js";
import { t, written } from "../words.js";
import { ENDS_WITHIN } from "./words.js";

const ENDS = [
  { value: "closed_ground", text: t("closed and ground") }, { value: "closed", text: t("closed") },
  { value: "plain_ground", text: t("plain, ground") }, { value: "plain", text: t("plain") },
];
/** How far the rate by the sizes may be off: wire and turns are hardly read closer (common practice, no source). */
const LIKE = 0.1;
const KEPT = [{ value: "mean_diameter", text: t("mean diameter") }, { value: "index", text: t("mean diameter over wire") }];

/**
 * @param {import("./desk.js").Desk} desk
 * @param {"front"|"rear"} end
 */
export function otherWire(desk, end) {
  const place = h("div", { class: "look-place" });
  const node = h(
    "details", { class: "look", id: `wire-${end}`, ontoggle: () => sync() }, h("summary", null, t("A better wire")),
    h("p", { class: "aside" }, t("The same rate wound of another wire that bears the same share of its strength. To talk over with whoever winds it: he has his own sizes and answers for how long it lasts.")),
    place,
  );
  /** Of which spring the fields were filled. */
  let about = "";
  /** @type {{repaint: () => void} | null} */
  let form = null;
  let units = "";

  async function fill() {
    const mine = JSON.stringify([inHand(desk, end).spring ?? null, inHand(desk, end).stock_spring ?? null]);
    if (mine === about) return;
    about = mine;
    form = null;
    replace(place, h("p", { class: "empty" }, t("Being fetched.")));
    try {
      const known = await api.get("/api/calc/materials/");
      const values = await fromSpring(desk, end, known.materials);
      if (mine !== about) return;
      const made = wireForm(desk, end, known, values);
      form = made;
      replace(place, made.node);
    } catch (error) {
      if (mine === about) about = "";
      const text = error instanceof api.Offline ? t("No network: worked out when it is back.") : error instanceof api.Refused ? error.message : null;
      if (text === null) throw error;
      replace(place, h("p", { class: "lack" }, text));
    }
  }
  function sync() {
    if (!node.open) return;
    const now = ["length", "mass", "volume", "force"].map(unitOf).join();
    if (now !== units) form?.repaint();
    units = now;
    void fill();
  }
  return { node, sync };
}

/** What is chosen, else what came in: the fork's first leg that has a spring, the shock. @param {import("./desk.js").Desk} desk @param {"front"|"rear"} end */
function inHand(desk, end) {
  const { chosen, received } = desk.card.settings;
  const body = (chosen?.[end] ?? received?.[end])?.body ?? {};
  if (end === "rear") return body;
  const legs = body.legs ?? [];
  return legs.find((/** @type {any} */ leg) => leg.spring) ?? legs[0] ?? {};
}

/** The fork's own sizes, or the shock's. @param {import("./desk.js").Desk} desk @param {"front"|"rear"} end */
const sizes = (desk, end) => desk.card.bike?.[end] ?? desk.card[`loose_${end}`] ?? {};

/**
 * What the spring and the shop's list know of the wire, by the names that the server uses.
 * @param {import("./desk.js").Desk} desk
 * @param {"front"|"rear"} end
 * @param {any[]} materials
 * @returns {Promise<Record<string, any>>}
 */
async function fromSpring(desk, end, materials) {
  const { spring, stock_spring, preload_mm } = inHand(desk, end);
  /** @type {Record<string, any>} */
  const found = {};
  const stroke = end === "front" ? sizes(desk, end).stroke_mm : null;
  if (spring?.kind === "straight" && stroke) found.force_n = Math.round(spring.rate_n_per_mm * (stroke + (preload_mm ?? 0)));
  if (stock_spring) Object.assign(found, fromShelf(await shelf(stock_spring), materials));
  if (spring?.kind === "wound") Object.assign(found, fromTurns(spring));
  return found;
}

/** The line on the shop's list; one that was taken off it since tells nothing. @param {number} pk */
async function shelf(pk) {
  try {
    return await api.get(`/api/springs/${pk}/`);
  } catch (error) {
    if (error instanceof api.Refused) return {};
    throw error;
  }
}

/** @param {any} line @param {any[]} materials */
function fromShelf({ wire_mm: wire, outer_diameter_mm: outer, inner_diameter_mm: inner, material }, materials) {
  const said = (material ?? "").toLowerCase();
  const named = (/** @type {any} */ one) => [one.standard, one.name].some((word) => word && said.includes(word.toLowerCase()));
  const mean = outer && inner ? (outer + inner) / 2 : outer && wire ? outer - wire : inner && wire ? inner + wire : null;
  const own = materials.filter(named);
  return {
    "present.wire_mm": wire ?? (outer && inner ? (outer - inner) / 2 : null), "present.mean_diameter_mm": mean,
    ...(own.length === 1 ? { "present.material": own[0].key } : {}),
  };
}

/** A spring given turn by turn, where all turns are alike; those given are the active ones. @param {any} spring */
function fromTurns({ turns, shear_modulus_gpa }) {
  const one = (/** @type {string} */ name) => (turns.every((/** @type {any} */ turn) => turn[name] === turns[0][name]) ? turns[0][name] : null);
  return {
    "present.wire_mm": one("wire_mm"), "present.mean_diameter_mm": one("mean_diameter_mm"),
    "present.active_turns": turns.length, "present.shear_modulus_gpa": shear_modulus_gpa,
  };
}

/**
 * @param {import("./desk.js").Desk} desk
 * @param {"front"|"rear"} end
 * @param {{materials: any[], bands: Record<string, any>}} known
 * @param {Record<string, any>} values
 */
function wireForm(desk, end, { materials, bands }, values) {
  const says = h("div", { class: "wire-says", role: "status" });
  const list = problemList();
  /** @type {{wire: any, gap: any} | null} */
  let found = null;
  const stale = () => {
    found = null;
    replace(says);
  };
  const number = (/** @type {string} */ name, /** @type {string} */ label, /** @type {string} */ quantity, /** @type {any} */ more = {}) =>
    numberField({ name, label, quantity, band: bands[name.split(".").at(-1) ?? ""], value: values[name] ?? null, onChange: stale, ...more });
  const choice = (/** @type {string} */ name, /** @type {string} */ label, /** @type {any[]} */ choices, /** @type {any} */ more = {}) =>
    choiceField({ name, label, choices, value: values[name] ?? choices[0].value, onChange: stale, ...more });
  const wires = materials.map((one) => ({ value: one.key, text: wireName(one) }));
  const unsure = { step: 10, hint: t("Blank: by our table, where it has it.") };
  const fields = [
    choice("present.material", t("Present wire"), [{ value: null, text: t("choose") }, ...wires], { list: true }),
    number("present.wire_mm", t("Wire"), "length", { step: 0.1, decimals: 3 }),
    number("present.mean_diameter_mm", t("Mean coil diameter"), "length", { step: 0.5, decimals: 3, hint: t("Outside less one wire.") }),
    number("present.active_turns", t("Active turns"), "", { step: 0.25, decimals: 2, hint: t("Those that move.") }),
    number("present.total_turns", t("Turns in all"), "", { step: 0.25, decimals: 2, hint: t("With the dead ones at the ends.") }),
    choice("present.ends", t("Ends"), ENDS, { list: true }),
    number("force_n", t("Most force on one spring"), "force", { step: 10, hint: t("Rate times preload and whole stroke.") }),
    choice("new.material", t("Other wire"), [{ value: null, text: t("choose") }, ...wires], { list: true }),
    choice("keep", t("What stays"), KEPT),
  ];
  const certificate = [
    number("present.strength_mpa", t("Present wire’s tensile strength"), "MPa", unsure),
    number("present.shear_modulus_gpa", t("Present wire’s shear modulus"), "GPa", { ...unsure, step: 0.5 }),
    number("new.strength_mpa", t("Other wire’s tensile strength"), "MPa", unsure),
    number("new.shear_modulus_gpa", t("Other wire’s shear modulus"), "GPa", { ...unsure, step: 0.5 }),
  ];
  const all = Object.fromEntries([...fields, ...certificate].map((field) => [field.name, field]));
  const button = h("button", { type: "submit", class: "main" }, t("Work it out"));
  const node = h(
    "form", { "aria-label": t("A better wire, {end}", { end: ENDS_WITHIN[end] }), novalidate: true, onsubmit: (/** @type {Event} */ event) => {
      event.preventDefault();
      void during(button, ask);
    } },
    list, h("div", { class: "group-fields" }, ...fields.map((field) => field.element)),
    h("details", { class: "rare", open: certificate.some((field) => field.value !== null) }, h("summary", null, t("From the wire’s certificate")),
      h("div", { class: "group-fields" }, ...certificate.map((field) => field.element))),
    h("div", { class: "actions" }, button), says,
  );

  async function ask() {
    const unclear = Object.values(all).find((field) => field.unclear());
    if (unclear) {
      unclear.focus();
      return;
    }
    stale();
    try {
      const wire = await api.post("/api/calc/wire/", body(all));
      found = { wire, gap: end === "front" ? await gapFor(desk, wire.oil_to_add_cm3) : null };
      showProblems([], all, list);
      paint();
    } catch (error) {
      if (error instanceof api.Offline) replace(says, h("p", { class: "lack" }, t("No network: not worked out.")));
      else if (error instanceof api.Refused) showProblems(error.problems, all, list);
      else throw error;
    }
  }
  function paint() {
    const other = materials.find((one) => one.key === all["new.material"].value);
    if (found) replace(says, doubt(found.wire, inHand(desk, end).spring), ...answer(found, other, end));
  }
  return { node, repaint: paint };
}

/** Dotted names, nested as the server reads them. @param {Record<string, import("../parts/field.js").Field>} fields */
function body(fields) {
  /** @type {Record<string, any>} */
  const made = { present: {}, new: {} };
  for (const { name, value } of Object.values(fields)) {
    const [first, second] = name.split(".");
    if (second) made[first][second] = value;
    else made[first] = value;
  }
  return made;
}

/**
 * The air gap that the new spring asks for: what keeps the air as it is; where it cannot be told, why.
 * @param {import("./desk.js").Desk} desk
 * @param {number} less what one spring displaces less, cm³
 * @returns {Promise<{found?: any, lack?: string}>}
 */
async function gapFor(desk, less) {
  const { bore_diameter_mm, pour } = sizes(desk, "front");
  const { air_gap_mm, solids_cm3, gap_read_with } = inHand(desk, "front");
  const blank = Object.entries({ [t("the bore or a pour")]: bore_diameter_mm ?? pour, [t("the air gap")]: air_gap_mm, [t("the solids in the leg")]: solids_cm3 })
    .filter(([, value]) => value === null || value === undefined).map(([word]) => word);
  if (blank.length) return { lack: t("Missing for the air gap: {what}.", { what: blank.join(", ") }) };
  try {
    return { found: await api.post("/api/calc/gap/", {
      use: "swap", bore_diameter_mm: bore_diameter_mm ?? null, pour: pour ?? null, air_gap_mm,
      solids_old_cm3: solids_cm3, solids_new_cm3: solids_cm3 - less, read_with: gap_read_with ?? "spring_out",
    }) };
  } catch (error) {
    if (error instanceof api.Refused) return { lack: t("The air gap: {why}", { why: error.message }) };
    throw error;
  }
}

/**
 * @param {{wire: any, gap: {found?: any, lack?: string} | null}} found
 * @param {any} other the other wire's material
 * @param {"front"|"rear"} end
 */
function answer({ wire, gap }, other, end) {
  const notes = [...wire.notes.filter((/** @type {any} */ note) => note.code !== "mass_and_oil"), ...wire.new.notes, ...(gap?.found?.notes ?? [])];
  return [
    h("p", { class: "said" }, said(wire, gap, other, end)),
    gap?.lack ? h("p", { class: "lack" }, gap.lack) : null,
    h("div", { class: "wide" }, table(wire, end)),
    ...notes.map((/** @type {any} */ note) => h("p", { class: note.severity === "warning" ? "problem" : "aside" }, note.text)),
    h("p", { class: "aside" }, t("Figures of the wire: {source}.", { source: other.source })),
  ];
}

/** Sizes that give quite another rate than the spring in hand has were misread. @param {any} wire @param {any} spring */
function doubt({ present }, spring) {
  const told = spring?.kind === "straight" ? spring.rate_n_per_mm : null;
  if (!told || Math.abs(present.rate_n_per_mm / told - 1) <= LIKE) return null;
  return h("p", { class: "problem" }, t("These sizes give {rate}, the spring in hand has {told}: measure the wire and count the turns again.", { rate: sized(present.rate_n_per_mm, "rate"), told: sized(told, "rate") }));
}

/** @param {any} wire @param {any} gap @param {any} other @param {"front"|"rear"} end */
function said(wire, gap, other, end) {
  const values = { wire: wireName(other), mass: sized(Math.abs(wire.mass_saved_g) / 1000, "mass", 3), oil: oil(wire, gap, end) };
  return wire.mass_saved_g < 0 ? t("The same rate of {wire} wire: {mass} heavier{oil}.", values) : t("The same rate of {wire} wire: {mass} lighter{oil}.", values);
}

/** What the oil makes of it; a shock's spring stands in the open. @param {any} wire @param {any} gap @param {"front"|"rear"} end */
function oil(wire, gap, end) {
  if (end === "rear") return "";
  const less = wire.oil_to_add_cm3;
  const volume = sized(Math.abs(less), "volume");
  const displaces = less < 0 ? t(", displaces {volume} more oil per leg", { volume }) : t(", displaces {volume} less oil per leg", { volume });
  if (!gap?.found) return `${displaces}: ${t("correct the oil for it")}`;
  const values = { change: sized(Math.abs(gap.found.gap_change_mm), "length"), volume, gap: sized(gap.found.air_gap_mm, "length") };
  return `${displaces}: ${less < 0
    ? t("the air shrinks as if the air gap were {change} smaller, unless {volume} of oil is taken out (air gap then {gap})", values)
    : t("the air grows as if the air gap were {change} larger, unless {volume} of oil is added (air gap then {gap})", values)}`;
}

/** @param {any} wire @param {"front"|"rear"} end */
function table(wire, end) {
  const turns = (/** @type {number} */ value) => written(Number(value.toFixed(2)));
  const row = (/** @type {string} */ name, /** @type {(spring: any) => string} */ cell) =>
    h("tr", null, h("th", { scope: "row" }, name), h("td", null, cell(wire.present)), h("td", null, cell(wire.new)));
  return h(
    "table", { class: "fact-table" },
    h("thead", null, h("tr", null, ...[t("one spring"), t("present"), t("other wire")].map((name) => h("th", { scope: "col" }, name)))),
    h("tbody", null,
      row(t("wire"), (one) => sized(one.wire_mm, "length", decimals())),
      row(t("mean diameter"), (one) => sized(one.mean_diameter_mm, "length")),
      row(t("active turns"), (one) => turns(one.active_turns)),
      row(t("turns in all"), (one) => turns(one.total_turns)),
      row(t("rate"), (one) => sized(one.rate_n_per_mm, "rate")),
      row(t("mass"), (one) => sized(one.mass_g / 1000, "mass", 3)),
      end === "front" ? row(t("oil displaced"), (one) => sized(one.displaced_cm3, "volume")) : null,
      row(t("solid length"), (one) => sized(one.solid_length_mm, "length"))),
  );
}

/** Wire is bought by the hundredth. */
const decimals = () => (unitOf("length") === "mm" ? 2 : 4);

/** @param {number} value @param {string} quantity @param {number} [places] */
const sized = (value, quantity, places) => withUnit(value, quantity, { decimals: places });

/** @param {any} one */
const wireName = ({ name, standard }) => (standard ? `${name}, ${standard}` : name);
