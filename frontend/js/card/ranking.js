// @ts-check
/** The shop's list, ranked for this rider; touching a spring fits it. */
import * as api from "../api.js";
import { h, replace } from "../dom.js";
import { during } from "../parts/busy.js";
import { halves, inUnit, unitOf, withUnit } from "../units.js";
import { keepFocus } from "./paint.js";
import { between } from "./sureness.js";
import { tellWhere } from "./where.js";
import { springKind } from "./words.js";
import { t, within } from "../words.js";

const FIRST = 4;
/** @type {Record<string, string>} */
const VERDICTS = { suits: t("suits"), too_soft: t("too soft"), too_stiff: t("too stiff"), cannot_reach: t("cannot be set"), binds: t("binds") };

/**
 * @param {import("../screens/card.js").Bench} bench
 * @param {"front"|"rear"} end
 */
export function ranking(bench, end) {
  const { desk } = bench;
  const node = h("section", { class: "ranking", "aria-label": t("Springs of this shop, ranked") });
  /** @type {any} */
  let answer = null;
  let basis = "";
  let drawn = "";
  let all = false;
  let awake = false;

  const load = async () => {
    const now = basisOf(desk.card, end);
    if (!awake || now === basis) return;
    basis = now;
    try {
      answer = await api.post(`${desk.path}choose/`, { end });
    } catch (error) {
      basis = "";
      if (error instanceof api.Offline) answer = answer ?? { missing: [t("the network, to rank the shop's list")] };
      else if (error instanceof api.Refused) answer = { problems: error.problems };
      else throw error;
    }
    draw();
  };
  const fittedState = () => JSON.stringify([desk.card.settings.chosen?.[end]?.version, desk.sure?.received?.[end]?.computed?.rate_n_per_mm, desk.open, unitOf("rate"), unitOf("length")]);
  const draw = () => {
    drawn = fittedState();
    keepFocus(node, () => replace(node, h("h3", null, t("The shop's springs, best first")), ...body()));
  };

  function body() {
    if (!answer) return [h("p", { class: "empty" }, t("The shop's list is being ranked."))];
    const problems = [...(answer.problems ?? []).map((/** @type {any} */ one) => one.text)];
    const missing = (answer.missing ?? []).map((/** @type {string} */ one) => t("Still needed: {what}.", { what: one }));
    const ranked = answer.ranked ?? [];
    return [
      needed(answer.needed, end, desk.sure?.received?.[end]?.computed),
      ...[...problems, ...missing].map((text) => h("p", { class: "lack" }, text)),
      ranked.length ? h("ol", { class: "springs" }, ...ranked.filter(shown).map(spring))
        : problems.length || missing.length ? null : h("p", { class: "empty" }, t("No spring on the shop's list for this end. The list is kept under Springs.")),
      ranked.length > FIRST ? h("button", {
        type: "button", id: `all-springs-${end}`, onclick: () => {
          all = !all;
          draw();
        },
      }, all ? t("Only the first") : t("All {n} springs", { n: ranked.length })) : null,
      ...(answer.notes ?? []).map((/** @type {any} */ note) => h("p", { class: "aside" }, note.text)),
    ];
  }

  /** The first few, and the one that is chosen. @param {any} one @param {number} place */
  const shown = (one, place) => all || place < FIRST || isFitted(desk.card, end, one.id);

  /** @param {any} one */
  function spring(one) {
    const fitted = isFitted(desk.card, end, one.id);
    const button = h("button", {
      type: "button", id: `fit-${end}-${one.id}`, class: fitted ? "fit" : "fit main", "aria-pressed": String(fitted), disabled: !desk.open,
      onclick: () => during(button, () => desk.act(t("fit {label}", { label: one.label }), () => api.post(`${desk.path}fit/`, { end, stock_spring: one.id }), {
        back: unfit(desk, end),
      })),
    }, fitted ? t("Chosen") : t("Choose"), h("span", { class: "quiet" }, ` ${one.label}`));
    /** @type {[string, string|null][]} */
    const facts = [
      [t("Preload"), mm(halves(one.preload_mm), 1)], [t("Rider sag"), mm(one.rider_sag_mm)], [t("Static sag"), mm(one.static_sag_mm)],
      ...(end === "front" ? /** @type {[string, string|null][]} */ ([[t("Air gap"), mm(one.air_gap_mm)], [t("Spacer"), mm(one.spacer_mm, 1)]]) : []),
      [t("Clear of coil bind"), mm(one.solid_clearance_mm)], [t("Chance it suits"), percent(one.probability)], [t("In stock"), String(one.stock ?? "–")],
    ];
    const unknown = facts.filter(([, value]) => value === null).map(([name]) => within(name));
    return h(
      "li", { class: "spring-row", "data-verdict": one.verdict },
      h("div", { class: "spring-name" }, h("b", null, rateText(one.spring, one.overall_n_per_mm)), h("span", null, `${one.label}${one.code ? ` · ${one.code}` : ""}`),
        one.fits === false ? h("span", { class: "misfit" }, t("does not fit by its size")) : null),
      h("p", { class: "spring-verdict" }, ...spoken(one)),
      h("dl", null, ...facts.filter(([, value]) => value !== null).map(([name, value]) => h("div", null, h("dt", null, name), h("dd", null, value)))),
      unknown.length ? h("p", { class: "lines-note" }, t("Not known from the list: {what}.", { what: unknown.join(", ") })) : null,
      h("div", { class: "spring-acts" }, button, h("button", {
        type: "button", class: "plain", onclick: () => tellWhere(t("{label}: where from?", { label: one.label }), provenance(one)),
      }, t("Where from"), h("span", { class: "quiet" }, `: ${one.label}`))),
    );
  }
  return {
    node,
    wake: () => {
      awake = true;
      draw();
      void load();
    },
    sync: () => {
      if (fittedState() !== drawn) draw();
      void load();
    },
  };
}

