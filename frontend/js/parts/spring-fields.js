// @ts-check
/**
 * The fields of one spring: its kind, and the numbers that this kind has. Deflections count from the free length.
 *
 * @typedef {{element: HTMLElement, fields: import("./field.js").Field[], spring: () => any, rename: (field: string) => string,
 *            problem: (text: string, at: string) => void, unclear: () => boolean, text: () => string, retype: (text: string) => void}} SpringFields
 *   `spring`: as typed, null for none, undefined while its first number is blank; `problem` shows one of a path within
 *   the spring; `text` and `retype`: what stands in all of it
 */

import { h } from "../dom.js";
import { testedField, togetherField, woundField } from "./curve-fields.js";
import { choiceField, numberField } from "./field.js";
import { measure } from "./measure.js";
import { originMark } from "./origin.js";
import { t } from "../words.js";

const KINDS = /** @type {const} */ ({
  straight: [["rate_n_per_mm", t("Rate"), "rate"]],
  dual: [["soft_n_per_mm", t("Soft rate"), "rate"], ["hard_n_per_mm", t("Hard rate"), "rate"], ["change_mm", t("Rate changes at deflection"), "length"]],
  progressive: [["start_n_per_mm", t("Rate at the start"), "rate"], ["end_n_per_mm", t("Rate at the end"), "rate"], ["over_mm", t("Rises over deflection"), "length"]],
});

export const SPRING_WORDS = /** @type {Record<string, string>} */ ({
  straight: t("straight"), dual: t("dual rate"), progressive: t("progressive"), tested: t("tested"), wound: t("turn by turn"), stacked: t("stacked"),
  side_by_side: t("side by side"),
});

/**
 * The field of a spring that no one rate tells.
 *
 * @param {string} kind
 * @param {import("./curve-fields.js").Options & {stamp?: number | null, actions?: HTMLElement | null}} options
 * @returns {import("./curve-fields.js").CurveField}
 */
export function curveField(kind, options) {
  if (kind === "tested") return testedField(options);
  if (kind === "wound") return woundField(options);
  return togetherField({ ...options, kind: kind === "stacked" ? kind : "side_by_side", part: springFields });
}

/** Whether a kind of spring is edited by `curveField`. @param {string | null | undefined} kind */
export const isCurve = (kind) => Boolean(kind) && !(String(kind) in KINDS) && String(kind) in SPRING_WORDS;

/**
 * @param {{name: string, path?: string, place: import("./curve-fields.js").Place, value?: any, none?: string | null, title?: string,
 *          without?: string[], origin?: import("./field.js").Origin | null, onOrigin?: (origin: import("./field.js").Origin) => void}} options
 *   `name`: the form's; `path`: the server's, where it is another; `none`: words for "no spring here", where that is
 *   possible; `without`: kinds that cannot be here
 * @returns {SpringFields}
 */
