// @ts-check
/** The end in sight: one sentence of verdict, the sags as large numerals, the picture, and the evidence folded under. */
import { h, replace, write } from "../dom.js";
import { picture } from "../parts/picture.js";
import { free, tellStill } from "../parts/still.js";
import { inUnit, spread, tape, unitOf, withUnit } from "../units.js";
import { keepFocus } from "./paint.js";
import { between } from "./sureness.js";
import { END_NAMES, STAGE_NAMES } from "./words.js";
import { figure } from "./where.js";
import { t } from "../words.js";

/**
 * @typedef {{
 *   side: any, stage: string, sag?: any, sure?: any, targets: any, loads: any, fresh: boolean, why?: string, problems?: any[],
 *   beside?: {label: string, side: any}[], trying?: ReturnType<typeof import("./trial.js").trial>, also?: {label: string, side: any, sag?: any},
 * }} Sight what one end shows: a SIDE, which stage it is of, the sag that was read (instead of the computed one), and
 *   whether it still answers what stands in the fields; `beside`: what is drawn beside it; `trying`: what can be dragged on its picture
 */

/** One end of the bike in sight. @param {string} end */
export function panel(end) {
  const words = h("span", { class: "verdict-words" });
  const verdict = h("p", { class: "verdict" }, words);
  const figures = h("div", { class: "figures" });
  const drawn = picture({ label: t("{end}: force over travel", { end: END_NAMES[end] }) });
  const evidence = h("div", { class: "evidence-lines" });
  const folded = h("details", { class: "evidence" }, h("summary", null, t("What this rests on")), evidence);
  const node = h(
    "section", { class: "panel", "aria-label": t("{end} in sight", { end: END_NAMES[end] }), "data-end": end },
    h("h2", { class: "panel-end" }, END_NAMES[end]), verdict, figures, drawn.element, folded,
  );
  let shown = "";
  let stale = false;
  // What is shown was brought about by a hand, and is none of the pictures drawn whole.
  let followed = false;
  let numerals = "";
  /** The sags that a hand changes. @type {{kind: string, numeral: Element, box: HTMLElement}[]} */
  let sags = [];

  /** @param {Sight} sight */
  function paint(sight) {
    const { side, fresh, why, problems = [] } = sight;
    const text = verdictText(sight);
    if (!sight.trying?.trying()) for (const box of [words, ...sags.map((sag) => sag.box)]) free(box);
    node.classList.remove("is-tried");
    if (words.textContent !== text) {
      free(words);
      replace(words, ...asElements(headAndReason(text)));
    }
    verdict.dataset.code = fresh ? (side?.verdict?.code ?? "unknown") : "unknown";
    node.classList.toggle("is-stale", !fresh);
    drawNumerals(sight);
    const svg = side?.picture ?? null;
    // With problems there is no new picture: the last one stays, marked.
    if (svg && (svg !== shown || followed || (fresh && stale))) {
      shown = svg;
      followed = false;
      drawn.show(svg, readable(sight));
    }
    stale = !fresh;
    if (stale && shown) drawn.stale(problems.length ? t("not recalculated") : (why ?? t("not recalculated")));
    node.classList.toggle("has-picture", Boolean(shown));
    const { trying } = sight;
    if (trying) drawn.handles.show(trying.knobs(), trying);
    drawn.handles.node.hidden = !trying || !shown;
    keepFocus(evidence, () => replace(evidence, ...evidenceLines(sight, problems)));
    folded.hidden = !evidence.childElementCount;
  }

  /** Redraw the sags where they are told otherwise: a finger may lie on one. @param {Sight} sight */
  function drawNumerals(sight) {
    const told = sagFigures(end, sight);
    const next = JSON.stringify([unitOf("length"), told]);
    if (next === numerals) return;
    numerals = next;
    keepFocus(figures, () => replace(figures, ...told.map((one) => (typeof one === "string" ? h("p", { class: "lacks" }, one) : figure(one)))));
    sags = ["rider", "static"].flatMap((kind) => {
      const box = /** @type {HTMLElement | null} */ (figures.querySelector(`[id^="sag-${end}-${kind}"] .figure-words`));
      return box ? [{ kind, numeral: /** @type {Element} */ (box.querySelector("b")), box }] : [];
    });
  }

  /**
   * Follow the hand: only what a drag changes, many times a second.
   * @param {any} side
   * @param {string} picture the one that the side's changes are of
   * @param {{tried?: boolean}} [how] `tried`: a hand has changed something, so that it is not known how sure the sags are
   */
  function follow(side, picture, { tried = true } = {}) {
    if (tried && !node.classList.contains("is-tried")) node.classList.add("is-tried");
    const said = headAndReason(side.verdict.text);
    const sentence = () => {
      if (said.length === words.childElementCount) said.forEach((part, index) => write(words.children[index], part));
      else replace(words, ...asElements(said));
    };
    tellStill([
      { box: words, now: words.textContent ?? "", next: side.verdict.text, write: sentence },
      ...sags.map(({ kind, numeral, box }) => {
        const { text } = inUnit(side.result[`${kind}_sag_mm`], "length", tape());
        return { box, now: numeral.textContent ?? "", next: text, write: () => write(numeral, text) };
      }),
    ]);
    if (verdict.dataset.code !== side.verdict.code) verdict.dataset.code = side.verdict.code;
    followed = true;
    numerals = "";
    shown = picture;
    drawn.follow(side.picture ?? picture, side.changes ?? {}, [{ label: "", curve: side.result.curve }]);
  }
  return { node, paint, follow };
}

