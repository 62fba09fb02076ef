// @ts-check
/** What earlier sealed cards of this model showed of computed sags: told, offered, never applied in silence. */
import * as api from "../api.js";
import { h, replace } from "../dom.js";
import { during } from "../parts/busy.js";
import { show, unitOf } from "../units.js";
import { keepFocus } from "./paint.js";

/** Ways to say which sag. @type {["rider"|"static", string][]} */
const SAGS = [["rider", "with the rider"], ["static", "alone"]];

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
    return [h("p", null, `Computed sags at the ${end} are corrected by ${parts.join(", ")}: ${cards(taken.cards)} of this model.`),
      desk.open ? act(desk, `leave-out-${end}`, "Leave it out", `leave the correction of the ${end} out`, `${desk.path}corrections/withdraw/`, { end }) : null];
  }
  if (!found || !desk.open) return [];
  const said = SAGS.filter(([sag]) => found[sag]).map(([sag, who], place) => `${apart(found[sag], place === 0)} ${who}${spread(found[sag])}`);
  const text = `On ${cards(found.cards)} of this model the ${end} sat ${said.join(" and ")}.`;
  if (!found.offered) return [h("p", null, `${text} Too few to go by.`)];
  const doubt = SAGS.some(([sag]) => !found[sag].sure) ? ` The mean is good to ± ${length(Math.max(...SAGS.map(([sag]) => found[sag].expanded_mm)))} (95 %), so part of it may be chance.` : "";
  return [h("p", null, `${text}${doubt} Take it into account?`),
    act(desk, `take-in-${end}`, "Take it into account", `correct the computed sags of the ${end}`, `${desk.path}corrections/`, { end, cards: found.cards })];
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
const cards = (count) => `${count} sealed ${count === 1 ? "card" : "cards"}`;

/** @param {{mean_mm: number}} bias @param {boolean} first whether it is the first said, which says than what */
function apart({ mean_mm: mean }, first) {
  const size = length(Math.abs(mean));
  return Math.abs(mean) < 0.05 ? "as computed" : `${size} ${mean > 0 ? "lower" : "higher"}${first ? " than computed" : ""}`;
}

/** @param {{spread_mm: number | null}} bias */
const spread = ({ spread_mm: value }) => (value === null ? "" : ` (spread ${length(value)})`);

/** @param {number} value @param {boolean} [sign] */
function length(value, sign = false) {
  const { text, unit } = show(value, "length", { decimals: unitOf("length") === "mm" ? 1 : undefined, sign });
  return `${text} ${unit}`;
}
