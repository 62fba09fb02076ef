// @ts-check
/** Measured: rider and bike on the tape and the scales; sag and verdict at once. */
import * as api from "../api.js";
import { h, replace } from "../dom.js";
import { cautionList } from "./cautions.js";
import { endsOf, lockable } from "./ends.js";
import { Entries } from "./entry.js";
import { learnedLine } from "./learned.js";
import { live } from "./live.js";
import { keepFocus } from "./paint.js";
import { photoPlace } from "./photos.js";
import { sureness } from "./sureness.js";
import { readingsSheet, riderSheet } from "./sheets.js";
import { sideSight } from "./sights.js";
import { inUnit, unitOf } from "../units.js";
import { draft } from "../store.js";
import { moment } from "../parts/dates.js";
import { textField } from "../parts/field.js";
import { END_NAMES, pathName } from "./words.js";
import { threeWays } from "./ways.js";
import { tellWhere } from "./where.js";
import { t } from "../words.js";

const LENGTHS = [
  { key: "wheel_free_mm", name: t("Wheel free") },
  { key: "alone_from_above_mm", name: t("Bike alone, from above") },
  { key: "alone_from_below_mm", name: t("Bike alone, from below") },
  { key: "rider_from_above_mm", name: t("With rider, from above") },
  { key: "rider_from_below_mm", name: t("With rider, from below") },
];
const SCALES = [
  { key: "axle_alone_kg", name: t("Axle load, bike alone") },
  { key: "axle_rider_kg", name: t("Axle load, with rider") },
];
const HOW = [
  t("Wheel free: the wheel clear of the ground, the suspension fully extended."),
  t("From above: lifted, let down, the longer length. From below: pushed down, let up, the shorter. Half their gap is the friction."),
  t("With rider: in full kit, in riding posture."),
  t("Axle loads: each wheel on the scale, the other as high as it. Without the rider on the scale, the rider's mass is shared out as usual, and marked so."),
];

/** @param {import("../screens/card.js").Bench} bench */
export const open = (bench) => measuring(bench, "received", "measured");

/**
 * The readings of one stage: as received, and again as built.
 * @param {import("../screens/card.js").Bench} bench
 * @param {"received"|"built"} stage
 * @param {string} step
 * @returns {import("../screens/card.js").StepView}
 */
export function measuring(bench, stage, step) {
  const { desk } = bench;
  const ends = endsOf(desk.card);
  const sheet = readingsSheet(desk, stage);
  const entries = new Entries(sheet);
  const rider = new Entries(riderSheet(desk));
  const cautions = cautionList(desk, step);
  const log = h("details", { class: "readings-log" });
  const photos = photoPlace(desk, "reading", stage);
  /** Sags of what is typed and not yet taken. @type {Record<string, any>} */
  const typed = {};
  const asks = Object.fromEntries(ends.map((end) => [end, live((body) => api.post("/api/calc/sag/", body), {
    asked: () => {},
    answer: (sag) => {
      typed[end] = sag;
      bench.look();
    },
    failed: () => {
      delete typed[end];
      bench.look();
    },
  })]));

  const follow = () => {
    for (const end of ends) {
      const values = sheet.value(end) ?? {};
      const waits = Object.keys(sheet.entries).some((path) => path.startsWith(`${end}.`));
      if (!waits) delete typed[end];
      else if (sagWanted(values)) asks[end].ask(sagQuestion(desk, end, values));
    }
  };
  const cell = (/** @type {string} */ end, /** @type {any} */ row, /** @type {string} */ quantity) => {
    const field = entries.number(`${end}.${row.key}`, { label: `${END_NAMES[end]}: ${row.name}`, quantity, step: 1 });
    field.addEventListener("focusin", () => bench.takeEnd(/** @type {"front"|"rear"} */ (end)));
    return h("td", { "data-end": END_NAMES[end] }, field);
  };
  const row = (/** @type {any} */ one, /** @type {string} */ quantity) => h(
    "tr", null, h("th", { scope: "row" }, one.name), ...ends.map((end) => cell(end, one, quantity)),
  );
  const mass = h("div", { class: "rider-mass" }, rider.number("mass_in_kit_kg", { quantity: "mass", step: 1, label: t("Rider mass in kit"), band: "person.mass_kg" }));
  const table = h(
    "table", { class: "readings" },
    h("thead", null, h("tr", null, h("td"), ...ends.map((end) => h("th", { scope: "col" }, END_NAMES[end])))),
    h("tbody", null, ...LENGTHS.map((one) => row(one, "length"))),
    h("tbody", { class: "scales" }, ...SCALES.map((one) => row(one, "mass"))),
  );
  const sure = sureness(desk, ends, [stage]);
  const learned = stage === "received" ? ends.map((end) => learnedLine(desk, end)) : [];
  drawLog(log, desk, stage);
  const ways = threeWays(bench, stage, ends);
  return {
    node: h("div", { class: "measuring" }, cautions.node, lockable(mass, table), ...learned.map((one) => one.node)),
    // What is looked up now and then stands below the way on: readings, verdicts and the way on fill one screen.
    after: h("div", { class: "measuring" }, h("div", { class: "folds" }, ways.node, how(), log, sure.node, cautions.past), photos.node),
    both: true,
    sight: (end) => {
      const sag = typed[end] ?? desk.card.sag?.[stage]?.[end] ?? null;
      const problems = desk.card.sag_problems?.[stage]?.[end] ?? [];
      const sight = sideSight(bench, stage, end, { sag });
      return { ...sight, problems: [...(sight.problems ?? []), ...problems] };
    },
    news: (news) => {
      ways.news(news);
      cautions.sync();
      entries.sync();
      rider.sync();
      sure.sync();
      photos.sync();
      follow();
      for (const one of learned) one.sync();
      drawLog(log, desk, stage);
    },
    close: () => {
      for (const ask of Object.values(asks)) ask.stop();
    },
  };
}