export function springFields({ name, path = name, place, value = null, none = null, title = t("Spring"), without = [], origin, onOrigin }) {
  const step = place.startsWith("leg") ? 0.1 : 1;
  const alone = place.endsWith("_part");
  const kinds = Object.keys(SPRING_WORDS).filter((kind) => !without.includes(kind) && !(alone && (kind === "stacked" || kind === "side_by_side")));
  /** @type {import("./field.js").Field[]} */
  const numbers = [];
  const groups = Object.entries(KINDS).filter(([kind]) => kinds.includes(kind)).map(([kind, facts]) => {
    const own = facts.map(([key, label, quantity], index) => numberField({
      name: `${name}.${kind}.${key}`, label, quantity, band: `${place}.${key}`, step: quantity === "rate" ? step : 1,
      value: value?.kind === kind ? value[key] ?? null : null,
      ...(index === 0 && origin !== undefined ? { origin, onOrigin } : {}),
    }));
    numbers.push(...own);
    return { kind, own, element: h("div", { class: "pair" }, ...own.map((field) => field.element)) };
  });
  // Made when they are first asked for: most springs are told by their rates.
  /** @type {Record<string, import("./curve-fields.js").CurveField>} */
  const curves = {};
  const curvePlace = h("div");
  const curve = (/** @type {string} */ which) => {
    if (!curves[which]) {
      const stamp = which === "tested" && value?.kind === "straight" ? { stamped_n_per_mm: value.rate_n_per_mm } : null;
      curves[which] = curveField(which, {
        name: `${name}.${which}`, place, value: value?.kind === which ? value : stamp,
        extra: origin === undefined ? null : h("div", { class: "field-head" }, h("span", null, t("Where it comes from")), originMark({ label: title, origin, onOrigin })),
      });
      curvePlace.append(curves[which].element);
    }
    return curves[which];
  };
  // What a form names and keeps as one field, whether or not it is shown yet.
  const stands = kinds.filter(isCurve).map((which) => /** @type {import("./field.js").Field} */ ({
    element: curvePlace,
    name: `${name}.${which}`,
    get value() { return curves[which]?.value ?? (value?.kind === which ? value : undefined); },
    set: (next) => {
      if (next || curves[which]) curve(which).set(next);
    },
    problem: (text, at) => {
      if (text !== null) curve(which).problem(text, at);
      else curves[which]?.problem(null);
    },
    focus: () => curve(which).focus(),
    unclear: () => kind.value === which && Boolean(curves[which]?.unclear()),
    text: () => curves[which]?.text?.() ?? "",
    retype: (text) => {
      if (text) curve(which).retype?.(text);
      draw();
    },
  }));
  const solid = numberField({
    name: `${name}.solid_deflection_mm`, label: t("Solid at deflection"), quantity: "length", band: `${place}.solid_deflection_mm`,
    value: value?.solid_deflection_mm ?? null, hint: t("From free length until the turns touch, if known."),
  });
  const draw = () => {
    for (const group of groups) group.element.hidden = group.kind !== kind.value;
    if (isCurve(kind.value)) curve(kind.value);
    for (const [which, each] of Object.entries(curves)) each.element.hidden = which !== kind.value;
    solid.element.hidden = !kind.value;
  };
  const kind = choiceField({
    name: `${name}.kind`, label: title, value: value ? value.kind : none ? null : "straight",
    choices: [...kinds.map((each) => ({ value: each, text: SPRING_WORDS[each] })), ...(none ? [{ value: null, text: none }] : [])],
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
    const whole = solid.value === null ? {} : { solid_deflection_mm: solid.value };
    if (isCurve(kind.value)) {
      const found = curve(kind.value).value;
      return found && { ...found, ...whole };
    }
    const group = groups.find((each) => each.kind === kind.value);
    if (!group) return null;
    const facts = Object.fromEntries(group.own.map((field) => [field.name.split(".").at(-1), field.value]));
    if (Object.values(facts).every((each) => each === null)) return undefined;
    return { kind: kind.value, ...facts, ...whole };
  };
  const fields = [kind, ...numbers, ...stands, solid];
  /** The form's name of a place within the spring: the server knows no kind in the path. @param {string} key */
  const named = (key) => {
    if (key === "solid_deflection_mm" || key === "kind") return `${name}.${key}`;
    return isCurve(kind.value) ? `${name}.${kind.value}` : `${name}.${kind.value}.${key}`;
  };

  return {
    element: h("div", null, kind.element, ...groups.map((group) => group.element), curvePlace, solid.element),
    fields,
    spring,
    /** Name a problem's field as this form does. @param {string} field */
    rename: (field) => (field.startsWith(`${path}.`) ? named(field.slice(path.length + 1)) : field),
    problem: (text, at) => {
      const field = fields.find((each) => each.name === named(at)) ?? kind;
      field.problem(text, at);
    },
    unclear: () => fields.some((each) => each.unclear()),
    text: () => JSON.stringify(fields.map((each) => [each.value ?? null, each.unclear() ? each.text?.() ?? null : null])),
    retype: (text) => {
      JSON.parse(text).forEach((/** @type {any[]} */ [held, typed], /** @type {number} */ index) => {
        if (held !== null) fields[index].set(held);
        if (typed !== null) fields[index].retype?.(typed);
      });
      draw();
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
  if (!spring) return h("span", null, t("no spring"));
  const rate = (/** @type {number} */ value) => measure(value, "rate", { what: t("spring rate,"), fixed });
  const plain = (/** @type {number} */ value) => measure(value, "rate", { fixed: true });
  if (spring.kind === "straight") return h("span", null, rate(spring.rate_n_per_mm));
  if (spring.kind === "tested") return h("span", null, t("tested, {n} readings", { n: spring.deflection_mm.length }), spring.stamped_n_per_mm ? [" (", t("stamped"), " ", plain(spring.stamped_n_per_mm), ")"] : null);
  if (spring.kind === "wound") return h("span", null, t("turn by turn, {n} turns", { n: spring.turns.length }));
  if (isCurve(spring.kind)) {
    const each = spring.springs.flatMap((/** @type {any} */ one, /** @type {number} */ index) => [index ? ` ${t("and")} ` : "", springText(one, { fixed: true })]);
    return h("span", null, `${SPRING_WORDS[spring.kind]}: `, ...each);
  }
  const [first, last] = spring.kind === "dual" ? [spring.soft_n_per_mm, spring.hard_n_per_mm] : [spring.start_n_per_mm, spring.end_n_per_mm];
  return h("span", null, plain(first), ` ${t("to")} `, rate(last), ` ${SPRING_WORDS[spring.kind] ?? spring.kind}`);
}
