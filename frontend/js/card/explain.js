// @ts-check
/** A draft of what the rider is told: plain words made from the card's own numbers, to be edited. */
import { show } from "../units.js";
import { endsOf } from "./ends.js";
import { rateText } from "./ranking.js";
import { t } from "../words.js";
import { ENDS_WITHIN } from "./words.js";

/**
 * @param {import("./desk.js").Desk} desk
 * @returns {string}
 */
export function explanation(desk) {
  const { card } = desk;
  const start = card.complaint ? t("You told us: {complaint}.", { complaint: card.complaint.trim().replace(/[.\s]*$/, "") }) : "";
  return [start, ...endsOf(card).map((end) => endWords(desk, end))].filter(Boolean).join("\n\n");
}

/**
 * @param {import("./desk.js").Desk} desk
 * @param {"front"|"rear"} end
 */
function endWords(desk, end) {
  const { settings, sag, targets } = desk.card;
  const sides = desk.sides ?? {};
  const received = settings.received?.[end]?.body;
  const built = settings.built?.[end]?.body;
  if (!built) return "";
  const [before, after] = riderSags(sag, sides, end);
  return [
    springWords(end, carrier(end, received), carrier(end, built), sides),
    sagWords(end, before, after, targets?.[end]?.rider_sag_mm),
  ].filter(Boolean).join(" ");
}

/**
 * The rider sag before and after, both measured where both were, else both computed.
 * @param {any} sag
 * @param {any} sides
 * @param {string} end
 */
function riderSags(sag, sides, end) {
  const measured = [sag?.received?.[end]?.rider_sag_mm, sag?.built?.[end]?.rider_sag_mm];
  const computed = [sides.received?.[end]?.result?.rider_sag_mm, sides.built?.[end]?.result?.rider_sag_mm];
  if (measured.every((one) => typeof one === "number")) return measured;
  return typeof measured[1] === "number" ? [null, measured[1]] : computed;
}

/**
 * @param {string} end
 * @param {any} before
 * @param {any} after
 * @param {any} sides
 */
function springWords(end, before, after, sides) {
  if (!after?.spring) return "";
  const [overallWas, overallNow] = ["received", "built"].map((stage) => sides[stage]?.[end]?.overall_n_per_mm);
  // A tested spring whose rate has not come from the server cannot be told from another one.
  if (unrated(after.spring, overallNow) || unrated(before?.spring, overallWas)) return "";
  const now = rateText(after.spring, overallNow);
  const was = before?.spring ? rateText(before.spring, overallWas) : null;
  const preload = typeof after.preload_mm === "number" ? t(", with {preload} of preload", { preload: length(after.preload_mm) }) : "";
  const values = { now, was, preload };
  if (end === "front") {
    if (was === now) return t("The fork springs are the same ({now}){preload}.", values);
    return was ? t("The fork springs are now {now} instead of {was}{preload}.", values) : t("The fork springs are now {now}{preload}.", values);
  }
  if (was === now) return t("The shock spring is the same ({now}){preload}.", values);
  return was ? t("The shock spring is now {now} instead of {was}{preload}.", values) : t("The shock spring is now {now}{preload}.", values);
}

/**
 * @param {string} end
 * @param {number|null|undefined} before
 * @param {number|null|undefined} after
 * @param {[number, number]|undefined} band
 */
function sagWords(end, before, after, band) {
  if (typeof after !== "number") return "";
  const was = typeof before === "number" && Math.round(before) !== Math.round(after) ? t(" (it was {before})", { before: length(before) }) : "";
  const aim = band ? t("; {low} to {high} is what we aim for on this kind of bike", { low: length(band[0]), high: length(band[1]) }) : "";
  return t("With you on it, the {end} now settles by {after}{was}{aim}.", { end: ENDS_WITHIN[end], after: length(after), was, aim });
}

/** @param {any} spring @param {number|null|undefined} overall */
const unrated = (spring, overall) => spring?.kind === "tested" && typeof overall !== "number";

/**
 * The leg that carries a spring, or the shock.
 * @param {string} end
 * @param {any} body
 */
export function carrier(end, body) {
  if (!body) return null;
  return end === "rear" ? body : ((body.legs ?? []).find((/** @type {any} */ leg) => leg?.spring) ?? body.legs?.[0] ?? null);
}

/** @param {number} value */
function length(value) {
  const { unit } = show(value, "length");
  const { text } = show(value, "length", { decimals: unit === "mm" ? 0 : undefined });
  return `${text} ${unit}`;
}