/** @param {Sight} sight */
function readable({ side, stage, beside = [] }) {
  const traces = [{ label: STAGE_NAMES[stage], side }, ...beside];
  return traces.filter((one) => one.side?.result).map((one) => ({ label: one.label, curve: one.side.result.curve }));
}

/** @param {Sight} sight */
function verdictText({ side, fresh, problems = [], why }) {
  if (problems.length) return problems[0].text;
  if (!fresh) return why ?? t("Not recalculated.");
  if (side?.verdict && side.verdict.code !== "unknown") return side.verdict.text;
  if (side?.problems?.length) return side.problems[0].text;
  if (side?.verdict) return side.verdict.text;
  return t("No verdict yet.");
}

/**
 * What is so, and why it is so.
 * @param {string} text
 */
function headAndReason(text) {
  const [, head, reason] = /^([^:]*:)(.*)$/s.exec(text) ?? [];
  return head ? [head, reason] : [text];
}

/**
 * The head stands out, the reason is read closer. One sentence all the same.
 * @param {string[]} said
 */
const asElements = ([head, ...reason]) => [h("b", null, head), ...reason.map((one) => h("span", null, one))];

/**
 * Both sags, or in a sentence what would give them.
 * @param {string} end
 * @param {Sight} sight
 * @returns {(import("./where.js").Figure | string)[]}
 */
function sagFigures(end, sight) {
  const { sag, side, targets } = sight;
  if (!side?.result && !sag) return [lacks(sight)];
  return ["rider", "static"].map((kind) => {
    const measured = sag?.[`${kind}_sag_mm`];
    const computed = side?.result?.[`${kind}_sag_mm`];
    const value = measured ?? computed;
    const band = targets?.[`${kind}_sag_mm`];
    const friction = sag?.[`${kind}_band_mm`];
    const learned = (measured ?? null) === null && corrections(side).length ? `, ${t("corrected")}` : "";
    const aim = (band ? t("aim {band}", { band: spread(band) }) : t("no aim set")) + learned;
    const width = measured !== null && measured !== undefined && friction ? `± ${inUnit(friction, "length", tape()).text}` : "";
    return {
      id: `sag-${end}-${kind}-${sight.stage}`, label: kind === "rider" ? t("Rider sag") : t("Static sag"), value,
      quantity: "length", ...tape(), width, more: aim, big: true,
      spread: intervalOf(kind, sight, measured ?? null),
      from: sagFrom(kind, sight, measured ?? null, friction, value),
    };
  });
}

/**
 * The interval of a sag; until it is known its line is kept free, so that nothing jumps.
 * @param {string} kind
 * @param {Sight} sight
 * @param {number|null} measured
 */
function intervalOf(kind, { fresh, sure }, measured) {
  const known = fresh && sure?.[measured === null ? "computed" : "measured"]?.[`${kind}_sag_mm`];
  return known ? between(known, "length") : "\u00a0";
}

/**
 * With no sag at all: what would give the first answer.
 * @param {Sight} sight
 */
function lacks({ side, targets }) {
  const missing = side?.missing ?? [];
  const aim = targets ? t("Aim: rider sag {rider}, static sag {static}.", { rider: spread(targets.rider_sag_mm), static: spread(targets.static_sag_mm) }) : "";
  const text = missing.length ? t("For the picture: {what}.", { what: missing.join("; ") }) : "";
  return [aim, text].filter(Boolean).join(" ");
}

/**
 * @param {string} kind
 * @param {Sight} sight
 * @param {number|null} measured
 * @param {number|null|undefined} friction
 * @param {number|null|undefined} value
 */
function sagFrom(kind, sight, measured, friction, value) {
  if (value === null || value === undefined) return [t("Not known yet."), ...(sight.side?.missing ?? []).map(missingLine)];
  const axis = t("Front sag is read along the fork, rear sag vertically at the axle.");
  if (measured === null) {
    const load = sight.loads ? t(" Loads: {from}.", { from: sight.loads.from }) : "";
    return [t("Computed from springs, preload, air and loads ({stage}), friction apart.", { stage: STAGE_NAMES[sight.stage] }) + load, ...corrections(sight.side), axis];
  }
  const lines = [t("Measured: the wheel-free length less the mean of the two readings, from above and from below."), axis];
  if (friction) lines.push(t("Friction holds it anywhere within ± {friction}: half the gap of the pair.", { friction: withUnit(friction, "length") }));
  const u = sight.sag?.[`${kind}_u_mm`];
  if (u) lines.push(t("Standard uncertainty {u}.", { u: withUnit(u, "length") }));
  return lines;
}

