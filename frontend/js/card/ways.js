// @ts-check
/** The axle loads three ways, folded under the readings: one sentence first, then each way, and what would explain a difference. */
import * as api from "../api.js";
import { h, replace } from "../dom.js";
import { inUnit } from "../units.js";
import { keepFocus } from "./paint.js";
import { ENDS_WITHIN, END_NAMES } from "./words.js";
import { t } from "../words.js";

const NAMES = /** @type {Record<string, string>} */ ({ scales: t("Axle scales"), rider: t("Rider’s mass and share"), sags: t("Sags and known springs") });

/**
 * @param {import("../screens/card.js").Bench} bench
 * @param {"received"|"built"} stage
 * @param {("front"|"rear")[]} ends
 */
export function threeWays({ desk }, stage, ends) {
  const node = h("details", { class: "ways", ontoggle: () => draw() }, h("summary", null, t("Axle loads")));
  const places = Object.fromEntries(ends.map((end) => [end, h("section", { class: "group" })]));
  node.append(...Object.values(places));
  /** @type {Record<string, number>} what of the rider is on this axle, where somebody said so */
  const shares = {};
  let asked = 0;

  async function draw() {
    if (!node.open) return;
    const mine = ++asked;
    for (const end of ends) {
      try {
        const found = await api.post(`${desk.path}loads/`, { stage, end, ...said(end) });
        if (mine !== asked) return;
        keepFocus(places[end], () => replace(places[end], h("h3", null, END_NAMES[end]), ...words(end, found)));
      } catch (error) {
        if (mine !== asked) return;
        if (error instanceof api.Offline) replace(places[end], h("p", null, t("No network: not told.")));
        else if (error instanceof api.Refused) replace(places[end], ...error.problems.map((each) => h("p", { class: "problem" }, each.text)));
        else throw error;
      }
    }
  }

  const said = (/** @type {string} */ end) => (shares[end] === undefined ? {} : { share: shares[end] });

  /** @param {string} end @param {any} found */
  function words(end, found) {
    const worst = found.compared.find((/** @type {any} */ each) => each.verdict === "contradict") ?? found.compared.find((/** @type {any} */ each) => each.verdict === "differ");
    const told = Object.entries(found.ways).filter(([, way]) => way);
    return [
      h("p", { class: worst?.verdict === "contradict" ? "problem" : "row-name" }, found.says),
      told.length ? h("table", { class: "band" },
        h("thead", null, h("tr", null, h("td"), h("th", { scope: "col" }, t("Bike alone")), h("th", { scope: "col" }, t("With rider")), h("td"))),
        h("tbody", null, ...told.map(([name, way]) => h("tr", null, h("th", { scope: "row" }, NAMES[name]),
          h("td", null, load(way, "static")), h("td", null, load(way, "rider")), h("td", null, take(end, name, found)))))) : null,
      told.some(([name]) => name === "rider") ? share(end) : null,
      ...(worst?.causes.length ? [h("p", { class: "row-name" }, t("What alone would explain it, the likeliest first:")),
        h("ol", null, ...worst.causes.map((/** @type {any} */ each) => h("li", null, each.text)))] : []),
      ...found.problems.map((/** @type {any} */ each) => h("p", { class: "problem" }, each.text)),
      ...found.missing.map((/** @type {string} */ each) => h("p", { class: "soft small" }, t("Not told without {what}.", { what: each }))),
      ...found.notes.map((/** @type {any} */ note) => h("p", { class: note.severity === "warning" ? "problem" : "soft small" }, note.text)),
    ];
  }

  /** Where nobody weighed, another way's loads can be taken: marked as assumed. @param {string} end @param {string} name @param {any} found */
  function take(end, name, found) {
    if (name === "scales" || found.weighed || !desk.open) return null;
    return h("button", { type: "button", id: `take-${stage}-${end}-${name}`, onclick: async () => {
      const done = await desk.act(t("take the {end} loads", { end: ENDS_WITHIN[end] }), () => api.post(`${desk.path}loads/take/`, { stage, end, way: name, ...said(end) }));
      if (done) desk.say(t("The {end} loads are taken, marked as assumed.", { end: ENDS_WITHIN[end] }));
    } }, t("Use this way"), h("span", { class: "quiet" }, `, ${END_NAMES[end]}: ${NAMES[name]}`));
  }

  /** @param {string} end */
  function share(end) {
    const percent = shares[end] === undefined ? "" : String(Math.round(shares[end] * 100));
    const input = h("input", { type: "text", inputmode: "numeric", id: `share-${stage}-${end}`, value: percent, onchange: () => {
      const value = Number(input.value.replace(",", ".")) / 100;
      if (input.value.trim() === "" || !(value > 0 && value < 1)) delete shares[end];
      else shares[end] = value;
      void draw();
    } });
    return h("div", { class: "field" }, h("div", { class: "field-head" }, h("label", { for: input.id }, t("Rider’s share on the {end} axle, %", { end: ENDS_WITHIN[end] }))), input,
      h("div", { class: "note" }, t("Blank: as usual in this trade (35 in front, 65 behind; common practice, no source).")));
  }

  return {
    node,
    news: (/** @type {string} */ news) => {
      if (news === "card" || news === "units") void draw();
    },
  };
}

/** @param {any} way @param {"static"|"rider"} state */
function load(way, state) {
  if (way[`${state}_kg`] === null) return "–";
  const { text, unit } = inUnit(way[`${state}_kg`], "mass");
  return `${text} ± ${inUnit(way[`${state}_u_kg`], "mass").text} ${unit}`;
}
