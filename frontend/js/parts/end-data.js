// @ts-check
/**
 * What is known of one end of a bike: read with the origin of each number, and the form to change it.
 *
 * @typedef {import("./field.js").Field} Field
 * @typedef {import("./field.js").Origin} Origin
 * @typedef {"front" | "rear"} End
 * @typedef {{key: string, label: string, quantity: string, band?: string, step?: number, hint?: string, start?: number}} Fact
 */

import { h } from "../dom.js";
import { choiceField, numberField, tickField } from "./field.js";
import { measure } from "./measure.js";
import { nested, valueAt } from "./nest.js";
import { leverageFields, leverageText } from "./leverage-fields.js";
import { originText } from "./origin.js";
import { springFields, springText } from "./spring-fields.js";
import { t } from "../words.js";

/** @type {Record<End, Fact[]>} */
const FIXED = {
  front: [
    { key: "stroke_mm", label: t("Stroke"), quantity: "length", band: "front.stroke_mm", step: 5, hint: t("Along the fork, from top-out to the stop.") },
    { key: "rake_deg", label: t("Rake"), quantity: "°", band: "front.rake_deg", step: 0.5, hint: t("From the vertical.") },
    { key: "unsprung_kg", label: t("Unsprung mass"), quantity: "mass", band: "front.unsprung_kg", hint: t("Wheel, brake, lower legs.") },
    { key: "seal_diameter_mm", label: t("Seal diameter"), quantity: "length", band: "leg.seal_diameter_mm", hint: t("The tube that slides through the seal.") },
    { key: "bore_diameter_mm", label: t("Bore diameter"), quantity: "length", band: "leg.bore_diameter_mm", hint: t("Inside of the tube that holds the air.") },
    { key: "pour.cm3", label: t("Measured pour"), quantity: "volume", step: 5, hint: t("In the bore’s place: so much oil poured in…") },
    { key: "pour.rise_mm", label: t("raised the oil by"), quantity: "length", hint: t("…from one level to the next, spring out.") },
    { key: "seat_length_mm", label: t("Cap to spring seat"), quantity: "length", hint: t("At full extension; gives the spacer’s length.") },
    { key: "washers_mm", label: t("Washers"), quantity: "length", hint: t("All of them together.") },
    { key: "spring_outer_max_mm", label: t("Room for the spring"), quantity: "length", hint: t("Greatest outer diameter.") },
    { key: "spring_length_mm", label: t("Spring’s free length"), quantity: "length", step: 5 },
    { key: "adjuster_mm.0", label: t("Adjuster, least preload"), quantity: "length", band: "adjuster_mm" },
    { key: "adjuster_mm.1", label: t("Adjuster, most preload"), quantity: "length", band: "adjuster_mm", hint: t("Blank: no adjuster.") },
    { key: "topout.rate_n_per_mm", label: t("Top-out spring, rate"), quantity: "rate", band: "stop.rate_n_per_mm" },
    { key: "topout.length_mm", label: t("Top-out spring, works over"), quantity: "length", band: "stop.length_mm", hint: t("From full extension.") },
    { key: "bump.rate_n_per_mm", label: t("Bump stop, rate"), quantity: "rate", band: "stop.rate_n_per_mm" },
    { key: "bump.length_mm", label: t("Bump stop, works over"), quantity: "length", band: "stop.length_mm", hint: t("The last part of the stroke.") },
  ],
  rear: [
    { key: "wheel_travel_mm", label: t("Wheel travel"), quantity: "length", band: "rear.wheel_travel_mm", step: 5, hint: t("Vertical, at the axle.") },
    { key: "unsprung_kg", label: t("Unsprung mass"), quantity: "mass", band: "rear.unsprung_kg", hint: t("Wheel, brake, half of the swingarm.") },
    { key: "spring_inner_min_mm", label: t("Spring’s least inner diameter"), quantity: "length" },
    { key: "spring_length_mm", label: t("Spring’s free length"), quantity: "length", step: 5 },
    { key: "adjuster_mm.0", label: t("Adjuster, least preload"), quantity: "length", band: "adjuster_mm" },
    { key: "adjuster_mm.1", label: t("Adjuster, most preload"), quantity: "length", band: "adjuster_mm", hint: t("Blank: no limits known.") },
    { key: "preload_mm", label: t("Preload"), quantity: "length", band: "rear.preload_mm", hint: t("Spring pressed from free length, at full extension.") },
    { key: "gas_force_n", label: t("Gas force"), quantity: "force", band: "rear.gas_force_n", step: 10, hint: t("Pushes the shaft out, at full extension.") },
    { key: "topout.rate_n_per_mm", label: t("Top-out spring, rate"), quantity: "rate", band: "stop.rate_n_per_mm" },
    { key: "topout.length_mm", label: t("Top-out spring, works over"), quantity: "length", band: "stop.length_mm", hint: t("From full extension.") },
    { key: "bump.rate_n_per_mm", label: t("Bump stop, rate"), quantity: "rate", band: "stop.rate_n_per_mm" },
    { key: "bump.length_mm", label: t("Bump stop, works over"), quantity: "length", band: "stop.length_mm", hint: t("The last part of the shock’s stroke.") },
  ],
};