/** What earlier cards of the model corrected the computed sags by, in words. @param {any} side @returns {string[]} */
const corrections = (side) => (side?.result?.notes ?? [])
  .filter((/** @type {any} */ note) => note.code === "sag_corrected").map((/** @type {any} */ note) => note.text);

/** @param {string} missing */
const missingLine = (missing) => t("Still needed: {missing}.", { missing });

/**
 * @param {Sight} sight
 * @param {any[]} problems
 */
function evidenceLines(sight, problems) {
  const { side, loads, sag, also, sure, fresh } = sight;
  const result = side?.result;
  const missing = result || sag ? (side?.missing ?? []).map(missingLine) : [];
  const lines = [...problems.slice(1).map((one) => one.text), ...missing];
  if (loads) lines.push(t("Axle loads: {alone} alone, {rider} with rider ({from}).", { alone: withUnit(loads.static_kg, "mass"), rider: withUnit(loads.rider_kg, "mass"), from: loads.from }));
  const facts = result ? [
    [t("Breakaway load"), result.breakaway_n, "force"],
    [t("Wheel rate at rider sag"), result.wheel_rate_n_per_mm, "rate"],
    [t("Frequency"), result.frequency_hz, "Hz"],
    [t("Force at full stroke, hard hit"), result.full_stroke_n, "force"],
    [t("Energy to the stop"), result.energy_to_stop_j, "J"],
    [t("Fall that just reaches the stop"), result.fall_to_stop_mm, "length"],
    [t("Clearance to coil bind"), result.solid_clearance_mm, "length"],
  ] : [];
  const notes = [...(result?.notes ?? []), ...(sag?.notes ?? [])];
  const before = also?.side?.result;
  return [
    lines.length ? h("ul", null, ...lines.map((line) => h("li", null, line))) : null,
    facts.length ? factTable(facts, result, before, also?.label) : null,
    forceTable(readable(sight)),
    fresh && sure?.computed ? h("p", null, t("Wheel rate, {spread}.", { spread: between(sure.computed.wheel_rate_n_per_mm, "rate") })) : null,
    notes.length ? h("ul", { class: "notes" }, ...notes.map((note) => h("li", null, note.text))) : null,
  ].filter(Boolean);
}

/**
 * What the picture draws, as numbers. @param {ReturnType<typeof readable>} traces
 */
function forceTable(traces) {
  if (!traces.length) return null;
  const travel = traces[0].curve.travel_mm;
  const rows = [0, 1, 2, 3, 4, 5].map((part) => Math.round((part * (travel.length - 1)) / 5));
  const cell = (/** @type {number|undefined} */ value, /** @type {string} */ quantity) =>
    (value === undefined ? "–" : withUnit(value, quantity, { decimals: unitOf(quantity) === "in" ? 1 : 0 }));
  return h(
    "table", { class: "fact-table" }, h("caption", null, t("Force at the wheel over travel")),
    h("thead", null, h("tr", null, h("th", { scope: "col" }, t("Travel")), ...traces.map(({ label }) => h("th", { scope: "col" }, label)))),
    h("tbody", null, ...rows.map((row) => h("tr", null, h("th", { scope: "row" }, cell(travel[row], "length")),
      ...traces.map(({ curve }) => h("td", null, cell(curve.total_n[row], "force")))))),
  );
}

/**
 * @param {any[][]} facts
 * @param {any} result
 * @param {any} before
 * @param {string|undefined} label
 */
function factTable(facts, result, before, label) {
  const keys = ["breakaway_n", "wheel_rate_n_per_mm", "frequency_hz", "full_stroke_n", "energy_to_stop_j", "fall_to_stop_mm", "solid_clearance_mm"];
  const cell = (/** @type {any} */ value, /** @type {string} */ quantity) =>
    h("td", null, value === null || value === undefined ? t("not known") : withUnit(value, quantity, { decimals: quantity === "J" ? 0 : undefined }));
  return h(
    "table", { class: "fact-table" },
    before ? h("thead", null, h("tr", null, h("td"), h("th", { scope: "col" }, t("here")), h("th", { scope: "col" }, label ?? ""))) : null,
    h("tbody", null, ...facts.map(([name, , quantity], index) => h(
      "tr", null, h("th", { scope: "row" }, name), cell(result[keys[index]], quantity),
      before ? cell(before[keys[index]], quantity) : null,
    ))),
  );
}
