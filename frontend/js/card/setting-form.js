// @ts-check
/** The form of how one end stands: springs, preload, gap, clickers, tyre. The same as it came and as it was built. */
import { h, replace } from "../dom.js";
import { Entries, capital, typedCurve } from "./entry.js";
import { LEG_NAMES } from "./legs.js";
import { keepFocus } from "./paint.js";
import { same } from "./paths.js";
import { settingSheet } from "./sheets.js";
import { curveField, isCurve } from "../parts/spring-fields.js";
import { originMark } from "../parts/origin.js";
import { keepTest } from "./tester.js";
import { ADJUSTERS, SIDES, SPRING_FACTS, SPRING_KINDS, factName } from "./words.js";
import { t } from "../words.js";

/**
 * @param {import("./desk.js").Desk} desk
 * @param {"received"|"built"} stage
 * @param {string} end
 * @returns {{node: HTMLElement, sync: () => void}}
 */
export function settingForm(desk, stage, end) {
  const sheet = settingSheet(desk, stage, end);
  const node = h("div", { class: "setting" });
  /** @type {Entries} */
  let entries;
  let drawn = "";
  /** Kinds of spring that are being entered and are not whole yet. @type {Record<string, string>} */
  const begun = {};
  // Whether both legs are asked as one: until somebody parts them, as long as they hold the same.
  let alike = legsAlike(sheet.value("legs"));

  const redraw = () => {
    drawn = shape(sheet, alike, begun);
    entries = new Entries(sheet);
    keepFocus(node, () => replace(node, ...(end === "front" ? front() : rear())));
    entries.sync();
  };
  const sync = () => {
    if (alike && !legsAlike(sheet.value("legs"))) alike = false;
    if (shape(sheet, alike, begun) === drawn) entries.sync();
    else redraw();
  };

  function front() {
    const legs = sheet.value("legs") ?? [];
    const shown = alike || legs.length < 2 ? [0] : [0, 1];
    return [
      legs.length > 1 ? alikeTick() : null,
      h("div", { class: shown.length > 1 ? "legs legs-two" : "legs" }, ...shown.map((leg) => frontLeg(leg, legs.length))),
      group(t("Oil"), entries.text("oil_grade", { label: t("Oil grade"), hint: t("As on the can.") }), entries.text("oil_batch", { label: t("Oil batch"), hint: t("Finds every bike it went into.") }),
        entries.number("oil_cm3_per_leg", { label: t("Oil per leg"), quantity: "volume", step: 5 })),
      vented(),
      clickers(["left", "right", "both"]),
      group(t("Place and tyre"), entries.number("fork_height_mm", {
        label: t("Fork height"), hint: t("Tube above the upper clamp."), origin: "measured",
      }), tyre()),
    ];
  }

  /** Where the fork was last shut: only asked where it is ridden somewhere else. */
  function vented() {
    const known = ["vented_altitude_m", "vented_temperature_c", "temperature_c"].some((name) => typeof sheet.value(name) === "number");
    return h("details", { class: "rare", open: known }, h("summary", null, t("Vented elsewhere")), h("div", { class: "group-fields" },
      entries.number("vented_altitude_m", { label: t("Vented at altitude"), quantity: "m", step: 50, band: "front.vented_altitude_m", hint: t("Blank: where it is ridden.") }),
      entries.number("vented_temperature_c", { label: t("Vented at"), quantity: "°C", step: 1, start: 20, band: "front.vented_temperature_c", hint: t("Both temperatures or neither.") }),
      entries.number("temperature_c", { label: t("Ridden at"), quantity: "°C", step: 1, start: 20, band: "front.temperature_c", hint: t("The fork, warmed through.") })));
  }

  /** @param {number} leg @param {number} count */
  function frontLeg(leg, count) {
    const also = (/** @type {string} */ name) => (alike && count > 1 ? [`legs.1.${name}`] : []);
    const at = (/** @type {string} */ name) => `legs.${leg}.${name}`;
    const title = alike && count > 1 ? t("Both legs") : count > 1 ? LEG_NAMES[leg] : t("The leg");
    return group(
      title,
      springFields(at("spring"), also("spring"), true),
      entries.text(at("label"), { also: also("label"), label: t("Marked"), hint: t("What is stamped or painted on the spring.") }),
      entries.number(at("preload_mm"), { also: also("preload_mm"), step: 1, origin: "measured", hint: t("Pressed from free length, at full extension."), band: "leg.preload_mm" }),
      entries.number(at("air_gap_mm"), {
        also: also("air_gap_mm"), step: 5, origin: "measured", label: stage === "built" ? t("Air gap as built") : t("Air gap"),
        hint: t("Fork collapsed, damper bled."), band: "leg.air_gap_mm",
      }),
      entries.choice(at("gap_read_with"), {
        also: also("gap_read_with"), label: t("Was the gap read with the spring out?"),
        choices: [{ value: "spring_out", text: t("spring out") }, { value: "spring_in", text: t("spring in") }],
      }),
      entries.number(at("pressure_kpa"), { also: also("pressure_kpa"), step: 5, start: 0, origin: "measured", label: t("Air pressure"), hint: t("Above atmosphere; 0 when vented."), band: "leg.pressure_kpa" }),
      entries.number(at("spacer_mm"), { also: also("spacer_mm"), step: 1, label: t("Spacer, cut length"), origin: "measured" }),
      entries.number(at("solids_cm3"), { also: also("solids_cm3"), step: 1, origin: "assumed", hint: t("Spring, spacer and cap, put in after the gap was read.") }),
    );
  }

  function rear() {
    return [
      group(
        t("Shock"),
        springFields("spring", [], false),
        entries.text("label", { label: t("Marked"), hint: t("What is stamped or painted on the spring.") }),
        entries.number("preload_mm", { step: 1, origin: "measured", hint: t("Free length less fitted length, fully extended."), band: "rear.preload_mm" }),
        entries.number("gas_force_n", { step: 10, origin: "assumed", hint: t("Gas pressure times rod area."), band: "rear.gas_force_n" }),
        entries.number("ride_height_mm", { label: t("Ride height adjuster"), origin: "measured", hint: t("Change from the maker's length.") }),
      ),
      clickers([""]),
      group(t("Tyre"), tyre()),
    ];
  }

  function tyre() {
    return entries.number("tyre_pressure_kpa", { step: 5, quantity: "pressure", origin: "measured", hint: t("Cold.") });
  }

  /**
   * @param {string} path
   * @param {string[]} also
   * @param {boolean} mayBeEmpty
   */
  function springFields(path, also, mayBeEmpty) {
    const spring = sheet.value(path);
    const kinds = Object.entries(SPRING_KINDS).map(([value, text]) => ({ value, text }));
    if (mayBeEmpty) kinds.push({ value: "none", text: t("empty leg") });
    const kind = kindAt(sheet, path, begun);
    const own = isCurve(kind) ? [curve(path, also, kind, spring)] : facts(path, also, spring);
    return h("div", { class: "spring" }, kindChoice(path, also, kinds, kind, spring), ...own);
  }

  /**
   * @param {string} path
   * @param {string[]} also
   * @param {{value: string, text: string}[]} kinds
   * @param {string} held
   * @param {any} spring
   */
  function kindChoice(path, also, kinds, held, spring) {
    const take = (/** @type {string} */ value) => {
      // A stamped rate goes with a spring on the tester, and comes back with it.
      const stamp = spring?.kind === "tested" ? spring.stamped_n_per_mm : null;
      const next = value === "none" ? null : { kind: value, ...(value === "straight" && stamp ? { rate_n_per_mm: stamp } : {}) };
      if (isCurve(value)) begun[path] = value;
      else {
        delete begun[path];
        // The kind decides the whole spring, so it is set as one and not as a word inside the old one.
        for (const one of [path, ...also]) sheet.set(one, null, { value: next });
      }
      redraw();
      void sheet.flush();
    };
    const radios = kinds.map(({ value, text }) =>
      h("label", null, h("input", { type: "radio", name: `${end}.${path}.kind`, value, checked: held === value, onchange: () => take(value) }), h("span", null, text)));
    return h("fieldset", { class: "field choice" }, h("legend", null, t("Spring fitted")), h("div", { class: "choices" }, ...radios));
  }

  /**
   * A spring with its own table: tested, turn by turn, several together.
   * @param {string} path
   * @param {string[]} also
   * @param {string} kind
   * @param {any} spring
   */
  function curve(path, also, kind, spring) {
    const stamp = spring?.kind === "straight" ? { stamped_n_per_mm: spring.rate_n_per_mm } : null;
    const mark = h("span");
    const drawMark = () => replace(mark, originMark({
      label: t("Spring"), origin: sheet.value("sources")?.[path] ?? null, onOrigin: (said) => entries.say(path, also, said),
    }));
    drawMark();
    const field = curveField(kind, {
      name: path, place: end === "front" ? "leg_spring" : "shock_spring", value: spring?.kind === kind ? spring : kind === "tested" ? stamp : null,
      extra: h("div", { class: "field-head" }, h("span", null, t("Where it comes from")), mark),
      actions: kind === "tested" ? keepTest(desk, () => sheet.value(path.replace(/spring$/, "stock_spring")), () => field.value) : null,
    });
    const solid = spring?.solid_deflection_mm;
    return entries.curve(path, field, { also, kind, said: drawMark, whole: (value) => (solid ? { ...value, solid_deflection_mm: solid } : value) });
  }

  /**
   * @param {string} path
   * @param {string[]} also
   * @param {any} spring
   */
  function facts(path, also, spring) {
    const band = end === "front" ? "leg" : "shock";
    return (SPRING_FACTS[spring?.kind] ?? []).map(({ name, quantity }) =>
      entries.number(`${path}.${name}`, {
        also: also.map((one) => `${one}.${name}`), quantity, label: capital(factName(name)), origin: "stamped",
        step: quantity === "rate" ? (end === "front" ? 0.1 : 1) : 1,
        band: quantity === "rate" ? `${band}_spring.${name}` : undefined,
      }));
  }

  function alikeTick() {
    return h("div", { class: "field tick" }, h("label", null, h("input", {
      type: "checkbox", name: "alike", checked: alike,
      onchange: () => {
        alike = !alike;
        if (alike) sheet.set("legs.1", null, { value: sheet.value("legs.0") });
        redraw();
        void sheet.flush();
      },
    }), h("span", null, t("Both legs alike"))));
  }

  /** @param {string[]} legs */
  function clickers(legs) {
    const list = sheet.value("clickers") ?? [];
    const change = (/** @type {any[]} */ next) => {
      sheet.set("clickers", null, { value: next });
      redraw();
      void sheet.flush();
    };
    const blank = { adjuster: "rebound", leg: legs.at(-1), position: null, unit: "clicks", counted_from: "fully_in" };
    return group(
      t("Clickers"),
      ...list.map((/** @type {any} */ _one, /** @type {number} */ index) => clicker(index, legs, () =>
        change(list.filter((/** @type {any} */ _other, /** @type {number} */ at) => at !== index)))),
      list.length ? null : h("p", { class: "empty" }, t("None noted. Count each one before it is touched, and say from which end: the number means nothing without.")),
      h("button", { type: "button", name: "add-clicker", onclick: () => change([...list, blank]) }, t("Add a clicker")),
    );
  }

  /**
   * @param {number} index
   * @param {string[]} legs
   * @param {() => void} drop
   */
  function clicker(index, legs, drop) {
    const at = (/** @type {string} */ name) => `clickers.${index}.${name}`;
    const options = (/** @type {string[][]} */ pairs) => pairs.map(([value, text]) => ({ value, text }));
    return h(
      "div", { class: "clicker", role: "group", "aria-label": t("Clicker {n}", { n: index + 1 }) },
      entries.choice(at("adjuster"), { label: t("Adjuster"), list: true, choices: options(Object.entries(ADJUSTERS)) }),
      legs.length > 1 ? entries.choice(at("leg"), { label: t("Leg"), list: true, choices: options([["", t("not said")], ...legs.map((leg) => [leg, SIDES[leg]])]) }) : null,
      entries.number(at("position"), { label: t("Position"), quantity: "", step: 1, start: 0 }),
      entries.choice(at("unit"), { label: t("In"), list: true, choices: options([["clicks", t("clicks")], ["turns", t("turns")]]) }),
      entries.choice(at("counted_from"), { label: t("Counted from"), list: true, choices: options([["fully_in", t("fully in")], ["fully_out", t("fully out")]]) }),
      h("button", { type: "button", class: "quiet-button", onclick: drop }, t("Remove clicker {n}", { n: index + 1 })),
    );
  }

  redraw();
  return { node, sync };
}