/** Folded: few bikes ask for them before the first answer. */
const RARE = ["pour", "topout", "bump", "spring_outer_max_mm", "spring_inner_min_mm"];

/** What is one object of the server's, null while all of it is blank. */
const HOLDERS = ["pour", "topout", "bump", "adjuster_mm"];

const CHAMBERS = [
  { value: null, text: t("not known") }, { value: "one", text: t("one") }, { value: "twin", text: t("twin chambers") },
  { value: "closed_cartridge", text: t("closed cartridge") },
];

/** @type {Fact[]} */
const LEG = [
  { key: "preload_mm", label: t("Preload"), quantity: "length", band: "leg.preload_mm", hint: t("Spring pressed from free length, at full extension.") },
  { key: "air_gap_mm", label: t("Air gap"), quantity: "length", band: "leg.air_gap_mm", step: 5, hint: t("Spring out, fork pushed together.") },
  { key: "solids_cm3", label: t("Solids in the leg"), quantity: "volume", band: "leg.solids_cm3", step: 5, hint: t("Spring, spacer and cap, put in after the gap is read.") },
  { key: "pressure_kpa", label: t("Air pressure"), quantity: "pressure", band: "leg.pressure_kpa", hint: t("Above atmosphere; 0 for a vented fork.") },
];

/**
 * The facts of one end, to read.
 *
 * @param {End} end
 * @param {any} bike
 */
export function endFacts(end, bike) {
  const data = bike[end];
  const rows = FIXED[end].filter((each) => valueAt(data, each.key) !== null && valueAt(data, each.key) !== undefined)
    .map((each) => row(each.label, measure(valueAt(data, each.key), each.quantity, { what: `${each.label},` }), `${end}.${each.key}`));
  if (end === "front") {
    if (data.chambers) rows.push(row(t("Air chambers"), h("span", null, CHAMBERS.find((each) => each.value === data.chambers)?.text ?? ""), "front.chambers"));
    const legs = data.legs ?? [];
    const alike = legs.length > 1 && JSON.stringify(legs[0]) === JSON.stringify(legs[1]);
    (alike ? [legs[0]] : legs).forEach((/** @type {any} */ leg, /** @type {number} */ index) => {
      const side = alike || legs.length < 2 ? "" : `, ${index ? t("right") : t("left")}`;
      rows.push(row(t("Spring") + side, springText(leg.spring), `front.legs.${index}.spring`));
      for (const each of LEG.filter((fact) => leg[fact.key] !== null && leg[fact.key] !== undefined)) {
        rows.push(row(each.label + side, measure(leg[each.key], each.quantity, { what: `${each.label},` }), `front.legs.${index}.${each.key}`));
      }
    });
  } else {
    if (data.spring) rows.push(row(t("Spring"), springText(data.spring), "rear.spring"));
    if (data.shocks) rows.push(row(t("Shocks"), h("span", null, data.shocks), "rear.shocks"));
    if (data.leverage) rows.push(row(t("Leverage"), leverageText(data.leverage), "rear.leverage"));
  }
  return h("dl", { class: "facts" }, ...rows);

  /** @param {string} label @param {HTMLElement} value @param {string} path */
  function row(label, value, path) {
    const origin = bike.sources?.[path];
    return h("div", null, h("dt", null, label), h("dd", null, value, " ", h("span", { class: `origin ${origin?.from ?? "assumed"}` }, originText(origin))));
  }
}

/**
 * The fields of one end.
 *
 * @param {End} end
 * @param {any} bike
 * @param {any} usual what the business takes as usual for this kind of bike, or undefined
 */