/**
 * What a ranking rests on; anything else on the card may change without asking again.
 * @param {any} card
 * @param {string} end
 */
function basisOf(card, end) {
  const counting = card.readings.filter((/** @type {any} */ one) => one.counts).map((/** @type {any} */ one) => [one.id, one.value]);
  return JSON.stringify([counting, card.targets?.[end], card.settings.received?.[end]?.version, card.rider?.mass_in_kit_kg, card.altitude_m, card.corrections?.[end]]);
}

/**
 * How to take a fitting back: what was chosen before goes back.
 * @param {import("./desk.js").Desk} desk
 * @param {string} end
 */
function unfit(desk, end) {
  const before = desk.card.settings.chosen?.[end]?.body ?? desk.card.settings.received?.[end]?.body;
  return () => () => api.put(`${desk.path}settings/chosen/${end}/`, before, { version: desk.card.settings.chosen[end].version });
}

/**
 * @param {any} card
 * @param {string} end
 * @param {any} id
 */
function isFitted(card, end, id) {
  const body = card.settings.chosen?.[end]?.body;
  const holders = end === "front" ? (body?.legs ?? []) : body ? [body] : [];
  return holders.some((/** @type {any} */ holder) => holder.stock_spring === id);
}

/**
 * @param {any} needed
 * @param {string} end
 * @param {any} sure
 */
function needed(needed, end, sure) {
  if (!needed) return null;
  const line = (/** @type {any} */ one) => {
    const values = { rate: rate(one.rate_n_per_mm), preload: mm(halves(one.preload_mm), 1) };
    return end === "front" ? t("{rate} per leg with {preload} of preload", values) : t("{rate} per shock with {preload} of preload", values);
  };
  if (needed.feasible) return h("p", { class: "needed" }, t("Needed:"), " ", h("b", null, line(needed)), sure?.rate_n_per_mm ? ` (${between(sure.rate_n_per_mm, "rate")})` : null);
  return h("p", { class: "needed" }, `${needed.why} `, needed.nearest ? h("b", null, t("Nearest: {what}.", { what: line(needed.nearest) })) : null);
}

/** The verdict in bold, then why; where the sentence opens with the verdict, once is enough. @param {any} one */
function spoken({ verdict, text = "" }) {
  const name = VERDICTS[verdict] ?? verdict;
  const [head, ...rest] = text.split(":");
  if (head.toLowerCase() === name.toLowerCase()) return [h("b", null, `${head}:`), rest.join(":")];
  return [h("b", null, name), text ? ` – ${text}` : ""];
}

/** @param {any} one */
function provenance(one) {
  return [
    t("Rate and sizes: the shop's spring list, as stamped."),
    one.batch ? t("Batch {batch}.", { batch: one.batch }) : t("No batch noted."),
    one.free_length_mm ? t("Free length {length}.", { length: mm(one.free_length_mm) }) : t("Free length not known, so no spacer can be given."),
    t("Sags, preload and clearance are computed from the bike's data and the loads. The chance counts how often both sags fall within the aim when loads, rate and friction are off by as much as they may be."),
  ];
}

/** @param {number|null|undefined} value @param {number} [decimals] */
function mm(value, decimals = 0) {
  if (value === null || value === undefined) return null;
  return withUnit(value, "length", { decimals: unitOf("length") === "mm" ? decimals : 2 });
}

/** @param {number|null|undefined} value */
const rate = (value) => withUnit(value, "rate");

/** @param {number|null|undefined} value */
const percent = (value) => (value === null || value === undefined ? null : `${Math.round(value * 100)} %`);

/**
 * @param {any} spring
 * @param {number|null|undefined} overall the server's one rate for a tested spring
 */
export function rateText(spring, overall) {
  if (!spring) return t("empty leg");
  if (spring.kind === "dual") return t("{soft} to {hard} dual", { soft: inUnit(spring.soft_n_per_mm, "rate").text, hard: rate(spring.hard_n_per_mm) });
  if (spring.kind === "progressive") return t("{start} to {end} progressive", { start: inUnit(spring.start_n_per_mm, "rate").text, end: rate(spring.end_n_per_mm) });
  if (spring.kind === "straight") return rate(spring.rate_n_per_mm);
  if (spring.kind === "tested" && typeof overall === "number") return t("tested {overall}", { overall: rate(overall) });
  return springKind(spring);
}
