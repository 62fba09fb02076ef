// @ts-check
/** Measured again: the readings as built, and what was predicted against them. */
import { h, replace } from "../dom.js";
import { inUnit, tape, unitOf, withUnit } from "../units.js";
import { endsOf } from "./ends.js";
import { measuring } from "./measured.js";
import { END_NAMES } from "./words.js";
import { t } from "../words.js";

/** @param {import("../screens/card.js").Bench} bench @returns {import("../screens/card.js").StepView} */
export function open(bench) {
  const step = measuring(bench, "built", "remeasured");
  const table = h("div", { class: "compared" });
  const draw = () => replace(table, compared(bench.desk));
  draw();
  step.node.insertBefore(table, step.node.querySelector(".folds"));
  return {
    ...step,
    news: (news) => {
      step.news(news);
      draw();
    },
  };
}

/** @param {import("./desk.js").Desk} desk */
function compared(desk) {
  const rows = endsOf(desk.card).flatMap((end) => ["rider", "static"].map((kind) => {
    const predicted = desk.sides?.built?.[end]?.result?.[`${kind}_sag_mm`] ?? desk.sides?.chosen?.[end]?.result?.[`${kind}_sag_mm`] ?? null;
    const sag = desk.card.sag?.built?.[end];
    const measured = sag?.[`${kind}_sag_mm`] ?? null;
    const friction = sag?.[`${kind}_band_mm`] ?? null;
    return h("tr", null, h("th", { scope: "row" }, `${END_NAMES[end]}, ${kind === "rider" ? t("rider sag") : t("static sag")}`), h("td", null, mm(predicted)),
      h("td", null, mm(measured)), h("td", null, gap(predicted, measured, friction)));
  }));
  return h("table", { class: "fact-table" },
    h("caption", null, t("Predicted against measured")),
    h("thead", null, h("tr", null, h("td"), ...[t("predicted"), t("measured"), t("difference")].map((name) => h("th", { scope: "col" }, name)))),
    h("tbody", null, ...rows));
}

/** @param {number|null} value */
const mm = (value) => (value === null ? "–" : withUnit(value, "length", tape()));

/**
 * @param {number|null} predicted
 * @param {number|null} measured
 * @param {number|null} friction
 */
function gap(predicted, measured, friction) {
  if (predicted === null || measured === null) return "–";
  // The difference of what is read above it.
  const apart = unitOf("length") === "mm" ? Math.round(measured) - Math.round(predicted) : measured - predicted;
  const { text, unit } = inUnit(apart, "length", { ...tape(), sign: true });
  const within = friction !== null && Math.abs(measured - predicted) <= friction;
  return `${text} ${unit}${within ? `, ${t("within the friction band")}` : ""}`;
}
