// @ts-check
/** What earlier sealed cards of this model showed of computed sags: told, offered, never applied in silence. */
import * as api from "../api.js";
import { h, replace } from "../dom.js";
import { during } from "../parts/busy.js";
import { unitOf, withUnit } from "../units.js";
import { keepFocus } from "./paint.js";
import { t, tn } from "../words.js";
import { ENDS_WITHIN } from "./words.js";

/** Ways to say which sag. @type {["rider"|"static", string][]} */
const SAGS = [["rider", t("with the rider")], ["static", t("alone")]];

/**
 * The sentence of one end, with its button.
 * @param {import("./desk.js").Desk} desk
 * @param {"front"|"rear"} end
 */
export function learnedLine(desk, end) {
  const node = h("div", { class: "learned" });
  /** @type {any} */
  let answer = null;
  let asked = "";
  let drawn = "";

  const draw = () => {
    const now = JSON.stringify([answer, desk.card.corrections?.[end], desk.open, unitOf("length")]);
    if (now === drawn) return;
    drawn = now;
    keepFocus(node, () => replace(node, ...lines(desk, end, answer?.[end] ?? null)));
  };
  const sync = async () => {
    draw();
    const now = `${desk.card.bike?.make} ${desk.card.bike?.model}`;
    if (asked === now || !desk.card.bike) return;
    asked = now;
    try {
      answer = await api.get(`${desk.path}learned/`);
      draw();
    } catch (error) {
      // Without a network nothing is offered; it is asked again when the card has news.
      asked = "";
      if (!(error instanceof api.Offline || error instanceof api.Refused)) throw error;
    }
  };
  void sync();
  return { node, sync: () => void sync() };
}

/**
 * @param {import("./desk.js").Desk} desk
 * @param {"front"|"rear"} end
 * @param {any} found
 */
function lines(desk, end, found) {
  const taken = desk.card.corrections?.[end];
  if (taken) {
    const parts = SAGS.map(([sag, who]) => `${length(taken[`${sag}_mm`], true)} ${who}`);
    return [h("p", null, t("Computed sags at the {end} are corrected by {parts}: {cards} of this model.", { end: ENDS_WITHIN[end], parts: parts.join(", "), cards: cards(taken.cards) })),
      desk.open ? act(desk, `leave-out-${end}`, t("Leave it out"), t("leave the correction of the {end} out", { end: ENDS_WITHIN[end] }), `${desk.path}corrections/withdraw/`, { end }) : null];
  }
  if (!found || !desk.open) return [];
  const said = SAGS.filter(([sag]) => found[sag]).map(([sag, who], place) => `${apart(found[sag], place === 0)} ${who}${spread(found[sag])}`);
  const text = t("On {cards} of this model the {end} sat {said}.", { cards: cards(found.cards), end: ENDS_WITHIN[end], said: said.join(` ${t("and")} `) });
  if (!found.offered) return [h("p", null, `${text} ${t("Too few to go by.")}`)];
  const doubt = SAGS.some(([sag]) => !found[sag].sure) ? t("The mean is good to ± {length} (95 %), so part of it may be chance.", { length: length(Math.max(...SAGS.map(([sag]) => found[sag].expanded_mm))) }) : "";
  return [h("p", null, [text, doubt, t("Take it into account?")].filter(Boolean).join(" ")),
    act(desk, `take-in-${end}`, t("Take it into account"), t("correct the computed sags of the {end}", { end: ENDS_WITHIN[end] }), `${desk.path}corrections/`, { end, cards: found.cards })];
}

/**
 * @param {import("./desk.js").Desk} desk @param {string} id @param {string} text @param {string} what
 * @param {string} path @param {any} body
 */
function act(desk, id, text, what, path, body) {
  const button = h("button", { type: "button", id, onclick: () => during(button, () => desk.act(what, () => api.post(path, body))) }, text);
  return button;
}

/** @param {number} count */
const cards = (count) => tn(count, "{n} sealed card", "{n} sealed cards");

/** @param {{mean_mm: number}} bias @param {boolean} first whether it is the first said, which says than what */
function apart({ mean_mm: mean }, first) {
  const size = length(Math.abs(mean));
  if (Math.abs(mean) < 0.05) return t("as computed");
  if (mean > 0) return first ? t("{size} lower than computed", { size }) : t("{size} lower", { size });
  return first ? t("{size} higher than computed", { size }) : t("{size} higher", { size });
}

/** @param {{spread_mm: number | null}} bias */
const spread = ({ spread_mm: value }) => (value === null ? "" : t(" (spread {size})", { size: length(value) }));

/** @param {number} value @param {boolean} [sign] */
const length = (value, sign = false) => withUnit(value, "length", { sign });
