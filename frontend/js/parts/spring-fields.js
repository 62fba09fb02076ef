// @ts-check
/** The fields of one spring: its kind, and the numbers that this kind has. Deflections count from the free length. */

import { h } from "../dom.js";
import { choiceField, numberField } from "./field.js";
import { measure } from "./measure.js";

const KINDS = /** @type {const} */ ({
  straight: [["rate_n_per_mm", "Rate", "rate"]],
  dual: [["soft_n_per_mm", "Soft rate", "rate"], ["hard_n_per_mm", "Hard rate", "rate"], ["change_mm", "Rate changes at deflection", "length"]],
  progressive: [["start_n_per_mm", "Rate at the start", "rate"], ["end_n_per_mm", "Rate at the end", "rate"], ["over_mm", "Rises over deflection", "length"]],
});

const WORDS = { straight: "straight", dual: "dual rate", progressive: "progressive" };

/**
 * @param {{name: string, path?: string, place: "leg_spring" | "shock_spring", value?: any, none?: string | null,
 *          origin?: import("./field.js").Origin | null, onOrigin?: (origin: import("./field.js").Origin) => void}} options
 *   `name`: the form's; `path`: the server's, where it is another; `none`: words for "no spring here", where that is
 *   possible
 */
export function springFields({ name, path = name, place, value = null, none = null, origin, onOrigin }) {
  const step = place === "leg_spring" ? 0.1 : 1;
  /** @type {import("./field.js").Field[]} */
  const numbers = [];
  const groups = Object.entries(KINDS).map(([kind, facts]) => {
    const own = facts.map(([key, label, quantity], index) => numberField({
      name: `${name}.${kind}.${key}`, label, quantity, band: `${place}.${key}`, step: quantity === "rate" ? step : 1,
      value: value?.kind === kind ? value[key] ?? null : null,
      ...(index === 0 && origin !== undefined ? { origin, onOrigin } : {}),
    }));
    numbers.push(...own);
    return { kind, own, element: h("div", { class: "pair" }, ...own.map((field) => field.element)) };
  });
  const solid = numberField({
    name: `${name}.solid_deflection_mm`, label: "Solid at deflection", quantity: "length", band: `${place}.solid_deflection_mm`,
    value: value?.solid_deflection_mm ?? null, hint: "From free length until the turns touch, if known.",
  });
  const draw = () => {
    for (const group of groups) group.element.hidden = group.kind !== kind.value;
    solid.element.hidden = !kind.value;
  };
  const kind = choiceField({
    name: `${name}.kind`, label: "Spring", value: value ? value.kind : none ? null : "straight",
    choices: [...Object.entries(WORDS).map(([each, text]) => ({ value: each, text })), ...(none ? [{ value: null, text: none }] : [])],
    onChange: draw,
  });
  const setKind = kind.set;
  kind.set = (next) => {
    setKind(next);
    draw();
  };
  draw();

  /** The spring as typed; null for none, undefined while its first number is blank. */
  const spring = () => {
    const group = groups.find((each) => each.kind === kind.value);
    if (!group) return null;
    const facts = Object.fromEntries(group.own.map((field) => [field.name.split(".").at(-1), field.value]));
    if (Object.values(facts).every((each) => each === null)) return undefined;
    return { kind: kind.value, ...facts, ...(solid.value === null ? {} : { solid_deflection_mm: solid.value }) };
  };

  return {
    element: h("div", null, kind.element, ...groups.map((group) => group.element), solid.element),
    fields: [kind, ...numbers, solid],
    spring,
    /** Name a problem's field as this form does: the server knows no kind in the path. @param {string} field */
    rename: (field) => {
      if (!field.startsWith(`${path}.`)) return field;
      const key = field.slice(path.length + 1);
      return key === "solid_deflection_mm" || key === "kind" ? `${name}.${key}` : `${name}.${kind.value}.${key}`;
    },
  };
}

/**
 * A spring to read: its rates, and what kind it is.
 *
 * @param {any} spring
 * @param {{fixed?: boolean}} [options]
 */
export function springText(spring, { fixed = false } = {}) {
  if (!spring) return h("span", null, "no spring");
  const rate = (/** @type {number} */ value) => measure(value, "rate", { what: "spring rate,", fixed });
  const plain = (/** @type {number} */ value) => measure(value, "rate", { fixed: true });
  if (spring.kind === "straight") return h("span", null, rate(spring.rate_n_per_mm));
  const [first, last] = spring.kind === "dual" ? [spring.soft_n_per_mm, spring.hard_n_per_mm] : [spring.start_n_per_mm, spring.end_n_per_mm];
  return h("span", null, plain(first), " to ", rate(last), ` ${WORDS[/** @type {"dual"} */ (spring.kind)] ?? spring.kind}`);
}