/** How each reading is taken, and with what: said once, it goes with every reading until it changes. */
function how() {
  const kept = draft("instruments");
  const said = kept.read() ?? {};
  const field = (/** @type {string} */ kind, /** @type {string} */ label, /** @type {string} */ hint) => textField({
    name: `instrument.${kind}`, label, hint, value: said[kind] ?? "", maxlength: 120,
    onChange: (text) => {
      said[kind] = text.trim();
      kept.write(said);
    },
  }).element;
  return h(
    "details", { class: "how" }, h("summary", null, t("How they are read")),
    h("ul", null, ...HOW.map((line) => h("li", null, line))),
    h("div", { class: "group-fields" }, field("mm", t("Lengths read with"), t("The tape or gauge, with its number.")),
      field("kg", t("Loads read with"), t("The scales, with their number."))),
  );
}

/** @param {Record<string, any>} values */
function sagWanted(values) {
  return typeof values.wheel_free_mm === "number" && Object.values(values).filter((one) => typeof one === "number").length > 1;
}

/**
 * @param {import("./desk.js").Desk} desk
 * @param {string} end
 * @param {Record<string, any>} values
 */
function sagQuestion(desk, end, values) {
  const lengths = Object.fromEntries(Object.entries(values).filter(([name, value]) => name.endsWith("_mm") && typeof value === "number"));
  const fixed = desk.card.bike?.[end] ?? desk.card[`loose_${end}`];
  const travel = fixed?.[end === "front" ? "stroke_mm" : "wheel_travel_mm"];
  return { end, ...lengths, ...(travel ? { travel_mm: travel } : {}) };
}

/**
 * Every reading as it was taken; a wrong one is struck, none is edited.
 * @param {HTMLElement} log
 * @param {import("./desk.js").Desk} desk
 * @param {string} stage
 */
function drawLog(log, desk, stage) {
  const readings = desk.card.readings.filter((/** @type {any} */ one) => one.stage === stage);
  const state = JSON.stringify([readings, desk.open, unitOf("length"), unitOf("mass")]);
  if (log.dataset.state === state) return;
  log.dataset.state = state;
  keepFocus(log, () => replace(
    log,
    h("summary", null, t("Readings as taken: {n}", { n: readings.length })),
    readings.length ? h("ul", null, ...readings.map((/** @type {any} */ one) => reading(desk, one)))
      : h("p", { class: "empty" }, t("Every reading is kept as it was taken, with who took it and when.")),
  ));
}

/**
 * @param {import("./desk.js").Desk} desk
 * @param {any} one
 */
function reading(desk, one) {
  const name = pathName(`${one.end}.${one.quantity}`);
  const { text, unit } = inUnit(one.value, one.quantity.endsWith("_kg") ? "mass" : "length");
  const counts = one.struck ? t("struck") : one.counts ? t("counts") : t("read again since");
  const from = [t("{origin}, taken by {who}, {when}", { origin: t(one.origin), who: one.taken_by_name, when: moment(one.taken_at) }), one.instrument].filter(Boolean);
  return h(
    "li", { class: one.counts ? "" : "is-past" },
    h("button", { type: "button", id: `reading-${one.id}`, class: "plain", onclick: () => tellWhere(name, from) }, `${name}: ${text} ${unit}`),
    h("span", null, counts),
    one.struck || !desk.open ? null : h("button", {
      type: "button", class: "quiet-button",
      onclick: () => desk.act(t("strike {name}", { name }), () => api.post(`${desk.path}readings/${one.id}/strike/`, {}), {
        back: () => () => api.post(`${desk.path}readings/`, { readings: [{
          stage: one.stage, end: one.end, quantity: one.quantity, value: one.value, instrument: one.instrument, origin: one.origin,
        }] }),
      }),
    }, t("Strike"), h("span", { class: "quiet" }, ` ${name} ${text}`)),
  );
}
