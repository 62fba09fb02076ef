// @ts-check
/** The sag bands aimed at: the kind of bike's own, or this job's. */
import { h } from "../dom.js";
import { numberField } from "../parts/field.js";
import { spread } from "../units.js";
import { fieldsSheet } from "./sheets.js";
import { t } from "../words.js";

/**
 * @param {import("./desk.js").Desk} desk
 * @param {"front"|"rear"} end
 */
export function aimForm(desk, end) {
  const sheet = fieldsSheet(desk);
  const line = h("summary");
  const source = h("p", { class: "aside" });
  /** @param {"rider_sag_mm"|"static_sag_mm"} kind @param {0|1} index @param {string} label */
  const edge = (kind, index, label) => {
    const field = numberField({
      name: `aim.${end}.${kind}.${index}`, label, quantity: "length", step: 1, value: bands()?.[kind]?.[index] ?? null,
      onChange: (value) => {
        const next = structuredClone(bands() ?? { rider_sag_mm: [null, null], static_sag_mm: [null, null] });
        next[kind][index] = value;
        sheet.set(`targets.${end}`, null, complete(next) ? { value: next } : {});
      },
    });
    field.element.addEventListener("change", () => void sheet.flush());
    return field.element;
  };
  const bands = () => sheet.entries[`targets.${end}`]?.value ?? desk.card.targets?.[end];
  const sync = () => {
    const own = bands();
    const text = own ? t("Aim: rider sag {rider}, static sag {static}", { rider: spread(own.rider_sag_mm), static: spread(own.static_sag_mm) }) : t("Aim: no sag bands yet. Without them nothing can be ranked.");
    if (line.textContent !== text) line.textContent = text;
    const here = t("set here");
    const from = own ? t("From: {source}.", { source: desk.card.targets?.source ?? here }) : "";
    if (source.textContent !== from) source.textContent = from;
  };
  const node = h(
    "details", { class: "aim" }, line, source,
    h("div", { class: "group-fields" },
      edge("rider_sag_mm", 0, t("Rider sag from")), edge("rider_sag_mm", 1, t("Rider sag to")),
      edge("static_sag_mm", 0, t("Static sag from")), edge("static_sag_mm", 1, t("Static sag to"))),
  );
  sync();
  return { node, sync };
}

/** @param {any} bands */
function complete(bands) {
  return ["rider_sag_mm", "static_sag_mm"].every((kind) => {
    const [low, high] = bands[kind];
    return typeof low === "number" && typeof high === "number" && low <= high;
  });
}