export function endForm(end, bike, usual) {
  const data = bike[end] ?? (end === "front" ? { unsprung_kg: usual?.unsprung_kg } : { unsprung_kg: usual?.unsprung_kg, shocks: 1 });
  /** @type {Record<string, Origin>} */
  const sources = { ...bike.sources };
  /** @type {Field[]} */
  const fields = [];
  /** @type {((field: string) => string)[]} */
  const renames = [];

  /** @template {Field} F @param {F} field */
  const add = (field) => {
    fields.push(field);
    return field.element;
  };
  const from = (/** @type {string} */ path) => ({
    origin: sources[path] ?? null,
    onOrigin: (/** @type {Origin} */ origin) => {
      sources[path] = origin;
    },
  });
  const number = (/** @type {Fact} */ fact, /** @type {string} */ path, /** @type {any} */ value) => add(numberField({
    ...fact, name: path, value: value ?? null, ...from(path),
  }));

  const drawn = FIXED[end].map((fact) => ({ fact, element: number(fact, `${end}.${fact.key}`, valueAt(data, fact.key)) }));
  const rare = (/** @type {{fact: Fact}} */ each) => RARE.includes(each.fact.key.split(".")[0]);
  const chambers = choiceField({
    name: "front.chambers", label: t("Air chambers"), choices: CHAMBERS, value: data.chambers ?? null,
    hint: t("Of twin chambers and closed cartridges only the outer chamber’s change can be told."),
  });
  if (end === "front") fields.push(chambers);
  const folded = h("details", { class: "rare" },
    h("summary", null, end === "front" ? t("Pour, chambers, stops and room") : t("Stops and room")),
    end === "front" ? chambers.element : null, h("div", { class: "pair" }, ...drawn.filter(rare).map((each) => each.element)));
  /** @type {HTMLElement[]} */
  const layout = [h("div", { class: "pair" }, ...drawn.filter((each) => !rare(each)).map((each) => each.element)), folded];
  const rest = end === "front" ? frontRest() : rearRest();

  function frontRest() {
    const held = data.legs?.length ? data.legs : [{}, {}];
    const alike = tickField({
      name: "alike", label: t("Both legs hold the same"), value: held.length < 2 || JSON.stringify(held[0]) === JSON.stringify(held[1]), onChange: draw,
    });
    const springs = [0, 1].map((index) => {
      const path = `front.legs.${index}.spring`;
      const spring = springFields({ name: path, place: "leg_spring", value: held[index]?.spring ?? null, none: t("none in this leg"), ...from(path) });
      fields.push(...spring.fields);
      renames.push(spring.rename);
      return spring;
    });
    if (!bike.front) springs.forEach((spring) => spring.fields[0].set("straight"));
    const parts = springs.map((spring, index) => h("fieldset", { class: "field leg" }, h("legend", null, index ? t("Right leg") : t("Left leg")),
      spring.element, h("div", { class: "pair" }, ...LEG.map((fact) => number(fact, `front.legs.${index}.${fact.key}`,
        held[index]?.[fact.key] ?? (fact.key === "pressure_kpa" ? 0 : null))))));
    fields.push(alike);
    layout.push(alike.element, ...parts);
    const setAlike = alike.set;
    alike.set = (next) => {
      setAlike(next);
      draw();
    };
    draw();

    function draw() {
      parts[1].hidden = alike.value;
      const legend = parts[0].querySelector("legend");
      if (legend) legend.textContent = alike.value ? t("Each leg") : t("Left leg");
    }

    return (/** @type {Record<string, any>} */ values) => {
      const legs = [0, 1].map((index) => ({
        spring: springs[index].spring() ?? null,
        ...Object.fromEntries(LEG.map((fact) => [fact.key, values[`front.legs.${index}.${fact.key}`]])),
      }));
      const copied = Object.keys(sources).filter((key) => key.startsWith("front.legs.0."));
      if (alike.value) for (const key of copied) sources[key.replace(".0.", ".1.")] = sources[key];
      return { legs: alike.value ? [legs[0], legs[0]] : legs };
    };
  }

  function rearRest() {
    const spring = springFields({ name: "rear.spring", place: "shock_spring", value: data.spring ?? null, none: t("not known"), ...from("rear.spring") });
    if (!bike.rear) spring.fields[0].set("straight");
    fields.push(...spring.fields);
    renames.push(spring.rename);
    const shocks = choiceField({ name: "rear.shocks", label: t("Shocks"), choices: [{ value: 1, text: t("one") }, { value: 2, text: t("two") }], value: data.shocks ?? 1 });
    const leverage = leverageFields({
      value: data.leverage ?? null, ...from("rear.leverage"),
      travel: () => fields.find((field) => field.name === "rear.wheel_travel_mm")?.value ?? null,
    });
    fields.push(shocks, ...leverage.fields);
    renames.push(leverage.rename);
    layout.push(spring.element, shocks.element, leverage.element);

    return () => ({ spring: spring.spring() ?? null, shocks: shocks.value, leverage: leverage.value() });
  }

  return {
    fields,
    layout,
    rename: (/** @type {string} */ field) => renames.reduce((name, each) => each(name), field),
    /** The change to send. @param {Record<string, any>} values */
    body: (values) => {
      const known = Object.fromEntries(FIXED[end].map((fact) => [`${end}.${fact.key}`, values[`${end}.${fact.key}`]]));
      const now = nested(known)[end];
      for (const key of HOLDERS) if (now[key] && Object.values(now[key]).every((each) => each === null)) now[key] = null;
      if (end === "front") now.chambers = chambers.value;
      return { [end]: { ...bike[end], ...now, ...rest(values) }, sources };
    },
  };
}