/**
 * @param {string} title
 * @param {...any} children
 */
export function group(title, ...children) {
  return h("section", { class: "group" }, h("h3", null, title), h("div", { class: "group-fields" }, ...children));
}

/** @param {any} legs */
function legsAlike(legs) {
  return !legs || legs.length < 2 || same(legs[0], legs[1]);
}

/**
 * The kind of spring at a path: begun and not whole yet, else as it stands.
 * @param {import("./sheet.js").Sheet} sheet
 * @param {string} path
 * @param {Record<string, string>} begun
 */
function kindAt(sheet, path, begun) {
  return begun[path] ?? typedCurve(sheet.typed(path))?.kind ?? sheet.value(path)?.kind ?? "none";
}

/**
 * What the form's build depends on; the values inside it do not matter.
 * @param {import("./sheet.js").Sheet} sheet
 * @param {boolean} alike
 * @param {Record<string, string>} begun
 */
function shape(sheet, alike, begun) {
  const whole = sheet.whole();
  const paths = ["spring", ...(whole.legs ?? []).map((/** @type {any} */ _leg, /** @type {number} */ index) => `legs.${index}.spring`)];
  return JSON.stringify([alike, paths.map((path) => kindAt(sheet, path, begun)), (whole.clickers ?? []).length]);
}
